"""A plan of another field, and a plan taken out of a visit again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.plan import plan_visit, to_geojson
from tillercount.store import Season, Where
from tillercount.store.tables import fields, spots, zones

LATER = Where("Elm Hill", "North", "later")
PLACES: list[tuple[float, float]] = [(10, 10), (100, 10), (10, 200), (150, 150)]


def drawn_for(name: str) -> dict[str, Any]:
    """A plan with its field's outline, as this program writes one."""
    corners = [at(*c)[::-1] for c in ((-50, -50), (300, -50), (300, 300), (-50, 300), (-50, -50))]
    outline = {
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [[list(c) for c in corners]]},
        "properties": {"what": "field", "name": name, "area_ac": 30.0},
    }
    made = plan(PLACES, zone=["a", "a", "b", "b"])
    made["features"].append(outline)
    return made


def names(season: Season, table: Any) -> list[str]:
    with season.engine.connect() as connection:
        return list(connection.scalars(select(table.c.name).order_by(table.c.id)))


@pytest.mark.parametrize(
    ("name", "told"),
    [("South", True), ("north", False), ("North field", False), ("the field", False), ("", False)],
)
def test_a_plan_drawn_for_another_field_is_said(
    season: Season, tmp_path: Path, name: str, told: bool
) -> None:
    done = season.add_plan(write(tmp_path / "p.geojson", drawn_for(name)), NORTH)
    said = [note for note in done.notes if f"drawn for {name!r}, and this is North" in note]
    assert bool(said) is told
    for line in said:
        command = f'season remove {in_command(season.place)} --plan --field North --visit "visit 1"'
        assert command in line


def test_the_name_of_a_file_is_no_fields_name(season: Season, tmp_path: Path) -> None:
    """An outline without a name is called as its file, for which nobody drew a plan."""
    corners = [list(at(*c)[::-1]) for c in ((0, 0), (300, 0), (300, 300), (0, 300), (0, 0))]
    for name, told in (("", False), ("South", True)):
        drawn = {"type": "Polygon", "coordinates": [corners]}
        feature = {"type": "Feature", "geometry": drawn, "properties": {"name": name}}
        outline = write(tmp_path / "boundary export 2027.geojson", feature)
        made = to_geojson(plan_visit(outline, 4, rng=1))
        done = season.add_plan(write(tmp_path / "p.geojson", made), NORTH)
        assert any("was drawn for" in note for note in done.notes) is told


def test_a_plan_taken_out_leaves_what_was_counted(season: Season, tmp_path: Path) -> None:
    file = write(tmp_path / "p.geojson", drawn_for("South"))
    season.add_plan(file, NORTH)
    lat, lon = at(10, 10)
    season.add_counts(counts([entry(1, lat=lat, lon=lon), entry(7)]), NORTH)
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "2,Ash,20,61,1 ft2"), NORTH)
    (place, gone), copy = season.remove_plan(NORTH)
    assert place == "Elm Hill, North, visit 1"
    assert gone == [
        "the plan with 4 spots", "zone 'b'", "2 of its spots stay with what was counted there",
        "zone a still weighs the field, for spots were counted in it",
        "1 photo without a spot now has its own",
    ]  # fmt: skip
    assert copy is None or copy.exists()
    found = season.summary(NORTH)
    assert (found.planned, found.to_visit, found.unplaced) == (0, 0, ())
    assert {(one.photo, one.spot) for one in season.placed(NORTH)} == {
        ("IMG_1.jpg", "1"), ("IMG_7.jpg", "IMG_7"),
    }  # fmt: skip
    assert found.estimate is not None
    assert found.estimate.spots == 3
    assert names(season, spots) == ["1", "2", "IMG_7"]
    with season.engine.connect() as connection:
        assert connection.execute(select(fields.c.area_m2, fields.c.shape)).one() == (None, None)
    (act, *_) = season.journal()
    assert act["detail"].startswith("the plan with 4 spots, Elm Hill, North, visit 1")
    with pytest.raises(InputError, match="has no plan"):
        season.remove_plan(NORTH)
    assert not [one for one in season.check() if one.level == "bad"]
    assert season.add_plan(file, LATER).new == 4


def test_the_outline_stays_while_another_visit_has_a_plan(season: Season, tmp_path: Path) -> None:
    file = write(tmp_path / "p.geojson", drawn_for("North"))
    season.add_plan(file, NORTH)
    other = drawn_for("North")
    other["features"][0]["geometry"]["coordinates"][0] += 0.0001
    season.add_plan(write(tmp_path / "q.geojson", other), LATER)
    season.remove_plan(LATER)
    with season.engine.connect() as connection:
        assert connection.scalar(select(fields.c.area_m2)) is not None
    assert names(season, zones) == ["a", "b"]


def test_zones_go_with_the_visit_that_brought_them(season: Season, tmp_path: Path) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    season.add_plan(write(tmp_path / "p.geojson", drawn_for("North")), LATER)
    assert names(season, zones) == ["a", "b"]
    gone, _ = season.remove(LATER, backed_up=True)
    assert gone == ["visit 'later'", "zone 'a'", "zone 'b'"]
    assert names(season, zones) == []
    assert season.summary(NORTH).notes == ()


def test_zones_stay_where_another_visit_has_spots_in_them(season: Season, tmp_path: Path) -> None:
    season.add_plan(write(tmp_path / "p.geojson", drawn_for("North")), NORTH)
    season.add_plan(write(tmp_path / "q.geojson", plan([(5, 5)], zone=["b"])), LATER)
    gone, _ = season.remove(Where("Elm Hill", "North", "visit 1"), backed_up=True)
    assert gone == ["visit 'visit 1'", "zone 'a'"]
    assert names(season, zones) == ["b"]
