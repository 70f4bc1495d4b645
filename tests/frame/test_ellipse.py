"""Ellipses against known ones, and circles seen by a known camera."""

from __future__ import annotations

import numpy as np
import pytest
from frame.painter import Camera
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tillercount.frame.ellipse import (
    _conic,
    axes_of,
    circle_views,
    coverage,
    ellipse_points,
    fit_ellipse,
    ransac_ellipse,
    sampson,
)


def ellipse(a: float, b: float, turn: float, start: float = 0, stop: float = 360, n: int = 400):
    t = np.radians(np.linspace(start, stop, n, endpoint=stop - start < 360))
    c, s = np.cos(turn), np.sin(turn)
    local = np.column_stack([a * np.cos(t), b * np.sin(t)])
    return local @ np.array([[c, s], [-s, c]]) + [700, 500]


@given(st.floats(80, 900), st.floats(0.55, 1.0), st.floats(0, 3.1))
@settings(max_examples=60, deadline=None)
def test_exact_points_give_the_exact_ellipse(a: float, ratio: float, turn: float) -> None:
    points = ellipse(a, a * ratio, turn)
    conic = fit_ellipse(points)
    assert conic is not None
    assert axes_of(conic) == pytest.approx((a, a * ratio), rel=1e-5)
    assert np.abs(sampson(conic, points)).max() < 1e-3
    again, normals = ellipse_points(conic, 90)
    assert np.abs(sampson(conic, again)).max() < 1e-3
    assert (((again - [700, 500]) * normals).sum(1) > 0).all()


def test_half_an_ellipse_with_noise_is_enough() -> None:
    # 180 degrees, 2 px of noise on a radius of 900 px: the axes come out to a percent
    rng = np.random.default_rng(4)
    worst = 0.0
    for _ in range(20):
        points = ellipse(900, 880, 0.3, 0, 180) + rng.normal(0, 2, (400, 2))
        conic = fit_ellipse(points)
        assert conic is not None
        worst = max(
            worst, *(abs(v / w - 1) for v, w in zip(axes_of(conic), (900, 880), strict=True))
        )
    assert worst < 0.012


def test_stray_points_do_not_pull() -> None:
    rng = np.random.default_rng(5)
    points = ellipse(400, 370, 1.0) + rng.normal(0, 1, (400, 2))
    stray = rng.random(400) < 0.3
    points[stray] += rng.uniform(-80, 80, (int(stray.sum()), 2))
    conic = ransac_ellipse(points, tolerance_px=4, rng=rng)
    assert conic is not None
    conic = fit_ellipse(points, start=conic)
    assert conic is not None
    assert axes_of(conic) == pytest.approx((400, 370), rel=0.004)


def test_a_line_is_no_ellipse() -> None:
    points = np.column_stack([np.arange(50.0), 2 * np.arange(50.0)])
    assert fit_ellipse(points) is None
    assert fit_ellipse(points[:5]) is None
    assert ransac_ellipse(points[:8], tolerance_px=1, rng=np.random.default_rng(0)) is None


@pytest.mark.parametrize("third", [1.0, 1.0 + 4e-16, 1.0 + 1e-12])
def test_a_conic_that_only_rounding_makes_an_ellipse_is_none(third: float) -> None:
    # x² + 2xy + y² - 1 is two lines; a photo's rim was once read so, and its centre solved for
    assert _conic(np.array([1.0, 2.0, third, 0.0, 0.0, -1.0]), np.eye(3)) is None
    flat = _conic(np.array([1.0, 0.0, 2500.0, 0.0, 0.0, -1.0]), np.eye(3))
    assert flat is not None
    assert axes_of(flat) == pytest.approx((1.0, 0.02))


@given(
    st.floats(3, 25),
    st.floats(0, 360),
    st.floats(0, 360),
    st.floats(600, 1500),
    st.tuples(st.floats(-40, 40), st.floats(-40, 40)),
)
@settings(max_examples=60, deadline=None)
def test_one_of_the_two_poses_is_the_camera_s(tilt, azimuth, turn, distance, aim) -> None:
    camera = Camera(
        tilt_deg=tilt, azimuth_deg=azimuth, turn_deg=turn, distance_mm=distance, aim_mm=aim
    )
    radius = 172.0
    t = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    conic = fit_ellipse(camera.project(radius * np.column_stack([np.cos(t), np.sin(t)])))
    assert conic is not None
    longer, shorter = axes_of(conic)
    assume(longer / shorter > 1.0005)
    centre = ((camera.width - 1) / 2, (camera.height - 1) / 2)
    poses = circle_views(conic, radius, camera.focal_px, centre)
    assert len(poses) == 2
    k = np.array([[camera.focal_px, 0, centre[0]], [0, camera.focal_px, centre[1]], [0, 0, 1]])
    truth = np.linalg.solve(k, camera.matrix())
    off = [np.degrees(np.arccos(np.clip(up @ truth[:, 2], -1, 1))) for up, _ in poses]
    best = int(np.argmin(off))
    assert off[best] < 0.1
    assert np.abs(poses[best][1] - truth[:, 3]).max() < 0.5


def test_coverage() -> None:
    points = ellipse(100, 100, 0, 0, 180)
    assert coverage(points, np.array([700, 500])) == pytest.approx(0.5, abs=0.02)
    assert coverage(points[:0], np.array([700, 500])) == 0
