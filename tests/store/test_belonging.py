"""Whether counts are a plan's: more than chance would put at its spots, and at no other plan's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.store.helpers import NORTH, at, counts, entry, plan, write
from tests.store.test_joining import PLACES, files, photo, visits
from tillercount.errors import InputError
from tillercount.store import Season, Where

Places = list[tuple[float, float]]


def outcome(folder: Path, planned: Places, counted: Places, side_m: float | None = None) -> str:
    """``joined``, ``alone`` or ``asked``; with a side, the plan brings the square's boundary."""
    folder.mkdir()
    record = plan(planned)
    if side_m is not None:
        ring = [(0.0, 0.0), (side_m, 0.0), (side_m, side_m), (0.0, side_m), (0.0, 0.0)]
        shape = {"type": "Polygon", "coordinates": [[list(at(*one))[::-1] for one in ring]]}
        record["features"].append(
            {"type": "Feature", "geometry": shape, "properties": {"what": "field", "name": "N"}}
        )
    entries = []
    for number, place in enumerate(counted, 1):
        lat, lon = at(*place)
        entries.append(entry(number, lat=lat, lon=lon))
    with Season.create(folder / "s.sqlite", who="Ash") as season:
        season.add_counts(write(folder / "c.json", counts(entries)), NORTH)
        try:
            visit = season.add_plan(write(folder / "p.geojson", record), NORTH).visit
        except InputError:
            return "asked"
    return "joined" if visit == "visit 1" else "alone"


def drawn(rng: np.random.Generator, n: int, side_m: float) -> Places:
    return [(float(e), float(north)) for e, north in rng.uniform(0, side_m, (n, 2))]


@pytest.mark.parametrize(("side_m", "spots"), [(60.0, 9), (90.0, 12)])
def test_a_small_field_does_not_join_by_chance(tmp_path: Path, side_m: float, spots: int) -> None:
    """Plans and counts both at random: a third joined when 48 ft alone was asked for."""
    rng = np.random.default_rng(1)
    for number in range(25):
        found = outcome(
            tmp_path / str(number), drawn(rng, spots, side_m), drawn(rng, 5, side_m), side_m
        )
        assert found != "joined"


def test_in_a_small_field_near_places_tell(tmp_path: Path) -> None:
    """Nine spots 20 m apart: five counts 2 m from theirs are the plan's, five 9 m from it may be
    anyone's."""
    spots = [(20.0 * i, 20.0 * j) for i in range(3) for j in range(3)]
    assert outcome(tmp_path / "a", spots, [(e, n + 2.0) for e, n in spots[:5]], 40.0) == "joined"
    assert outcome(tmp_path / "b", spots, [(e, n + 9.0) for e, n in spots[:5]], 40.0) == "asked"


def test_the_boundary_counts_where_it_is_known(tmp_path: Path) -> None:
    """Spots that lie closely together in one corner of a wide field."""
    spots = [(30.0 * i, 30.0 * j) for i in range(1, 4) for j in range(1, 4)]
    counted = [(e, n + 11.0) for e, n in spots[:5]]
    assert outcome(tmp_path / "hull", spots, counted) == "asked"
    assert outcome(tmp_path / "field", spots, counted, 800.0) == "joined"


def test_spots_of_an_earlier_plan_are_asked_about(tmp_path: Path) -> None:
    """The second visit's counts lie at spots of the first visit's plan, which a third plan has
    again: whose are they?"""
    entries = [photo(n, n) for n in (1, 2, 3, 4)]
    file, planned = files(tmp_path, entries)
    again = write(tmp_path / "again.geojson", plan(PLACES, by_hand=[False] * 5))
    second = Where(NORTH.farm, NORTH.field, "visit 2")
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_plan(planned, NORTH)
        season.add_counts(file, second)
        with pytest.raises(InputError, match="they lie at the planned spots of visit 1 too"):
            season.add_plan(again, NORTH)
        assert season.add_plan(again, second).visit == "visit 2"


def test_a_visit_with_a_plan_gets_no_second_one(tmp_path: Path) -> None:
    file, planned = files(tmp_path, [photo(n, n) for n in (1, 2, 3, 4)])
    again = write(tmp_path / "again.geojson", plan(PLACES, by_hand=[False] * 5))
    with Season.create(tmp_path / "s.sqlite", who="Ash") as season:
        season.add_plan(planned, NORTH)
        season.add_counts(file, NORTH)
        assert season.add_plan(again, NORTH).visit == "visit 2"
        assert sorted(visits(season)) == ["visit 1", "visit 2"]
        with pytest.raises(InputError, match="those of another plan"):
            season.add_plan(again, Where(NORTH.farm, NORTH.field, "visit 1"))
