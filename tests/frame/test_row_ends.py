"""Ends of a stick that another thing hides, and ends that are seen."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, paint

from tillercount.area import RowArea
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.rowends import LEAST_BEYOND

ROW = RowArea(487.7, 190.5)
CAMERA = Camera(distance_mm=900, turn_deg=15)
LOOK = Look(tube_mm=20, leaves=700, leaf_over=0.3)


def found_in(painted: Picture) -> FrameFit | FrameNotFound:
    picture = picture_of(painted.rgb, CAMERA.focal_px)
    maps = truth_maps(picture, painted.classes, painted.outline_px, "row", wrong=0.3)
    return find_in_maps(picture, maps, ROW)


def covered(painted: Picture, end: int, box_mm: tuple[float, float, float, float]) -> Picture:
    """The picture with a blue thing on it: from and to along the stick's line, beyond the end, and
    from and to across it, mm."""
    here, there = painted.stick_px[end], painted.stick_px[1 - end]
    along = (here - there) / ROW.length_mm
    across = np.array([-along[1], along[0]])
    low, high, left, right = box_mm
    corners = [here + a * along + b * across for a, b in
               ((low, left), (high, left), (high, right), (low, right))]
    over = np.zeros(painted.classes.shape, np.uint8)
    cv2.fillPoly(over, [np.round(corners).astype(np.int32)], 1)
    grain = np.random.default_rng(1).normal(0, 4, (*over.shape, 3))
    rgb = painted.rgb.copy()
    rgb[over > 0] = (np.array([50, 60, 120]) + grain)[over > 0].clip(0, 255)
    return replace(painted, rgb=rgb, classes=np.where(over > 0, 0, painted.classes))


@pytest.mark.parametrize("seed", [2, 3])
@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("hidden_mm", [0, 20])
def test_an_end_under_a_board_or_against_it_is_not_seen(
    seed: int, end: int, hidden_mm: float
) -> None:
    painted = paint(ROW, CAMERA, LOOK, seed=seed)
    fit = found_in(covered(painted, end, (-hidden_mm, 90, -120, 150)))
    assert not fit
    assert "under another thing" in fit.reason
    assert "--corners" in fit.todo
    assert fit.evidence["beyond_ends"] < LEAST_BEYOND / 2


@pytest.mark.parametrize("seed", [2, 3])
def test_ground_goes_on_beyond_an_end_that_is_seen(seed: int) -> None:
    painted = paint(ROW, CAMERA, LOOK, seed=seed)
    # a straw at one end, and a board that lies well beyond the other
    straw = covered(painted, 0, (2, 60, -5, 5))
    fit = found_in(covered(straw, 1, (45, 105, -120, 150)))
    assert fit, fit
    assert fit.evidence["beyond_ends"] > LEAST_BEYOND
