"""A plan added after its counts: it joins them where they lie at its spots, else it is asked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select
from typer.testing import CliRunner

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.store import Season, Where
from tillercount.store.tables import placements

PLACES = [(0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0), (90.0, 150.0)]


def photo(number: int, near: int, north_m: float = 6.0, **more: Any) -> dict[str, Any]:
    """A photo so many metres north of a planned spot, counted 1 to 5 from 1."""
    east, north = PLACES[near - 1]
    lat, lon = at(east, north + north_m)
    return entry(number, lat=lat, lon=lon, **more)


def files(folder: Path, entries: list[dict[str, Any]]) -> tuple[Path, Path]:
    """Counts, and the plan they were made by."""
    planned = plan(PLACES, by_hand=[True] + [False] * 4, zone=["hill", *[None] * 4])
    return write(folder / "c.json", counts(entries)), write(folder / "p.geojson", planned)


def seen(season: Season, where: Where = NORTH) -> list[tuple[str, str, float | None, str]]:
    """What a visit says, spot by spot."""
    estimate = season.summary(where).estimate
    assert estimate is not None
    return sorted(_what(one) for one in estimate.listed)


def _what(one: SpotDensity) -> tuple[str, str, float | None, str]:
    return one.key, one.source, one.plants_per_m2, one.zone


def measured(season: Season, where: Where = NORTH) -> tuple[int, float]:
    """Spots in the mean of plants, and the mean."""
    estimate = season.summary(where).estimate
    assert estimate is not None
    assert estimate.plants is not None
    return estimate.plants.n, round(estimate.plants.mean, 9)


def visits(season: Season) -> list[str]:
    return [row["visit"] for row in season.overview()]


def test_joined_it_is_as_if_the_plan_had_come_first(tmp_path: Path) -> None:
    entries = [photo(1, 1), photo(2, 2), photo(3, 4, spot="4"), photo(4, 5), photo(5, 5, 7.0)]
    file, planned = files(tmp_path, entries)
    by_hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n4,Ash,24,70,1 ft2")
    found = []
    for order in ((planned, file, by_hand), (file, by_hand, planned)):
        with Season.create(tmp_path / f"{order[0].stem}.sqlite", who="Ash") as season:
            for one in order:
                if one == planned:
                    added = season.add_plan(one, NORTH)
                elif one == file:
                    season.add_counts(one, NORTH)
                else:
                    season.add_hand_counts(one, NORTH)
            assert visits(season) == ["visit 1"]
            summary = season.summary(NORTH)
            found.append((seen(season), summary.planned, summary.to_visit, summary.hand_to_do))
    assert found[0] == found[1]
    assert found[1][1:] == (5, 1, ())
    assert added.new == 5
    assert added.notes[0] == "put to the counts of visit 1: they lie at 4 of its spots"
    assert {(one.photo, one.was, one.spot) for one in added.placed} == {
        ("IMG_1.jpg", "IMG_1", "1"),
        ("IMG_2.jpg", "IMG_2", "2"),
        ("IMG_4.jpg", "IMG_4", "5"),
        ("IMG_5.jpg", "IMG_5", "5"),
    }


def test_nothing_is_lost(tmp_path: Path) -> None:
    """What lies at no spot keeps its own, what a person placed stays, and the past is kept."""
    file, planned = files(tmp_path, [photo(1, 1), photo(2, 2), photo(3, 3), photo(4, 4, 80.0)])
    by_hand = hand_csv(tmp_path / "h.csv", "wet,Ash,9,30,1 ft2")
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        season.add_hand_counts(by_hand, NORTH)
        season.assign("IMG_3.jpg", "IMG_2", NORTH)
        season.correct("IMG_1.jpg", 33, 99)
        before = {(source, plants) for _, source, plants, _ in seen(season)}
        whole = measured(season)
        named = Where(NORTH.farm, NORTH.field, "visit 1")
        added = season.add_plan(planned, named)
        assert {(source, plants) for _, source, plants, _ in seen(season)} == before
        keys = {key for key, _, _, _ in seen(season)}
        assert keys == {"1", "2", "img_4", "wet"}
        assert measured(season) == whole
        assert any("IMG_4.jpg keeps its own spot, IMG_4: 262 ft" in line for line in added.notes)
        assert "spot wet, counted by hand, isn't in the plan; kept as a further one" in added.notes
        assert {one.photo: one.spot for one in season.placed(NORTH)}["IMG_3.jpg"] == "2"
        (followed,) = [one for one in added.placed if one.photo == "IMG_3.jpg"]
        assert (followed.was, followed.note) == ("IMG_2", "with the others of spot IMG_2")
        with season.engine.connect() as connection:
            ended = select(placements.c.id).where(placements.c.ended_id.is_not(None))
            assert len(connection.execute(ended).all()) == 4  # IMG_1, IMG_2, IMG_3 twice
        assert season.add_plan(planned, NORTH).new == 0
        assert not [one for one in season.check() if one.level == "bad"]


def test_counts_elsewhere_stay_by_themselves(tmp_path: Path) -> None:
    away = [photo(n, n, 400.0) for n in (1, 2, 3, 4)]
    file, planned = files(tmp_path, away)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        added = season.add_plan(planned, NORTH)
        assert sorted(visits(season)) == ["visit 1", "visit 2"]
        assert added.visit == "visit 2"
        said = "a visit of its own, since the counts of visit 1 weren't made by it: spot IMG_"
        assert added.notes[0].startswith(said)


@pytest.mark.parametrize(
    ("entries", "rows", "why"),
    [
        ([photo(1, 1), photo(2, 2), photo(3, 3, 20.0)], "", "spot IMG_3 is 66 ft (20 m) from its"),
        ([photo(1, 1), photo(2, 2)], "", "only 2 of the plan's spots"),
        ([photo(1, 1), photo(2, 2), photo(3, 3, spot="5")], "", "spot 5 lies at the plan's spot 3"),
        ([photo(1, 1), photo(2, 2), photo(3, 3)], "9,Ash,20,60,1 ft2", "spot 9 has no position"),
        ([entry(n, spot=str(n)) for n in (1, 2, 3)], "", "no count can be told by a position"),
    ],
)
def test_it_is_asked_where_it_isnt_clear(
    tmp_path: Path, entries: list[dict[str, Any]], rows: str, why: str
) -> None:
    file, planned = files(tmp_path, entries)
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_counts(file, NORTH)
        if rows:
            season.add_hand_counts(hand_csv(tmp_path / "h.csv", rows), NORTH)
        before = seen(season)
        with pytest.raises(InputError) as caught:
            season.add_plan(planned, NORTH)
        for words in (why, '--visit "visit 1"', "with a new name", "Nothing was added"):
            assert words in str(caught.value)
        assert visits(season) == ["visit 1"]
        assert seen(season) == before
        other = Where(NORTH.farm, NORTH.field, "March")
        assert season.add_plan(planned, other).visit == "March"
        assert seen(season, Where(NORTH.farm, NORTH.field, "visit 1")) == before


def test_on_the_screen(tmp_path: Path) -> None:
    file, planned = files(tmp_path, [photo(1, 1), photo(2, 2), photo(3, 3)])

    def run(*given: object) -> str:
        result = CliRunner().invoke(app, ["season", *map(str, given)])
        assert result.exit_code == 0, result.stderr
        return result.stdout

    place = tmp_path / "s.sqlite"
    run("new", place)
    run("add", place, file, "--farm", "Elm Hill", "--field", "North")
    said = run("add", place, planned, "--field", "North")
    assert "5 planned spots added to Elm Hill, North, visit 1" in said
    assert "IMG_1.jpg: moved from spot IMG_1 to spot 1 by position, 20 ft (6 m) away" in said
    assert "put to the counts of visit 1: they lie at 3 of its spots" in said
    assert "the others:" not in said
    assert "5 spots planned, 2 of them still to count" in run("show", place, "--field", "North")
