"""Both edges of a hoop at once, against edges of a torus that are exact."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from frame.painter import Camera, iou
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.area import HoopArea
from tillercount.frame.ellipse import fit_ellipse
from tillercount.frame.finder import picture_of
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.hoopview import ring_of_hoop, stretched_view
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply
from tillercount.frame.ring import Ring

HOOP = HoopArea(343.9)
RADIUS = HOOP.diameter_mm / 2


def edges_of(camera: Camera, width: float, n: int = 160) -> tuple[np.ndarray, np.ndarray]:
    """Where the camera's rays graze a torus that lies on the ground, px (N, 2), (N, 2)."""
    m = camera.matrix()
    place = -np.linalg.solve(m[:, :3], m[:, 3])
    r = width / 2
    turn = 2 * np.pi * np.arange(n) / n
    out = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(n)])
    centre = out * (RADIUS + r) + [0, 0, r]
    # the surface is seen edge on where its normal is square to the ray
    away = place - centre
    a, b = (away * out).sum(1), away[:, 2]
    half = np.arccos(r / np.hypot(a, b))
    edges = []
    for sign in (1, -1):
        t = np.arctan2(b, a) + sign * half
        edges.append(centre + r * (np.cos(t)[:, None] * out + np.sin(t)[:, None] * [0, 0, 1]))
    one, other = edges
    far = [np.linalg.norm(edge[:, :2], axis=1).mean() for edge in edges]
    inner, outer = (one, other) if far[0] < far[1] else (other, one)
    return camera.project(inner), camera.project(outer)


def fitted(
    inner: np.ndarray, outer: np.ndarray, camera: Camera
) -> tuple[Ring, HoopFit, dict[str, object]]:
    width_px = float(np.median(np.linalg.norm(outer - inner, axis=1)))
    conic = fit_ellipse(inner)
    assert conic is not None
    evidence: dict[str, object] = {}
    hoop = HoopFit(conic, width_px, inner, outer, np.ones(len(inner)), evidence)
    return ring_of_hoop(hoop, RADIUS, picture(camera), evidence), hoop, evidence


def picture(camera: Camera):
    return picture_of(np.zeros((camera.height, camera.width, 3), np.uint8), camera.focal_px)


def overlap(ring: Ring, camera: Camera) -> float:
    circle = outline_mm(HOOP, points=64)
    return iou(apply(ring.view.plane_to_photo(), circle), camera.project(circle))


@given(
    camera=st.builds(
        Camera,
        distance_mm=st.floats(450, 1300),
        tilt_deg=st.floats(0, 24),
        azimuth_deg=st.floats(0, 360),
        turn_deg=st.floats(0, 360),
    ),
    width=st.floats(6, 30),
)
@settings(max_examples=30, deadline=None)
def test_exact_edges_give_the_hoop(camera: Camera, width: float) -> None:
    ring, _, _ = fitted(*edges_of(camera, width), camera)
    assert overlap(ring, camera) > 0.997
    assert ring.width_mm == pytest.approx(width, rel=0.03)
    assert ring.view.tilt_deg == pytest.approx(camera.tilt_deg, abs=1.0)


@pytest.mark.parametrize("azimuth", [0, 70, 200])
def test_the_outer_edge_puts_right_an_inner_edge_read_along_a_shadow(azimuth: float) -> None:
    camera = Camera(distance_mm=640, tilt_deg=3, azimuth_deg=azimuth)
    inner, outer = edges_of(camera, 24.0)
    middle = inner.mean(0)
    dark = slice(20, 70)
    inner[dark] += 0.06 * (inner[dark] - middle)
    ring, hoop, _ = fitted(inner, outer, camera)
    flat = stretched_view(hoop.conic, RADIUS, picture(camera)).lower(12.0)
    alone = overlap(replace(ring, view=flat), camera)
    assert overlap(ring, camera) > 0.995
    assert alone < 0.97


@pytest.mark.parametrize("azimuth", [10, 130, 250])
def test_of_two_poses_the_right_one_is_taken(azimuth: float) -> None:
    camera = Camera(distance_mm=640, tilt_deg=18, azimuth_deg=azimuth)
    ring, _, evidence = fitted(*edges_of(camera, 24.0), camera)
    assert evidence["tilt_known"]
    k = np.array(
        [
            [camera.focal_px, 0, (camera.width - 1) / 2],
            [0, camera.focal_px, (camera.height - 1) / 2],
            [0, 0, 1],
        ]
    )
    truth = np.linalg.solve(k, camera.matrix()[:, :3])[:, 2]
    assert math.degrees(math.acos(min(1.0, float(ring.view.up @ truth)))) < 2.0


def test_a_wire_seen_from_far_leaves_the_pose_open() -> None:
    camera = Camera(distance_mm=2500, focal_px=3000, tilt_deg=14)
    _, _, evidence = fitted(*edges_of(camera, 3.0), camera)
    assert not evidence["tilt_known"]
    assert len(evidence["possible_tilts_deg"]) == 2
