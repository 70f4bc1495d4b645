"""Ground dosed twice, on fields whose share can be worked out by hand."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.plan import read_field
from tillercount.stand.overlap import Boom, long_side_heading, overlap

FIELD = shapely.box(0, 0, 400, 200)  # 400 m east-west, 200 m north-south


def test_a_rectangle_that_fits_has_none() -> None:
    """160 m between the headlands are exactly 8 passes of 20 m."""
    found = overlap(FIELD, Boom(20))
    assert found.heading_deg == 90
    assert found.passes == 8
    assert found.twice_share == 0
    assert found.missed_share == 0
    assert found.headland_share == pytest.approx(1 - 360 * 160 / 80_000)


def test_a_rectangle_that_does_not_fit() -> None:
    """170 m between headlands of 15 m take 12 passes: 10 m of the last lie on the headland."""
    found = overlap(FIELD, Boom(15))
    assert found.passes == 12
    assert found.twice.area == pytest.approx(10 * 370, rel=1e-4)
    assert found.point_rows.area == pytest.approx(10 * 370, rel=1e-4)
    assert found.twice_share == pytest.approx(3700 / 80_000)


def test_swath_narrower_than_the_boom() -> None:
    """20 m every 18 m over 160 m: 9 passes, 8 strips of 2 m doubled, 4 m over the headland."""
    found = overlap(FIELD, Boom(20, swath_m=18))
    assert found.passes == 9
    assert found.twice.area == pytest.approx((8 * 2 + 4) * 360)
    assert found.point_rows.area == pytest.approx(4 * 360)


def test_swath_wider_than_the_boom_misses() -> None:
    """20 m every 22 m over 200 m: 10 passes, 9 gaps of 2 m."""
    found = overlap(FIELD, Boom(20, swath_m=22, headland_rounds=0))
    assert found.missed.area == pytest.approx(9 * 2 * 400)
    assert found.twice_share == 0
    assert found.headland_share == 0


def test_point_rows_of_a_slanted_edge() -> None:
    """A 20 m lane that meets a 45° edge runs on 20 m at its longer side: 200 m² a pass and end.

    Between the headlands the trapezium is 160 m high, so 8 passes, each with one slanted end.
    """
    slanted = shapely.Polygon([(0, 0), (400, 0), (400, 200), (200, 200)])
    found = overlap(slanted, Boom(20, heading_deg=90))
    assert found.passes == 8
    assert found.twice.area == pytest.approx(8 * 200, rel=1e-6)
    assert found.point_rows.area == pytest.approx(found.twice.area)


def test_sections_switching_by_themselves_double_less() -> None:
    """With k sections each pass doubles k triangles of (20 / k)² / 2 m²."""
    slanted = shapely.Polygon([(0, 0), (400, 0), (400, 200), (200, 200)])
    for parts in (1, 4, 10):
        found = overlap(slanted, Boom(20, sections=parts, heading_deg=90))
        assert found.twice.area == pytest.approx(8 * 200 / parts, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 179), st.floats(-500, 500), st.floats(8, 40))
def test_turning_and_moving_the_field_changes_nothing(
    turn: float, shift: float, width: float
) -> None:
    shape = shapely.Polygon([(0, 0), (500, 0), (380, 240), (60, 200)])
    there = shapely.affinity.translate(
        shapely.affinity.rotate(shape, -turn, origin=(0, 0)), shift, -shift
    )
    here = overlap(shape, Boom(width, heading_deg=90))
    moved = overlap(there, Boom(width, heading_deg=90 + turn))
    # The first pass may lie at the other side once the heading has passed 180°.
    if 90 + turn < 180:
        assert moved.twice.area == pytest.approx(here.twice.area, rel=1e-3, abs=3)
    assert moved.headland.area == pytest.approx(here.headland.area, rel=1e-3)
    assert moved.missed_share == pytest.approx(0, abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(st.floats(5, 60), st.integers(0, 3), st.integers(1, 8), st.floats(0.6, 1.4))
def test_every_spot_is_in_just_one_account(
    width: float, rounds: int, parts: int, step: float
) -> None:
    shape = shapely.Polygon([(0, 0), (500, 30), (420, 300), (200, 180), (40, 260)])
    found = overlap(shape, Boom(width, width * step, rounds, parts))
    for part in (found.twice, found.missed, found.headland, found.point_rows):
        assert part.difference(shape.buffer(1e-3)).area == pytest.approx(0, abs=1e-2)
    assert found.twice.intersection(found.missed).area == pytest.approx(0, abs=0.1)
    assert found.headland.intersection(found.missed).area == pytest.approx(0, abs=0.1)
    assert found.point_rows.difference(found.headland.buffer(1e-3)).area < 0.1
    assert 0 <= found.twice_share <= 1
    if step <= 1:
        assert found.missed_share == pytest.approx(0, abs=1e-4)


def test_a_small_field_is_all_headland() -> None:
    found = overlap(shapely.box(0, 0, 30, 30), Boom(20))
    assert found.passes == 0
    assert found.headland_share == pytest.approx(1)
    assert any("whole field" in note for note in found.notes)


def test_the_double_rate() -> None:
    assert overlap(FIELD, Boom(15)).doubled(40) == 80


@pytest.mark.parametrize(("corners", "heading"), [((100, 400), 0), ((400, 100), 90)])
def test_long_side(corners: tuple[float, float], heading: float) -> None:
    assert long_side_heading(shapely.box(0, 0, *corners)) == pytest.approx(heading)


def test_map_in_metres_and_in_degrees(tmp_path: object) -> None:
    plain = overlap(FIELD, Boom(15)).to_geojson()
    assert plain["units"] == "metres"
    kinds = [feature["properties"]["kind"] for feature in plain["features"]]
    assert kinds == ["headland", "dosed twice", "point rows"]
    field = read_field("39.100,-97.200 39.100,-97.195 39.097,-97.195 39.097,-97.2005")
    found = overlap(field.shape, Boom(27.4), ground=field.ground)
    mapped = found.to_geojson()
    assert mapped["units"] == "degrees"
    twice = next(f for f in mapped["features"] if f["properties"]["kind"] == "dosed twice")
    lon, lat = shapely.get_coordinates(shapely.geometry.shape(twice["geometry"])).T
    assert lon.min() > -97.201
    assert lon.max() < -97.194
    assert lat.min() > 39.096
    assert lat.max() < 39.101
    assert twice["properties"]["share"] == pytest.approx(found.twice_share)


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ({"width_m": 0.1}, "doesn't exist"),
        ({"width_m": 200}, "doesn't exist"),
        ({"width_m": 20, "swath_m": 9}, "more than half"),
        ({"width_m": 20, "swath_m": 50}, "doesn't go with"),
        ({"width_m": 20, "headland_rounds": -1}, "0 to 10"),
        ({"width_m": 20, "sections": 0}, "1 to 200"),
    ],
)
def test_booms_refused(bad: dict[str, float], says: str) -> None:
    with pytest.raises(InputError, match=says):
        Boom(**bad)  # type: ignore[arg-type]


def test_fields_refused() -> None:
    bow_tie = shapely.Polygon([(0, 0), (100, 90), (100, 0), (0, 100)])
    with pytest.raises(InputError, match="outline is wrong"):
        overlap(bow_tie, Boom(20))
    with pytest.raises(InputError, match="no area"):
        overlap(shapely.Polygon(), Boom(20))
