"""Photos of another field that slip in, since they carry no position."""

from __future__ import annotations

from typing import Any

import pytest

from tests.store.helpers import NORTH, at, counts, entry, plan, write
from tillercount.names import in_command
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")
NAMED = Where("Elm Hill", "North", "visit 1")
"""Named, so photos of far days are put in; without a name they are refused (`test_clocks.py`)."""
SIGN = "no position; look whether"


def batch(first: int, *values: dict[str, Any], **same: Any) -> dict[str, Any]:
    """Photos of one add, numbered from ``first``."""
    return counts([entry(first + n, **same, **own) for n, own in enumerate(values)])


def stand(plants: float, each: float = 3.0) -> dict[str, Any]:
    def around(count: float) -> dict[str, float]:
        return {"count": count, "low": 0.8 * count, "high": 1.3 * count}

    return {"plants": around(plants), "shoots": around(plants * each)}


def said(season: Season, file: dict[str, Any], where: Where = NORTH) -> str:
    return "\n".join(season.add_counts(file, where).notes)


def rows(*spacings_mm: float, **more: Any) -> list[dict[str, Any]]:
    return [{"rows": {"found": True, "spacing_mm": one}, **more} for one in spacings_mm]


USUAL = [stand(p) for p in (20, 24, 18, 26, 22)]


def test_nothing_is_said_where_nothing_speaks_against_them(season: Season) -> None:
    day = "2027-03-06T10:0{}:00"
    first = [one | {"taken_at": day.format(n)} for n, one in enumerate(USUAL)]
    more = [one | {"taken_at": day.format(n)} for n, one in enumerate(USUAL, start=5)]
    assert SIGN not in said(season, batch(1, *first, rows={"found": True, "spacing_mm": 188.0}))
    spaced = {"found": True, "spacing_mm": 175.0}
    assert SIGN not in said(season, batch(11, *more[:4], rows=spaced))


def test_called_like_another_field(season: Season) -> None:
    season.add_counts(batch(1, *USUAL, photo="south/IMG_1.jpg"), SOUTH)
    named = ["photos/south/IMG_11.jpg", "photos/South/DCIM/100APPLE/IMG_12.jpg", "n/IMG_13.jpg"]
    notes = said(season, counts([entry(11 + n, photo=one) for n, one in enumerate(named)]))
    assert f"3 photos have {SIGN} they are of North:" in notes
    both = f"{named[0]}, {named[1]}: in a folder called like South, another of your fields"
    assert f"- {both}" in notes


@pytest.mark.parametrize(
    ("field", "photo"),
    [
        ("South", "n/South.jpg"),  # the file's name says nothing
        ("7", "7/IMG_1.jpg"),  # nor does a number
        ("Home", "/home/bob/creek/IMG_1.jpg"),  # only the nearest folder counts
        ("South", "south/north/IMG_1.jpg"),
        ("South", "north-field/IMG_1.jpg"),
        ("100APPLE", "DCIM/100APPLE/IMG_1.jpg"),  # which a camera makes
    ],
)
def test_no_field_is_meant_by_it(season: Season, field: str, photo: str) -> None:
    season.add_counts(batch(1, USUAL[0]), Where("Elm Hill", field))
    assert SIGN not in said(season, counts([entry(11, photo=photo)]))


def test_a_folder_that_the_field_has_photos_from_says_nothing(season: Season) -> None:
    season.add_counts(batch(1, USUAL[0], photo="home/IMG_1.jpg"), NORTH)
    season.add_counts(batch(2, USUAL[0], photo="x/IMG_2.jpg"), Where("Elm Hill", "Home"))
    assert SIGN not in said(season, counts([entry(11, photo="home/IMG_11.jpg")]))


def test_a_photo_moved_deliberately_is_not_asked_about_again(season: Season) -> None:
    season.add_counts(batch(1, USUAL[0], photo="south/IMG_1.jpg"), SOUTH)
    season.add_counts(batch(2, USUAL[0], photo="south/IMG_2.jpg"), SOUTH)
    season.remove_photo("IMG_2.jpg", SOUTH)
    done = season.add_counts(batch(2, USUAL[0], photo="south/IMG_2.jpg"), NORTH)
    assert SIGN not in "\n".join(done.notes)
    assert (done.new, done.known, done.put) == (0, 1, 1)
    again = season.add_counts(batch(2, USUAL[0], photo="south/IMG_2.jpg"), NORTH)
    assert (again.known, again.put) == (1, 0)


def test_ordinary_visits_are_silent(season: Season) -> None:
    """Two folders, two people in two fields at one minute, a thin half after a thick one."""
    day = "2027-03-06T10:00:00"
    season.add_counts(batch(1, USUAL[0], taken_at=day, photo="s/IMG_1.jpg"), SOUTH)
    thick = [entry(10 + n, **stand(30 + n), taken_at=day, photo=f"monday/{n}.jpg") for n in (1, 2)]
    thin = [entry(20 + n, **stand(9 + n), taken_at=day, photo=f"tuesday/{n}.jpg") for n in (1, 2)]
    assert SIGN not in said(season, counts(thick))
    assert SIGN not in said(season, counts(thin))
    for n in range(31, 40):
        assert SIGN not in said(season, counts([entry(n, **stand(8.0, 1.5), taken_at=day)]))


@pytest.mark.parametrize(("day", "told"), [("2027-03-13", False), ("2027-03-14", True)])
def test_days_apart(season: Season, day: str, told: bool) -> None:
    season.add_counts(batch(1, *USUAL, taken_at="2027-03-06T10:00:00"), NORTH)
    notes = said(season, batch(11, USUAL[0], taken_at=f"{day}T10:00:00"), NAMED)
    assert (f"taken {day}, and the visit's other photos 2027-03-06" in notes) is told
    assert (f"1 photo has {SIGN} it is of North:" in notes) is told


def test_days_among_the_new_ones(season: Season) -> None:
    days = [{"taken_at": f"2027-03-{day}T10:00:00"} for day in ("06", "14")]
    assert "taken 2027-03-06 to 2027-03-14, which is long" in said(season, batch(1, *days), NAMED)


@pytest.mark.parametrize(("mm", "told"), [(188.0, False), (215.0, False), (254.0, True)])
def test_another_drill(season: Season, mm: float, told: bool) -> None:
    season.add_counts(batch(1, *rows(190.5, 185.0, 192.0)), NORTH)
    notes = said(season, batch(11, *rows(mm, mm)))
    assert ("another drill" in notes) is told


STICK = {"area": {"kind": "row", "text": "row:487.68mm/254mm", "ft2": 1.0}}


@pytest.mark.parametrize(
    "new",
    [
        rows(254.0),  # one photo
        rows(254.0, 381.0),  # that disagree
        rows(-254.0, -254.0),
        rows(254.0, 254.0, **STICK),  # typed, not seen
    ],
    ids=["one", "disagree", "negative", "stick"],
)
def test_spacings_that_say_nothing(season: Season, new: list[dict[str, Any]]) -> None:
    season.add_counts(batch(1, *rows(190.5, 190.5)), NORTH)
    assert SIGN not in said(season, batch(11, *new))


def test_all_are_counted_and_looked_at(season: Season) -> None:
    """1,200 photos: the last one's folder is seen, and the sample of rows reaches to the end."""
    season.add_counts(batch(1, USUAL[0], photo="south/IMG_1.jpg"), SOUTH)
    season.add_counts(batch(2, *rows(190.5, 190.5)), NORTH)
    new = [entry(10 + n, photo=f"n/IMG_{n}.jpg") for n in range(1200)]
    for one in new[800:]:
        one |= {"rows": {"found": True, "spacing_mm": 254.0}}
    new[-1]["photo"] = "south/LAST.jpg"
    notes = said(season, counts(new))
    assert f"1,200 photos have {SIGN}" in notes
    assert "south/LAST.jpg: in a folder called like South" in notes
    assert "another drill" in notes


def test_a_position_needs_no_word(season: Season) -> None:
    lat, lon = at(10, 10)
    season.add_counts(batch(1, *USUAL), NORTH)
    season.add_counts(batch(9, USUAL[0], photo="south/IMG_9.jpg"), SOUTH)
    file = batch(11, *USUAL[:4], lat=lat, lon=lon, photo="south/IMG_11.jpg")
    assert SIGN not in said(season, file)
    found = season.summary(NORTH)
    assert found.unlocated == tuple(f"IMG_{n}.jpg" for n in range(1, 6))
    assert [one.located for one in season.placed(NORTH)] == [False] * 5 + [True] * 4


def test_the_advice_is_whole(season: Season) -> None:
    season.add_counts(batch(1, USUAL[0], photo="south/IMG_1.jpg"), SOUTH)
    notes = said(season, batch(2, USUAL[0], photo="south/IMG_2.jpg"))
    place = in_command(season.place)
    assert f"season remove {place} --photo NAME --field North)" in notes
    assert notes.endswith(f"season add {place} COUNTS.json --field FIELD)")


def two_photos(tmp_path: Any, season: Season, away_m: float, **more: Any) -> str:
    season.add_plan(write(tmp_path / "p.geojson", plan([(10, 10), (100, 100)])), NORTH)
    far = {"plants": {"count": 70.0, "low": 60.0, "high": 85.0}, **more}
    here, there = (dict(zip(("lat", "lon"), at(x, 10), strict=True)) for x in (10, 10 + away_m))
    season.add_counts(counts([entry(1, **here, **more), entry(2, **there, **far)]), NORTH)
    result = season.assess(NORTH, "common-practice")
    assert result.field.spots == 1
    return "".join(result.verdict.warnings)


def test_two_photos_of_a_place_that_differ_threefold(season: Season, tmp_path: Any) -> None:
    warned = two_photos(tmp_path, season, 0)
    assert "spot 1: 70.0 plants per ft² by IMG_2.jpg and 21.0 by IMG_1.jpg" in warned


def test_two_photos_round_a_spot_may_differ(season: Season, tmp_path: Any) -> None:
    assert "IMG_2.jpg" not in two_photos(tmp_path, season, 15)


@pytest.mark.parametrize(("spot", "told"), [("1", True), (None, False)])
def test_two_photos_without_a_position(
    season: Season, tmp_path: Any, spot: str | None, told: bool
) -> None:
    """Put to one spot by name they are of it; by their time they are near it."""
    season.add_plan(write(tmp_path / "p.geojson", plan([(10, 10), (100, 100)])), NORTH)
    day = "2027-03-06T10:0{}:00"
    lat, lon = at(10, 10)
    far = {"plants": {"count": 70.0, "low": 60.0, "high": 85.0}}
    file = [
        entry(3, lat=lat, lon=lon, taken_at=day.format(0)),
        entry(1, spot=spot, taken_at=day.format(1)),
        entry(2, spot=spot, taken_at=day.format(1), **far),
    ]
    season.add_counts(counts(file), NORTH)
    assert [one.spot for one in season.placed(NORTH)] == ["1"] * 3
    warned = "".join(season.assess(NORTH, "common-practice").verdict.warnings)
    assert ("70.0 plants per ft² by IMG_2.jpg and 21.0 by IMG_1.jpg" in warned) is told
