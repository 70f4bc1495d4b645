"""Designs: where spots may fall, that every place has the same chance, seeds, zones."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.plan.fields import L_SHAPE, SQUARE, corners, polygon, typed, write
from tillercount.errors import InputError
from tillercount.plan import DESIGNS, plan_visit, read_field
from tillercount.plan.blocks import point_in_block, turned_lengthwise
from tillercount.plan.boundary import Field
from tillercount.plan.design import allocate, draw_spots
from tillercount.plan.room import LeftOut, make_room

RANDOM = [name for name in DESIGNS if name != "w-walk"]
FIELD = read_field(typed(corners(L_SHAPE)))


def spots_of(plan: Any) -> list[tuple[float, float]]:
    return [(spot.lon, spot.lat) for spot in plan.spots]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.integers(1, 30),
    st.floats(0, 40),
    st.integers(0, 2**31),
    st.sampled_from([(-98.7, 38.0), (179.997, -17.0), (-180.0, 62.0), (10.0, 69.5)]),
    st.floats(0, 6.28),
)
def test_every_spot_is_inside_and_off_the_edge(
    design: str, n: int, keep_off_m: float, seed: int, place: tuple[float, float], turn: float
) -> None:
    turned = shapely.affinity.rotate(shapely.Polygon(L_SHAPE), turn, use_radians=True)
    ring = list(turned.exterior.coords)[:-1]
    field = read_field(typed(corners(ring, *place)))
    plan = plan_visit(field, n, design=design, keep_off_m=keep_off_m, rng=seed)
    assert [spot.number for spot in plan.spots] == list(range(1, n + 1))
    where = field.ground.to_m(np.array(spots_of(plan)))
    points = shapely.points(where)
    assert shapely.contains(field.shape, points).all()
    assert shapely.distance(points, field.shape.boundary).min() >= keep_off_m
    assert {spot.number for spot in plan.by_hand} <= set(range(1, n + 1))
    assert len(plan.by_hand) == min(n, max(4, -(-n // 4)))
    assert sum(spot.stands_for_m2 for spot in plan.spots) == pytest.approx(plan.room.area_m2)


@pytest.mark.parametrize("design", sorted(DESIGNS))
def test_same_seed_same_plan(design: str) -> None:
    one, same, other = (plan_visit(FIELD, 9, design=design, rng=seed) for seed in (5, 5, 6))
    assert one.spots == same.spots
    assert one.notes == same.notes
    assert one.spots != other.spots
    assert one.seed == 5


def test_a_drawn_seed_can_be_given_again() -> None:
    for rng in (None, np.random.default_rng(3)):
        plan = plan_visit(FIELD, 6, rng=rng)
        assert plan_visit(FIELD, 6, rng=plan.seed).spots == plan.spots


def test_more_hand_counts_move_no_spot() -> None:
    few, many = (plan_visit(FIELD, 12, hand=k, rng=8) for k in (2, 7))
    assert spots_of(few) == spots_of(many)
    assert {s.number for s in few.by_hand} <= {s.number for s in many.by_hand}
    assert (len(few.by_hand), len(many.by_hand)) == (2, 7)


def cells(points: np.ndarray, room: Any, across: int = 6) -> tuple[np.ndarray, np.ndarray]:
    """How many points fall in each cell of a grid, and how many should."""
    west, south, east, north = room.bounds
    xs, ys = np.linspace(west, east, across + 1), np.linspace(south, north, across + 1)
    counted, wanted = [], []
    for (x0, x1), (y0, y1) in itertools.product(itertools.pairwise(xs), itertools.pairwise(ys)):
        share = room.intersection(shapely.box(x0, y0, x1, y1)).area / room.area
        if share * len(points) >= 8:
            inside = (points >= (x0, y0)).all(axis=1) & (points < (x1, y1)).all(axis=1)
            counted.append(int(inside.sum()))
            wanted.append(share * len(points))
    return np.array(counted), np.array(wanted)


@pytest.mark.parametrize("design", RANDOM)
@pytest.mark.parametrize("n", [5, 8])
def test_every_place_has_the_same_chance(design: str, n: int) -> None:
    """One spot of each of 600 plans, so that the draws are independent; fixed seeds 0 to 599."""
    room = make_room(FIELD, 10.0, LeftOut(), 1.0)
    drawn = []
    for seed in range(600):
        rng = np.random.default_rng(seed)
        where = draw_spots(room, n, design, rng).where
        drawn.append(where[rng.integers(n)])
    counted, wanted = cells(np.array(drawn), room.shape)
    # Cells with too few to judge are left out of both, so the sums need not agree to the last.
    chi2 = float(((counted - wanted) ** 2 / wanted).sum())
    assert len(wanted) > 12
    assert 0.001 < stats.chi2.sf(chi2, len(wanted)) < 0.9999


def test_the_check_of_chances_sees_a_w() -> None:
    room = make_room(FIELD, 10.0, LeftOut(), 1.0)
    drawn = []
    for seed in range(600):
        rng = np.random.default_rng(seed)
        drawn.append(draw_spots(room, 8, "w-walk", rng).where[rng.integers(8)])
    counted, wanted = cells(np.array(drawn), room.shape)
    assert stats.chi2.sf(float(((counted - wanted) ** 2 / wanted).sum()), len(wanted)) < 1e-6


def test_every_spot_has_the_same_chance_to_be_counted_by_hand() -> None:
    order = np.zeros(10)
    for seed in range(400):
        plan = plan_visit(FIELD, 10, hand=3, rng=seed)
        for spot in plan.by_hand:
            order[spot.number - 1] += 1
    assert order.sum() == 1200
    assert stats.chisquare(order).pvalue > 0.001


@pytest.mark.parametrize("weights", [[1.0], [2.0, 3.0], [1.0] * 7, [2.0] * 12, [2, 2, 3, 2, 2]])
def test_blocks_have_the_areas_asked_for(weights: list[float]) -> None:
    turned = turned_lengthwise(FIELD.shape)
    blocks = turned.blocks(weights)
    areas = np.array([block.area for block in blocks])
    assert areas / areas.sum() == pytest.approx(np.array(weights) / np.sum(weights), rel=1e-6)
    assert areas.sum() == pytest.approx(FIELD.area_m2, rel=1e-9)
    for one, other in itertools.combinations(blocks, 2):
        assert one.intersection(other).area < 1e-3


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 1), st.floats(0, 1))
def test_places_in_a_block_are_in_it(u: float, v: float) -> None:
    block = shapely.Polygon(L_SHAPE, [[(50, 50), (150, 50), (150, 250), (50, 250)]])
    x, y = point_in_block(block, u, v)
    assert block.distance(shapely.Point(x, y)) < 1e-6


def test_stratified_spreads_more_evenly_than_random() -> None:
    """Mean distance of a place to the nearest spot, over 40 plans each."""
    room = make_room(FIELD, 10.0, LeftOut(), 1.0)
    rng = np.random.default_rng(1)
    grid = draw_spots(room, 400, "random", rng).where
    gaps = {}
    for design in RANDOM:
        far = []
        for seed in range(40):
            where = draw_spots(room, 12, design, np.random.default_rng(seed)).where
            far.append(np.hypot(*(grid[:, None] - where[None]).transpose(2, 0, 1)).min(1).mean())
        gaps[design] = np.mean(far)
    assert gaps["systematic"] < gaps["stratified"] < gaps["random"]


def test_w_walk_says_what_it_costs() -> None:
    plan = plan_visit(FIELD, 10, design="w-walk", rng=1)
    assert not plan.is_random_sample
    (note,) = [note for note in plan.notes if "convenience sampling" in note]
    assert "% of the ground lies more than 100 ft" in note


def two_zones(folder: Path) -> Path:
    left = corners([(0, 0), (200, 0), (200, 800), (0, 800)])
    right = corners([(200, 0), (800, 0), (800, 800), (200, 800)])
    return write(folder / "z.geojson", polygon(left, zone="hill"), polygon(right, zone="flat"))


def test_zones(tmp_path: Path) -> None:
    square = read_field(typed(corners(SQUARE)))
    plan = plan_visit(square, 12, zones=two_zones(tmp_path), rng=2, keep_off_m=0.0)
    names = [spot.zone for spot in plan.spots]
    assert (names.count("hill"), names.count("flat")) == (3, 9)
    for spot in plan.spots:
        zone = next(z for z in plan.zones if z.name == spot.zone)
        assert zone.shape.contains(shapely.Point(spot.x_m, spot.y_m))
    hill = sum(s.stands_for_m2 for s in plan.spots if s.zone == "hill")
    assert hill == pytest.approx(160_000, rel=1e-3)
    with pytest.raises(InputError, match="1 spot can't cover 2 zones; give at least 4"):
        plan_visit(square, 1, zones=two_zones(tmp_path))
    few = plan_visit(square, 3, zones=two_zones(tmp_path), rng=1)
    assert any("one spot only" in note for note in few.notes)


def test_zones_refused_and_remarked(tmp_path: Path) -> None:
    square = read_field(typed(corners(SQUARE)))
    away = corners([(3000, 0), (3200, 0), (3200, 100), (3000, 100)])
    with pytest.raises(InputError, match=r"zone 'x' lies outside the field.*1\.4 mi from it"):
        plan_visit(square, 6, zones=write(tmp_path / "a.geojson", polygon(away, name="x")))
    big = corners([(-100, 0), (500, 0), (500, 800), (-100, 800)])
    over = corners([(300, 0), (800, 0), (800, 800), (300, 800)])
    path = write(tmp_path / "b.geojson", polygon(big, name="x"), polygon(over, name="y"))
    with pytest.raises(InputError, match="zones 'x' and 'y' overlap by 39"):
        plan_visit(square, 6, zones=path)
    plan = plan_visit(square, 6, zones=write(tmp_path / "c.geojson", polygon(big, name="x")), rng=1)
    assert [zone.name for zone in plan.zones] == ["x", "rest"]
    assert any("beyond the field" in note for note in plan.notes)
    assert any("in no zone" in note for note in plan.notes)


def line(points: list[tuple[float, float]]) -> dict[str, Any]:
    geometry = {"type": "LineString", "coordinates": [list(p) for p in points]}
    return {"type": "Feature", "properties": {}, "geometry": geometry}


@pytest.mark.parametrize("design", sorted(DESIGNS))
def test_tracks_and_areas_left_out(tmp_path: Path, design: str) -> None:
    square = read_field(typed(corners(SQUARE)))
    pond = corners([(300, 300), (500, 300), (500, 500), (300, 500)])
    tracks = [line(corners([(x, 0), (x, 800)])) for x in range(30, 800, 30)]
    path = write(tmp_path / "out.geojson", polygon(pond), *tracks)
    plan = plan_visit(
        square, 30, design=design, exclude=[path], keep_off_m=12, keep_off_lines_m=2, rng=4
    )
    points = shapely.points([(s.x_m, s.y_m) for s in plan.spots])
    for area in plan.left_out.areas:
        assert shapely.distance(points, area).min() >= 12
    for track in plan.left_out.lines:
        assert shapely.distance(points, track).min() >= 2
    assert len(plan.left_out.lines) == 26


def test_no_room() -> None:
    with pytest.raises(InputError, match=r"no room for spots.*1,312 ft.*smaller --keep-off"):
        plan_visit(FIELD, 5, keep_off_m=400)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"spots": 0}, "0 spots can't be planned; give 1 to 200"),
        ({"spots": 201}, "201 spots"),
        ({}, "how many spots"),
        ({"spots": 5, "hand": 6}, "--hand 6 of 5"),
        ({"spots": 5, "hand": -1}, "--hand -1 of 5"),
        ({"spots": 5, "design": "zigzag"}, "design 'zigzag' isn't known"),
        ({"spots": 5, "rng": -1}, "seed -1"),
        ({"spots": 5, "start": (10.0, 10.0)}, "30 miles"),
    ],
)
def test_options_refused(options: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says):
        plan_visit(FIELD, **options)


def test_hand_counts_too_few_are_remarked() -> None:
    for hand, says in ((0, "nothing will show"), (3, "fewer than 4")):
        assert any(says in note for note in plan_visit(FIELD, 8, hand=hand, rng=1).notes)


def test_allocation() -> None:
    assert allocate(12, np.array([1.0, 3.0])).tolist() == [3, 9]
    assert allocate(6, np.array([1.0, 99.0])).tolist() == [2, 4]
    assert allocate(3, np.array([1.0, 1.0, 1.0])).tolist() == [1, 1, 1]
    assert allocate(7, np.array([0.2, 0.3, 0.5])).sum() == 7


def test_legs_over_ground_left_out_are_remarked(tmp_path: Path) -> None:
    square: Field = read_field(typed(corners(SQUARE)))
    ditch = corners([(390, -10), (410, -10), (410, 810), (390, 810)])
    path = write(tmp_path / "ditch.geojson", polygon(ditch))
    plan = plan_visit(square, 10, exclude=[path], rng=1)
    assert any("go round" in note for note in plan.notes)
