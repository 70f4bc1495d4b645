"""Homographies, poses and the step from the seen edge to the ground."""

from __future__ import annotations

import math

import numpy as np
import pytest
from frame.painter import Camera
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.area import SquareArea
from tillercount.frame.height import camera_mm, pipe_of
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply, homography, mm_per_px, view_of

CORNERS = outline_mm(SquareArea(304.8))

cameras = st.builds(
    Camera,
    distance_mm=st.floats(450, 1500),
    focal_px=st.floats(700, 1600),
    tilt_deg=st.floats(0, 25),
    azimuth_deg=st.floats(0, 360),
    turn_deg=st.floats(0, 360),
    aim_mm=st.tuples(st.floats(-60, 60), st.floats(-60, 60)),
)


def view_from(camera: Camera, focal_share: float = 1.0, height_mm: float = 0.0):
    points = np.column_stack([CORNERS, np.full(4, height_mm)])
    centre = ((camera.width - 1) / 2, (camera.height - 1) / 2)
    matrix = homography(CORNERS, camera.project(points))
    return view_of(matrix, camera.focal_px * focal_share, centre)


@given(cameras)
@settings(max_examples=60, deadline=None)
def test_homography_is_exact_and_goes_both_ways(camera: Camera) -> None:
    matrix = homography(CORNERS, camera.project(CORNERS))
    ground = np.array([[12.0, -80.0], [151.0, 7.0], [-30.0, 60.0]])
    np.testing.assert_allclose(apply(matrix, ground), camera.project(ground), atol=1e-6)
    back = homography(camera.project(CORNERS), CORNERS)
    np.testing.assert_allclose(apply(back, camera.project(ground)), ground, atol=1e-6)


@given(cameras)
@settings(max_examples=60, deadline=None)
def test_pose_is_the_camera_s(camera: Camera) -> None:
    view = view_from(camera)
    assert view.tilt_deg == pytest.approx(camera.tilt_deg, abs=1e-3)
    assert view.stretch == pytest.approx(1, abs=1e-6)
    assert view.skew_deg == pytest.approx(0, abs=1e-4)
    m = camera.matrix()
    position = -np.linalg.solve(m[:, :3], m[:, 3])
    np.testing.assert_allclose(camera_mm(view), position, atol=1e-3)


@given(cameras, st.floats(0, 40))
@settings(max_examples=60, deadline=None)
def test_lowering_the_plane_is_exact(camera: Camera, height: float) -> None:
    view = view_from(camera, height_mm=height).lower(height)
    np.testing.assert_allclose(
        apply(view.plane_to_photo(), CORNERS), camera.project(CORNERS), atol=1e-4
    )


@given(cameras, st.sampled_from([0.8, 1.2]))
@settings(max_examples=60, deadline=None)
def test_a_wrong_focal_length_moves_the_outline_little(camera: Camera, share: float) -> None:
    # the step down is the pipe's radius over the distance; a fifth of it is what goes wrong
    height = 6.0
    right = view_from(camera, height_mm=height).lower(height)
    wrong = view_from(camera, share, height_mm=height).lower(height)

    def size(view) -> float:
        x, y = apply(view.plane_to_photo(), CORNERS).T
        return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2

    off = abs(size(wrong) / size(right) - 1)
    assert off < 2.5 * height / camera.distance_mm * 0.25 + 5e-4
    if camera.distance_mm > 800:
        assert off < 0.005


def test_scale_at_the_middle() -> None:
    camera = Camera(distance_mm=800, focal_px=1000)
    matrix = homography(CORNERS, camera.project(CORNERS))
    assert mm_per_px(matrix) == pytest.approx(0.8, rel=1e-3)


def test_width_of_the_pipe() -> None:
    camera = Camera(distance_mm=600)
    view = view_from(camera, height_mm=10)
    seen = 2 * 10 * math.hypot(1, 152.4 / 590) / mm_per_px(view.plane_to_photo())
    pipe = pipe_of(view, seen, 152.4)
    assert pipe.width_mm == pytest.approx(20, rel=1e-3)
    assert pipe.height_mm == pytest.approx(10, rel=1e-3)
    assert math.isnan(pipe_of(view, float("nan"), 152.4).width_mm)
