"""A lath whose inner faces lie in the dark on some sides, or on all: its edges say so by themselves
where nothing of its foot can be seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frame.painter import Camera, iou
from frame.test_faces import GROUND, TALL, WIDE, lath
from frame.test_joint import SQUARE, fitted, sides_of

from tillercount.frame.finder import picture_of
from tillercount.frame.joint import fit_made
from tillercount.frame.lines import fit_line
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.partly import THICKEST
from tillercount.frame.projection import homography, view_of
from tillercount.frame.side import Side

CAMERA = Camera(distance_mm=420, focal_px=870, tilt_deg=12, azimuth_deg=70, turn_deg=20)
TRUTH = CAMERA.project(outline_mm(SQUARE))


def read(dark: tuple[int, ...]) -> list[Side]:
    """Sides of which these were read at the top, with a little noise."""
    rng = np.random.default_rng(1)
    foot = sides_of("lath", CAMERA, SQUARE, WIDE, TALL)
    top = sides_of("lath", CAMERA, SQUARE, WIDE, TALL, upper=1.0)
    middle = CAMERA.project(np.zeros((1, 2)))[0]
    sides = []
    for i in range(4):
        side = top[i] if i in dark else foot[i]
        inner, outer = (e + rng.normal(0, 0.5, e.shape) for e in (side.inner, side.outer))
        line = fit_line(inner).facing_away_from(middle)
        sides.append(replace(side, line=line, inner=inner, outer=outer, points=inner))
    return sides


@pytest.mark.parametrize("dark", [(0, 1), (1, 2), (2, 3), (3, 0), (0,), (3,)])
def test_some_faces_in_the_dark(dark: tuple[int, ...]) -> None:
    made = fitted(read(dark), CAMERA, SQUARE)[-1]
    assert made.kind == "lath"
    assert iou(made.corners, TRUTH) > 0.993
    assert made.width_mm == pytest.approx(WIDE, rel=0.05)
    assert made.misfit < 0.35


def test_a_lath_that_fits_as_it_was_read_stays() -> None:
    made = fitted(read(()), CAMERA, SQUARE)[-1]
    assert TALL / WIDE < THICKEST
    assert iou(made.corners, TRUTH) > 0.99


def test_all_faces_in_the_dark_and_no_foot_to_be_seen() -> None:
    """On the ground the same edges would need a lath as thin as paper."""
    sides = read((0, 1, 2, 3))
    painted = lath(CAMERA, GROUND)
    picture = picture_of(painted.rgb, CAMERA.focal_px)
    centre = ((CAMERA.width - 1) / 2, (CAMERA.height - 1) / 2)
    view = view_of(homography(outline_mm(SQUARE), TRUTH), CAMERA.focal_px, centre)
    made = fit_made(sides, TRUTH, view, size_mm(SQUARE), 50.0, picture=picture)
    assert iou(made[-1].corners, TRUTH) > 0.96
