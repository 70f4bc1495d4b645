"""Fitting against exact projections, with the maps of a finder that is a little wrong."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.result import FrameFit, FrameNotFound

SQUARE = SquareArea(304.8)
KIND = {"square": "quad", "rect": "quad", "hoop": "hoop", "row": "row"}


def found(
    painted: Picture, area=None, focal_share: float = 1.0, wrong: float = 0.5, flat: float = 0.0
) -> FrameFit | FrameNotFound:
    picture = picture_of(painted.rgb, painted.camera.focal_px * focal_share)
    kind = KIND[painted.area.kind]
    inside = painted.outline_px if kind == "row" else painted.inside_edge_px
    maps = truth_maps(picture, painted.classes, inside, kind, wrong=wrong, flat=flat)
    return find_in_maps(picture, maps, area or painted.area)


@pytest.mark.parametrize("tilt", [0, 8, 17, 25])
@pytest.mark.parametrize(
    ("area", "distance"),
    [(SQUARE, 560), (RectArea(254, 508), 900), (HoopArea(343.9), 640)],
    ids=["square", "rect", "hoop"],
)
def test_outline_at_any_tilt(area, distance: float, tilt: float) -> None:
    camera = Camera(distance_mm=distance, tilt_deg=tilt, azimuth_deg=70, turn_deg=25)
    painted = paint(area, camera, Look(), seed=tilt)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98
    assert fit.tube_mm == pytest.approx(21.3, rel=0.12)
    assert fit.confidence > 0.8
    if area.kind != "hoop":
        assert fit.tilt_deg == pytest.approx(tilt, abs=1.0)


@pytest.mark.parametrize("colour", [(235, 235, 230), (240, 190, 40), (60, 90, 200), (70, 50, 35)])
@pytest.mark.parametrize("ground", ["gravel", "grass", "crumbs"])
def test_any_colour_on_any_ground(colour: tuple[int, int, int], ground: str) -> None:
    look = Look(colour=colour, ground=ground, shadow=0.75, sun_deg=25, sun_azimuth_deg=200)
    camera = Camera(distance_mm=600, tilt_deg=6, turn_deg=12)
    painted = paint(SQUARE, camera, look, seed=3)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_deep_shadow_beside_the_pipe_is_not_the_pipe() -> None:
    look = Look(colour=(120, 110, 100), shadow=0.85, sun_deg=18, sun_azimuth_deg=45, leaves=0)
    painted = paint(HoopArea(343.9), Camera(distance_mm=640), look, seed=1)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.985


def test_leaves_across_the_frame() -> None:
    painted = paint(SQUARE, Camera(distance_mm=600), Look(leaves=700, leaf_over=1.0), seed=5)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_hidden_corner_does_not_matter() -> None:
    look = Look(heap=((165, 165, 50),))
    painted = paint(SQUARE, Camera(distance_mm=620, tilt_deg=9), look, seed=2)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


@pytest.mark.parametrize(("turn", "distance"), [(30, 370), (45, 330)])
def test_corners_just_outside_the_photo(turn: float, distance: float) -> None:
    camera = Camera(distance_mm=distance, turn_deg=turn, tilt_deg=5)
    painted = paint(SQUARE, camera, Look(tube_mm=12), seed=4)
    corners = painted.outline_px
    outside = ((corners < 0) | (corners > [camera.width - 1, camera.height - 1])).any(1)
    assert outside.any()
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, corners) > 0.98


def test_one_side_outside_the_photo_is_completed_and_said() -> None:
    camera = Camera(distance_mm=520, aim_mm=(140.0, 0.0))
    painted = paint(SQUARE, camera, Look(tube_mm=16), seed=6)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.95
    assert fit.evidence["missing_share"] > 0.1


def test_a_side_that_came_off_is_refused() -> None:
    for side in range(4):
        look = Look(missing_side=side, leaves=60)
        painted = paint(SQUARE, Camera(distance_mm=620, turn_deg=20), look, seed=side)
        fit = found(painted)
        assert not fit
        assert "isn't there" in fit.reason


@pytest.mark.parametrize("end_deg", [110, 130])
def test_a_hoop_with_a_gap_is_refused(end_deg: float) -> None:
    look = Look(missing_arc=(20, end_deg), leaves=40)
    fit = found(paint(HoopArea(343.9), Camera(distance_mm=650), look, seed=1))
    assert not fit
    assert "part of the hoop isn't there" in fit.reason


def test_two_sides_under_leaves_are_refused() -> None:
    along = np.linspace(-160, 160, 9)
    heap = tuple((float(t), 165.0, 55.0) for t in along) + tuple(
        (165.0, float(t), 55.0) for t in along
    )
    painted = paint(SQUARE, Camera(distance_mm=640), Look(heap=heap), seed=8)
    fit = found(painted)
    assert not fit
    assert "hidden by leaves" in fit.reason
    assert "--corners" in fit.todo


def test_size_that_contradicts_the_picture() -> None:
    square = paint(SQUARE, Camera(distance_mm=620), Look(), seed=1)
    fit = found(square, RectArea(254, 508))
    assert not fit
    assert "as long as wide" in fit.reason
    long = paint(RectArea(254, 508), Camera(distance_mm=900), Look(), seed=1)
    fit = found(long, SQUARE)
    assert not fit
    assert "--area" in fit.reason
    fit = found(square, HoopArea(343.9))
    assert not fit
    assert "a square or rectangle" in fit.reason


def test_rectangle_lies_either_way_round() -> None:
    for area in (RectArea(254, 508), RectArea(508, 254)):
        painted = paint(RectArea(254, 508), Camera(distance_mm=900, turn_deg=30), Look(), seed=1)
        fit = found(painted, area)
        assert fit, fit
        assert iou(fit.outline_px, painted.outline_px) > 0.98


@pytest.mark.parametrize(("area", "distance"), [(SQUARE, 700), (HoopArea(343.9), 700)])
def test_focal_length_hardly_matters(area, distance: float) -> None:
    camera = Camera(distance_mm=distance, focal_px=1000, tilt_deg=10, azimuth_deg=30)
    painted = paint(area, camera, Look(tube_mm=16), seed=9)
    sizes = []
    for share in (0.8, 1.0, 1.2):
        fit = found(painted, focal_share=share)
        assert fit, fit
        x, y = fit.outline_px.T
        sizes.append(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)
    assert abs(sizes[0] / sizes[1] - 1) < 0.008
    assert abs(sizes[2] / sizes[1] - 1) < 0.005


def test_height_of_the_pipe_is_taken_out() -> None:
    painted = paint(SQUARE, Camera(distance_mm=560), Look(tube_mm=33.4), seed=1)
    assert iou(painted.inside_edge_px, painted.outline_px) < 0.95
    fit = found(painted)
    assert fit
    assert iou(fit.outline_px, painted.outline_px) > 0.985


@pytest.mark.parametrize("sun_deg", [25, 40, 65])
def test_a_round_pipe_is_not_taken_for_a_lath(sun_deg: float) -> None:
    camera = Camera(distance_mm=560, tilt_deg=6, azimuth_deg=50)
    painted = paint(SQUARE, camera, Look(tube_mm=26.7, sun_deg=sun_deg), seed=1)
    # what the finder thinks of it makes no difference
    fit, same = found(painted), found(painted, flat=1.0)
    assert fit
    assert same
    assert fit.evidence["flat"] < 0.3
    assert iou(fit.outline_px, painted.outline_px) > iou(fit.outline_px, painted.inside_edge_px)
    np.testing.assert_array_equal(fit.outline_px, same.outline_px)


def test_twin_pose_of_a_hoop_by_the_outer_edge() -> None:
    camera = Camera(distance_mm=640, tilt_deg=20, azimuth_deg=110, turn_deg=-30)
    fit = found(paint(HoopArea(343.9), camera, Look(tube_mm=26.7), seed=2))
    assert fit
    assert fit.evidence["tilt_known"]
    assert fit.tilt_deg == pytest.approx(20, abs=2.5)


def test_ground_coordinates_agree_with_the_camera() -> None:
    camera = Camera(distance_mm=620, tilt_deg=14, azimuth_deg=200, turn_deg=15)
    painted = paint(SQUARE, camera, Look(), seed=7)
    fit = found(painted)
    assert fit
    rng = np.random.default_rng(1)
    truth = rng.uniform(-140, 140, (40, 2))
    px = np.column_stack([camera.project(truth), np.ones(40)]) @ fit.to_ground.T
    here = px[:, :2] / px[:, 2:]
    # any quarter turn is as good as another
    away = min(
        float(np.abs(here - truth @ np.array([[c, -s], [s, c]])).max())
        for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))
    )
    assert away < 2.0
    assert 1 / fit.mm_per_px == pytest.approx(camera.focal_px / camera.distance_mm, rel=0.03)


@pytest.mark.parametrize("turn", [0, 20, -75])
def test_row_stick(turn: float) -> None:
    area = RowArea(487.7, 190.5)
    camera = Camera(distance_mm=720, turn_deg=turn)
    rows = replace(Look(tube_mm=16), leaves=500, leaf_over=0.3)
    if abs(turn) > 60:
        camera = replace(camera, distance_mm=960)
    painted = paint(area, camera, rows, seed=2)
    fit = found(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.88
    assert math.isnan(fit.tilt_deg)
    ends = np.array(fit.evidence["ends_px"])
    truth = painted.stick_px
    off = min(np.abs(ends - truth).max(), np.abs(ends[::-1] - truth).max())
    assert off < 0.01 * np.linalg.norm(truth[1] - truth[0])


def test_row_stick_with_an_end_outside() -> None:
    camera = Camera(distance_mm=520, aim_mm=(120.0, 0.0))
    fit = found(paint(RowArea(487.7, 190.5), camera, Look(leaves=400), seed=2))
    assert not fit
    assert "end of the stick" in fit.reason


def test_same_photo_same_answer() -> None:
    painted = paint(SQUARE, Camera(distance_mm=620, tilt_deg=4), Look(), seed=11)
    first, second = found(painted), found(painted)
    assert first
    assert second
    np.testing.assert_array_equal(first.outline_px, second.outline_px)
