"""All sides at once: pipes, crossed pipes and laths, against edges that are exact."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, iou, paint
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.area import RectArea, SquareArea
from tillercount.frame import build
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.joint import (
    KINDS,
    area_unsure,
    better_as_lath,
    fit_made,
    leaning,
    likelihoods,
)
from tillercount.frame.lines import fit_line
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.projection import homography, view_of
from tillercount.frame.section import lath_edges, pipe_edges
from tillercount.frame.shape import fit_shape, round_from_lower_left
from tillercount.frame.side import Side, corner_ring

SQUARE = SquareArea(304.8)
AXIS, SIGN = (1, 0, 1, 0), (-1, 1, 1, -1)


def place_of(camera: Camera) -> np.ndarray:
    m = camera.matrix()
    return -np.linalg.solve(m[:, :3], m[:, 3])


def cross_section(kind: str, side: int, wide: float, thick: float, half: float, camera: Camera):
    """Points (x, z) mm of the section of one side that the camera sees at its two edges."""
    c = place_of(camera)
    out, up = SIGN[side] * c[AXIS[side]], c[2]
    if kind == "lath":
        box = np.array([[half, 0], [half, thick], [half + wide, thick], [half + wide, 0]])
    else:
        lifted = {"across x": AXIS[side] == 0, "across y": AXIS[side] == 1}.get(kind, False)
        r = wide / 2
        t = np.linspace(0, 2 * math.pi, 20000)
        ring = np.column_stack([np.cos(t), np.sin(t)]) * r
        box = ring + [half + r, r + (thick if lifted else 0)]
    slope = (box[:, 0] - out) / (up - box[:, 1])
    return box[np.argmin(slope)], box[np.argmax(slope)]


def sides_of(kind: str, camera: Camera, area, wide: float, thick: float, *, upper: float = 0.0):
    """Sides as they would be read without error; ``upper`` share of the places on the inner edge
    lies on the upper edge of a lath instead."""
    size = size_mm(area)
    sides = []
    for side in range(4):
        axis, sign = AXIS[side], SIGN[side]
        half, long = size[axis] / 2, size[1 - axis] / 2
        near, far = cross_section(kind, side, wide, thick, half, camera)
        along = np.linspace(-0.95, 0.95, 60) * long
        edges = []
        for x, z in (near, far):
            points = np.zeros((60, 3))
            points[:, axis], points[:, 1 - axis], points[:, 2] = sign * x, along, z
            edges.append(camera.project(points))
        if upper:
            points[:, axis], points[:, 2] = sign * half, thick
            some = slice(0, round(60 * upper))
            edges[0][some] = camera.project(points)[some]
        middle = camera.project(np.zeros((1, 2)))[0]
        line = fit_line(edges[0]).facing_away_from(middle)
        width = float(np.linalg.norm(edges[1] - edges[0], axis=1).mean())
        sides.append(Side(line, 1.0, 0.0, 1.0, 0.0, edges[0], width, edges[0], edges[1]))
    return sides


def fitted(sides: list[Side], camera: Camera, area, focal_share: float = 1.0):
    centre = ((camera.width - 1) / 2, (camera.height - 1) / 2)
    ring = corner_ring([side.line for side in sides])
    corners = round_from_lower_left(ring)
    # the scene's own order: its lower left corner first, as seen from above
    own = camera.project(outline_mm(area))
    turn = min(range(4), key=lambda k: float(np.abs(np.roll(corners, -k, 0) - own).sum()))
    corners = np.roll(corners, -turn, axis=0)
    view = view_of(homography(outline_mm(area), corners), camera.focal_px * focal_share, centre)
    return fit_made(sides, corners, view, size_mm(area), sides[0].width_px)


cameras = st.builds(
    Camera,
    distance_mm=st.floats(450, 1300),
    focal_px=st.floats(800, 1600),
    tilt_deg=st.floats(6, 22),
    azimuth_deg=st.floats(0, 360),
    turn_deg=st.floats(0, 360),
)


@given(st.floats(-250, 250), st.floats(300, 1500), st.floats(3, 20), st.floats(0, 30))
@settings(max_examples=80, deadline=None)
def test_a_ray_through_an_edge_grazes_the_pipe(
    foot: float, height: float, radius: float, lift: float
) -> None:
    one = np.ones(1)
    eye = np.array([foot, height])
    axis = np.array([152.4 + radius, lift + radius])
    for edge in pipe_edges(foot * one, height * one, 152.4 * one, radius * one, lift * one):
        ray = np.array([edge[0], 0.0]) - eye
        ray /= np.linalg.norm(ray)
        to_axis = axis - eye
        assert abs(ray[0] * to_axis[1] - ray[1] * to_axis[0]) == pytest.approx(radius, abs=1e-6)


def test_edges_of_a_lath_from_inside_and_from_outside() -> None:
    one = np.ones(1)
    inner, upper, outer = lath_edges(0 * one, 500 * one, 150 * one, 20 * one, 10 * one)
    assert inner[0] == 150  # the foot of the inner face, on the ground
    assert upper[0] == pytest.approx(150 * 500 / 490)
    assert outer[0] == pytest.approx(170 * 500 / 490)
    # from outside of it the face is hidden, and the outer face is seen down to the ground
    inner, upper, outer = lath_edges(250 * one, 500 * one, 150 * one, 20 * one, 10 * one)
    assert inner[0] == pytest.approx(250 - 100 * 500 / 490)
    assert inner[0] == upper[0] < 150
    assert outer[0] == 170


@pytest.mark.parametrize("kind", KINDS)
@given(camera=cameras, wide=st.floats(8, 30))
@settings(max_examples=12, deadline=None)
def test_each_kind_is_told_and_its_outline_exact(kind: str, camera: Camera, wide: float) -> None:
    thick = {"lath": 0.5 * wide, "pipe": 0.0}.get(kind, 0.8 * wide)
    made = fitted(sides_of(kind, camera, SQUARE, wide, thick), camera, SQUARE)
    best = min(made, key=lambda m: m.cost)
    own = next(m for m in made if m.kind == kind)
    assert own.cost < best.cost + 2.0
    assert own.width_mm == pytest.approx(wide, rel=0.03)
    truth = camera.project(outline_mm(SQUARE))
    assert np.abs(own.corners - truth).max() < 0.002 * np.ptp(truth)
    if kind == "lath":
        assert own.height_mm == 0
    else:
        assert own.height_mm == pytest.approx(wide / 2, rel=0.03)


@pytest.mark.parametrize(("kind", "thick"), [("pipe", 0.0), ("lath", 20.0)])
def test_a_tilted_view_tells_a_tall_lath_from_a_pipe(kind: str, thick: float) -> None:
    camera = Camera(distance_mm=560, tilt_deg=15, azimuth_deg=40, turn_deg=10)
    made = fitted(sides_of(kind, camera, SQUARE, 25.0, thick), camera, SQUARE)
    better = better_as_lath(made)
    assert better > 5 if kind == "lath" else better < -0.5


def test_a_rectangle_and_a_hidden_side() -> None:
    area = RectArea(254, 508)
    camera = Camera(distance_mm=1000, tilt_deg=10, azimuth_deg=200)
    sides = sides_of("pipe", camera, area, 21.3, 0.0)
    nothing = sides[1].inner[:0]
    sides[1] = Side(
        sides[1].line, 0.0, 1.0, 1.0, math.inf, nothing, math.nan, nothing, nothing
    )
    made = fitted(sides, camera, area)
    truth = camera.project(outline_mm(area))
    assert np.abs(made[0].corners - truth).max() < 0.002 * np.ptp(truth)


def test_the_few_places_that_leaves_leave_of_a_side_say_how_far_off_it_lies() -> None:
    """Three sides seen through a long lens, each read a little off, hardly do."""
    camera = Camera(focal_px=3000, distance_mm=1600, tilt_deg=20, azimuth_deg=15, turn_deg=15)
    truth = camera.project(outline_mm(SQUARE))
    sides = sides_of("pipe", camera, SQUARE, 15.0, 0.0)
    # two sides read as if they ran together, by five pixels at either end
    askew = np.linspace(-5, 5, 60)
    sides[1], sides[3] = moved(sides[1], askew, both=True), moved(sides[3], -askew, both=True)
    few, line = slice(40, 48), sides[2].line
    places = sides[2].inner[few], sides[2].outer[few]

    def with_hidden(inner: np.ndarray, outer: np.ndarray) -> float:
        hidden = Side(line, 0.1, 0.9, 1.0, 0.5, inner, 25.0, inner, outer)
        assert hidden.state == "hidden"
        pipe = fitted([*sides[:2], hidden, sides[3]], camera, SQUARE)[0]
        return iou(pipe.corners, truth)

    nothing = sides[2].inner[:0]
    assert with_hidden(nothing, nothing) < 0.98 < with_hidden(*places)


def test_an_inner_face_that_was_read_in_part_only() -> None:
    camera = Camera(distance_mm=600, tilt_deg=12, azimuth_deg=30)
    sides = sides_of("lath", camera, SQUARE, 24.0, 20.0, upper=0.5)
    lath = fitted(sides, camera, SQUARE)[-1]
    truth = camera.project(outline_mm(SQUARE))
    # lines through half of each edge would be off by about half of what the face takes up
    taken = camera.project(np.column_stack([outline_mm(SQUARE), np.full(4, 20.0)]))
    assert iou(lath.corners, truth) > 0.995 > iou(taken, truth)


def along_a_shadow(side: Side) -> Side:
    """The side with its inner edge read up to 14 px too far inside."""
    off = side.inner + np.linspace(0, 14, 60)[:, None] * side.line.normal
    line = fit_line(off)
    return Side(
        line.facing_away_from(side.inner.mean(0) - 50 * side.line.normal),
        1.0, 0.0, 1.0, 1.0, off, side.width_px, off, side.outer,
    )


def test_a_side_read_along_a_shadow_is_outvoted() -> None:
    camera = Camera(distance_mm=600, tilt_deg=8, azimuth_deg=100)
    sides = sides_of("pipe", camera, SQUARE, 21.3, 0.0)
    sides[2] = along_a_shadow(sides[2])
    truth = camera.project(outline_mm(SQUARE))
    alone = corner_ring([side.line for side in sides])
    pipe = fitted(sides, camera, SQUARE)[0]
    assert iou(pipe.corners, truth) > 0.98
    shape, _ = fit_shape(round_from_lower_left(alone), _picture(camera), SQUARE)
    assert 1 - iou(pipe.corners, truth) < 0.6 * (1 - iou(shape, truth))


def moved(side: Side, px: np.ndarray, *, both: bool = False) -> Side:
    """The side with each place of its inner edge, or of both, moved so many px (60,) outwards."""
    out = px[:, None] * side.line.normal
    return replace(side, inner=side.inner + out, outer=side.outer + out * both)


def test_one_side_along_a_shadow_is_no_reason_to_doubt_and_ragged_sides_are() -> None:
    camera = Camera(distance_mm=600, tilt_deg=8, azimuth_deg=100)
    sides = sides_of("pipe", camera, SQUARE, 21.3, 0.0)
    shadow = [*sides[:2], moved(sides[2], np.full(60, -15.0)), sides[3]]
    pipe = fitted(shadow, camera, SQUARE)[0]
    assert iou(pipe.corners, camera.project(outline_mm(SQUARE))) > 0.99
    assert pipe.residual_px < 1.0
    rng = np.random.default_rng(1)
    ragged = [moved(side, rng.normal(0, 6, 60)) for side in sides]
    assert fitted(ragged, camera, SQUARE)[0].residual_px > 4.0


def _picture(camera: Camera):
    return picture_of(np.zeros((camera.height, camera.width, 3), np.uint8), camera.focal_px)


def test_chances_add_up_and_say_how_unsure_the_area_is() -> None:
    camera = Camera(distance_mm=400)
    made = fitted(sides_of("pipe", camera, SQUARE, 24.0, 0.0), camera, SQUARE)
    for flat in (0.0, 0.3, 1.0):
        chance = likelihoods(made, flat)
        assert chance.sum() == pytest.approx(1)
        assert chance[KINDS.index("lath")] == pytest.approx(flat)
    sure = area_unsure(made[-1:], np.ones(1), np.ones(1))
    assert sure == 0
    # straight from above a lath as wide looks the same: twelve mm up or none is about 6 % of area
    two, even = [made[0], made[-1]], np.array([0.5, 0.5])
    half = area_unsure(two, even, even)
    assert 0.02 < half < 0.04
    # the error is that of the outline that is taken, not of a mean that isn't
    assert area_unsure(two, even, np.array([1.0, 0.0])) > 1.3 * half


@pytest.mark.parametrize("flat", [0.1, 0.2, 0.3, 0.4, 0.6, 0.75, 0.9])
def test_the_outline_taken_lies_near_the_median_of_what_may_be(flat: float) -> None:
    # 0 the pipe's outline, 1 the lath's, either off by a quarter of their distance by itself
    rng = np.random.default_rng(0)
    lath = rng.random(200_000) < flat
    median = float(np.median(lath + rng.normal(0, 0.25, len(lath))))
    assert leaning(flat) == pytest.approx(median, abs=0.08)
    assert leaning(1 - flat) == pytest.approx(1 - leaning(flat))


def test_what_is_likelier_weighs_more_than_its_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    painted = paint(SQUARE, Camera(distance_mm=500), Look(leaves=0), seed=1)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "quad")

    def area_if(flat: float) -> float:
        monkeypatch.setattr(build, "flat_chance", lambda shading, fits: flat)
        fit = find_in_maps(picture, maps, SQUARE)
        assert fit, fit
        x, y = fit.outline_px.T
        return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2

    pipe, lath = area_if(0.0), area_if(1.0)
    assert abs(lath / pipe - 1) > 0.02
    assert (area_if(0.2) - pipe) / (lath - pipe) < 0.1
    assert (area_if(0.8) - pipe) / (lath - pipe) > 0.9
