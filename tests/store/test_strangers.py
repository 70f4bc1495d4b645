"""Photos of another field that slip in, since they carry no position."""

from __future__ import annotations

from typing import Any

import pytest

from tests.store.helpers import NORTH, at, counts, entry, plan, write
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")


def batch(first: int, *values: dict[str, Any], **same: Any) -> dict[str, Any]:
    """Photos of one add, numbered from ``first``."""
    return counts([entry(first + n, **same, **own) for n, own in enumerate(values)])


def stand(plants: float, each: float = 3.0) -> dict[str, Any]:
    def around(count: float) -> dict[str, float]:
        return {"count": count, "low": 0.8 * count, "high": 1.3 * count}

    return {"plants": around(plants), "shoots": around(plants * each)}


def said(season: Season, file: dict[str, Any], where: Where = NORTH) -> str:
    return "\n".join(season.add_counts(file, where).notes)


USUAL = [stand(p) for p in (20, 24, 18, 26, 22)]


def test_nothing_is_said_where_nothing_speaks_against_them(season: Season) -> None:
    day = "2027-03-06T10:0{}:00"
    first = [one | {"taken_at": day.format(n)} for n, one in enumerate(USUAL)]
    more = [one | {"taken_at": day.format(n)} for n, one in enumerate(USUAL, start=5)]
    rows = {"found": True, "spacing_mm": 188.0}
    assert "position" not in said(season, batch(1, *first, rows=rows))
    rows = {"found": True, "spacing_mm": 175.0}
    assert "position" not in said(season, batch(11, *more[:4], rows=rows))


def test_called_like_another_field(season: Season) -> None:
    season.add_counts(batch(1, *USUAL, photo="south/IMG_1.jpg"), SOUTH)
    file = counts([entry(11, photo="photos/south/IMG_11.jpg"), entry(12, photo="n/IMG_12.jpg")])
    notes = said(season, file)
    assert "2 photos have no position, so only your word" in notes
    assert "photos/south/IMG_11.jpg: called like South, another field of the season" in notes


def test_another_folder(season: Season) -> None:
    season.add_counts(batch(1, *USUAL), NORTH)
    file = counts([entry(11, photo="lane/IMG_11.jpg")])
    assert "2 folders (lane, north)" in said(season, file)


@pytest.mark.parametrize(("day", "told"), [("2027-03-13", False), ("2027-03-14", True)])
def test_days_apart(season: Season, day: str, told: bool) -> None:
    season.add_counts(batch(1, *USUAL, taken_at="2027-03-06T10:00:00"), NORTH)
    notes = said(season, batch(11, USUAL[0], taken_at=f"{day}T10:00:00"))
    assert (f"taken {day}, and the visit's other photos 2027-03-06" in notes) is told


@pytest.mark.parametrize(("seconds", "told"), [(60, True), (61, False)])
def test_two_fields_at_one_minute(season: Season, seconds: int, told: bool) -> None:
    season.add_counts(batch(1, USUAL[0], taken_at="2027-03-06T10:00:00"), SOUTH)
    time = f"2027-03-06T10:0{seconds // 60}:{seconds % 60:02}"
    notes = said(season, batch(11, USUAL[0], taken_at=time))
    assert ("IMG_11.jpg was taken within a minute of IMG_1.jpg of South" in notes) is told


@pytest.mark.parametrize(("mm", "told"), [(188.0, False), (215.0, False), (254.0, True)])
def test_another_drill(season: Season, mm: float, told: bool) -> None:
    season.add_counts(batch(1, *USUAL, rows={"found": True, "spacing_mm": 190.5}), NORTH)
    notes = said(season, batch(11, *USUAL[:2], rows={"found": True, "spacing_mm": mm}))
    assert ("another drill" in notes) is told


def test_another_stand(season: Season) -> None:
    season.add_counts(batch(1, *USUAL), NORTH)
    notes = said(season, batch(11, *(stand(p) for p in (9, 10, 8, 7))))
    assert "8.5 plants per ft² in the mean of these 4, and 22.0 in" in notes


def test_another_stage(season: Season) -> None:
    season.add_counts(batch(1, *USUAL), NORTH)
    notes = said(season, batch(11, *(stand(p, 1.5) for p in (20, 24, 18, 21))))
    assert "1.5 shoots per plant in the mean of these 4, and 3.0 in" in notes


def test_few_of_another_stand_are_chance(season: Season) -> None:
    """One of six lies at an end in a third of cases; two of seven in one of ten."""
    season.add_counts(batch(1, *USUAL), NORTH)
    assert "none of which" not in said(season, batch(11, stand(8)))
    assert "none of which" not in said(season, batch(12, stand(9), stand(7.5)))


def test_a_position_needs_no_word(season: Season) -> None:
    lat, lon = at(10, 10)
    season.add_counts(batch(1, *USUAL), NORTH)
    file = batch(11, *(stand(p) for p in (9, 10, 8, 7)), lat=lat, lon=lon)
    assert "only your word" not in said(season, file)
    found = season.summary(NORTH)
    assert found.unlocated == tuple(f"IMG_{n}.jpg" for n in range(1, 6))
    assert [one.located for one in season.placed(NORTH)] == [False] * 5 + [True] * 4


def test_two_photos_of_a_spot_that_differ_threefold(season: Season, tmp_path: Any) -> None:
    season.add_plan(write(tmp_path / "p.geojson", plan([(10, 10), (100, 100)])), NORTH)
    lat, lon = at(10, 10)
    far = {"plants": {"count": 70.0, "low": 60.0, "high": 85.0}}
    both = [entry(1, lat=lat, lon=lon), entry(2, lat=lat, lon=lon, **far)]
    season.add_counts(counts(both), NORTH)
    result = season.assess(NORTH, "common-practice")
    assert "spot 1: 70.0 plants per ft² by IMG_2.jpg and 21.0 by IMG_1.jpg" in "".join(
        result.verdict.warnings
    )
    assert result.field.spots == 1
