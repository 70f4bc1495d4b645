"""Plans from GeoJSON: the program's own, other people's, and those that can't be used."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from tests.store.helpers import NORTH, plan, write
from tillercount.errors import InputError
from tillercount.plan import plan_visit, to_geojson
from tillercount.store import Season, read_plan
from tillercount.units import M2_PER_ACRE

CORNERS = "38.500,-97.500 38.500,-97.490 38.492,-97.490 38.492,-97.500"


def test_a_plan_of_this_program(tmp_path: Path, file_season: Season) -> None:
    made = plan_visit(CORNERS, 8, hand=3, rng=5)
    file = write(tmp_path / "p.geojson", to_geojson(made))
    found = read_plan(file)
    assert [(s.name, s.number) for s in found.spots] == [(str(n), n) for n in range(1, 9)]
    for mine, theirs in zip(found.spots, made.spots, strict=True):
        assert (mine.lat, mine.lon, mine.by_hand) == (theirs.lat, theirs.lon, theirs.by_hand)
        assert mine.stands_for_m2 == pytest.approx(theirs.stands_for_m2, abs=0.06)
    assert found.outline is not None
    assert found.outline.area_m2 == pytest.approx(made.field.area_m2, rel=1e-4)
    assert found.about["design"] == made.design
    assert file_season.add_plan(file, NORTH).new == 8
    assert len(file_season.summary(NORTH).hand_to_do) == 3


def test_points_of_another_program(tmp_path: Path) -> None:
    made: dict[str, Any] = {"type": "FeatureCollection", "features": []}
    for number, name in enumerate(({"Name": "gate"}, {"NUMBER": 7.0}, {})):
        made["features"].append(
            {
                "type": "Feature",
                "id": 40 + number,
                "geometry": {"type": "Point", "coordinates": [-97.5, 38.5 + number / 1000]},
                "properties": name,
            }
        )
    assert [s.name for s in read_plan(write(tmp_path / "p.json", made)).spots] == [
        "gate",
        "7",
        "42",
    ]


def test_swapped_axes_are_put_right_where_only_one_order_can_be(tmp_path: Path) -> None:
    made = plan([(0, 0), (50, 0)])
    for feature in made["features"]:
        feature["geometry"]["coordinates"].reverse()  # latitude -97 can't be
    found = read_plan(write(tmp_path / "p.geojson", made))
    assert found.spots[0].lat == pytest.approx(38.5)
    assert "wrong way round" in found.notes[0]


def test_zone_areas(tmp_path: Path) -> None:
    made = plan([(0, 0)], zone=["hill"])
    zone = {"what": "zone", "name": "hill", "area_ac": 12.5}
    made["features"].append({"type": "Feature", "geometry": None, "properties": zone})
    (found,) = read_plan(write(tmp_path / "p.geojson", made)).zones
    assert found.area_m2 == pytest.approx(12.5 * M2_PER_ACRE)


GOOD = plan([(0, 0), (50, 0)])


def changed(path: tuple[Any, ...], value: Any) -> Any:
    record = copy.deepcopy(GOOD)
    part: Any = record
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = value
    return record


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (
            changed(("features", 1, "properties", "spot"), "01"),
            r"point 2: spot 01 stands at point 1",
        ),
        (changed(("features",), []), "no points"),
        (changed(("features", 0, "properties", "by_hand"), "yes"), "point 1, by_hand: 'yes'"),
        (changed(("features", 0, "geometry", "coordinates"), [500, 1e6]), "can't be degrees"),
        (changed(("features", 0, "geometry", "type"), "MultiPoint"), "p.geojson"),
        ({"type": "FeatureCollection", "features": 3}, "no list of features"),
        (plan([(5_000_000, 0)]), "lies in the Atlantic"),
        ([1], "not GeoJSON"),
    ],
)
def test_plans_refused(tmp_path: Path, record: Any, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        read_plan(write(tmp_path / "p.geojson", record))
    assert "\n" not in str(caught.value)


def test_a_point_without_a_number(tmp_path: Path) -> None:
    record = copy.deepcopy(GOOD)
    del record["features"][1]["id"]
    del record["features"][1]["properties"]["spot"]
    with pytest.raises(InputError, match="point 2: no number"):
        read_plan(write(tmp_path / "p.geojson", record))


def test_another_plan_needs_another_visit(tmp_path: Path, file_season: Season) -> None:
    first = write(tmp_path / "a.geojson", GOOD)
    second = write(tmp_path / "b.geojson", plan([(0, 0), (90, 0)]))
    assert file_season.add_plan(first, NORTH).visit == "visit 1"
    assert file_season.add_plan(second, NORTH).visit == "visit 2"
    assert file_season.add_plan(first, NORTH).new == 0
    named = type(NORTH)(NORTH.farm, NORTH.field, "visit 1")
    with pytest.raises(InputError, match="has spots of its own already"):
        file_season.add_plan(second, named)


def test_a_place_in_doubt_is_noted_first(tmp_path: Path) -> None:
    """10 N, 51 E read the other way is Germany; wheat grows in the tropics too."""
    made = plan([(0, 0), (50, 0)])
    for number, feature in enumerate(made["features"]):
        feature["geometry"]["coordinates"] = [51.1, 10.1 + number / 1000]
    assert "is in the tropics; if the field isn't" in read_plan(
        write(tmp_path / "p.geojson", made)
    ).notes[0]
