"""A hoop that was read askew, looked at again by where the picture takes a step."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea
from tillercount.frame.finder import Picture as Reduced
from tillercount.frame.finder import picture_of
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.misread import INTO
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import View, apply, homography, view_of
from tillercount.frame.ring import Ring
from tillercount.frame.secondlook import judged_ring, ring_by_steps

HOOP = HoopArea(343.9)
RADIUS = HOOP.diameter_mm / 2
CAMERA = Camera(distance_mm=640, tilt_deg=5)
TUBE_MM = 26.0
CIRCLE = outline_mm(HOOP, points=64)


@pytest.fixture(scope="module")
def dark_hose() -> Picture:
    look = Look(colour=(45, 45, 48), tube_mm=TUBE_MM, shadow=0.7, sun_deg=35, leaves=250)
    return paint(HOOP, CAMERA, look, seed=2)


def reduced(painted: Picture) -> Reduced:
    return picture_of(painted.rgb, painted.camera.focal_px)


def ring(wider: float = 1.0, width_mm: float = TUBE_MM, cost: float = 400.0) -> Ring:
    """A ring that is ``wider`` times as far out as the true one."""
    centre = ((CAMERA.width - 1) / 2, (CAMERA.height - 1) / 2)
    true = CAMERA.project(CIRCLE)
    middle = true.mean(0)
    view: View = view_of(
        homography(CIRCLE, middle + wider * (true - middle)), CAMERA.focal_px, centre
    )
    return Ring(view, width_mm, cost, 5.0)


def overlap(found: Ring) -> float:
    return iou(apply(found.view.plane_to_photo(), CIRCLE), CAMERA.project(CIRCLE))


def test_a_ring_read_within_the_pipe_comes_to_its_edges(dark_hose: Picture) -> None:
    askew = ring(1.022, 18.0)
    assert overlap(askew) < 0.965
    found = ring_by_steps(reduced(dark_hose), askew, RADIUS, INTO)
    assert found is not None
    assert overlap(found) > 0.985
    assert found.width_mm == pytest.approx(TUBE_MM, rel=0.1)


def test_where_no_hoop_lies_no_steps_show_one() -> None:
    """Straw, leaves and crumbs take steps everywhere, but not all around a ring."""
    for seed in range(4):
        look = Look(missing_arc=(0, 360), leaves=400, ground="crumbs", tube_mm=TUBE_MM)
        bare = paint(HOOP, CAMERA, look, seed=seed)
        assert ring_by_steps(reduced(bare), ring(), RADIUS, INTO) is None


def test_half_a_hoop_is_none() -> None:
    look = Look(colour=(45, 45, 48), missing_arc=(0, 200), leaves=100, tube_mm=TUBE_MM)
    half = paint(HOOP, CAMERA, look, seed=1)
    assert ring_by_steps(reduced(half), ring(), RADIUS, INTO) is None


def test_a_ring_mostly_outside_the_photo_is_none(dark_hose: Picture) -> None:
    photo = reduced(dark_hose)
    far = replace(ring().view, origin_mm=np.array([0.0, 520.0, 640.0]))
    assert ring_by_steps(photo, replace(ring(), view=far), RADIUS, INTO) is None


@pytest.mark.parametrize(
    ("doubt", "again"),
    [({"misfit": 0.2}, True), ({"residual": 0.3}, True), ({"seen": 0.3}, False),
     ({"misfit": 0.9}, False)],
)
def test_only_doubt_about_edges_is_looked_at_again(
    dark_hose: Picture, doubt: dict[str, float], again: bool
) -> None:
    first = ring(1.022, 18.0)
    edges = CAMERA.project(CIRCLE), CAMERA.project(CIRCLE * 1.1)
    hoop = HoopFit(np.eye(3), 30.0, *edges, np.ones(len(CIRCLE)), {})

    def doubts_of_it(one: Ring) -> dict[str, float]:
        """As told for the first ring, and none for another."""
        return doubt | {"presence": 1.0} if one is first else {"presence": 1.0}

    found, doubts = judged_ring(reduced(dark_hose), hoop, first, RADIUS, doubts_of_it)
    assert (found is not first) == again
    assert (math.prod(doubts.values()) == 1.0) == again
