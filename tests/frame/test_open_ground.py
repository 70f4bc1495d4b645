"""Hoops that gape in plain view, whatever the ground's colours and however much leaves hide."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea
from tillercount.frame import openground
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.hoopjudge import LARGEST_GROUND_GAP_DEG
from tillercount.frame.result import FrameFit, FrameNotFound

HOOP = HoopArea(343.9)
CAMERA = Camera(distance_mm=640, tilt_deg=4)
YELLOW = Look(tint=(0.75, 0.5, 0.02), colour=(90, 225, 100), leaves=60)
LEAFY = Look(leaves=600)


def found_in(painted: Picture) -> FrameFit | FrameNotFound:
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "hoop", wrong=0.2)
    return find_in_maps(picture, maps, HOOP)


@pytest.mark.parametrize("look", [YELLOW, LEAFY])
@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("arc", [(20, 75), (200, 264)])
def test_a_gap_in_plain_view_is_a_gap(
    look: Look, seed: int, arc: tuple[float, float]
) -> None:
    """Yellow soil is as green as leaves, and leaves over the rest say nothing of the gap."""
    closed = paint(HOOP, CAMERA, look, seed=seed)
    fit = found_in(closed)
    assert fit, fit
    assert iou(fit.outline_px, closed.outline_px) > 0.98
    assert fit.evidence["ground_gap_deg"] < 15
    fit = found_in(paint(HOOP, CAMERA, replace(look, missing_arc=arc), seed=seed))
    assert not fit
    assert "isn't there" in fit.reason
    assert LARGEST_GROUND_GAP_DEG < fit.evidence["ground_gap_deg"] < arc[1] - arc[0] + 5


@pytest.mark.parametrize("seed", [1, 2])
def test_another_hose_across_a_gap_does_not_close_it(seed: int) -> None:
    painted = paint(HOOP, CAMERA, replace(LEAFY, missing_arc=(20, 84)), seed=seed)
    at = [CAMERA.project(np.array([[r * np.cos(0.9), r * np.sin(0.9)]]))[0] for r in (110, 260)]
    rgb = painted.rgb.copy()
    ends = [tuple(int(v) for v in end) for end in at]
    cv2.line(rgb, ends[0], ends[1], (60, 70, 200), 24, cv2.LINE_AA)
    fit = found_in(replace(painted, rgb=rgb))
    assert not fit
    assert fit.evidence["ground_gap_deg"] > LARGEST_GROUND_GAP_DEG


def test_a_little_earth_on_the_pipe_is_no_gap() -> None:
    painted = paint(HOOP, CAMERA, replace(LEAFY, missing_arc=(20, 50)), seed=1)
    fit = found_in(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_a_boot_of_the_grounds_colour_is_no_ground(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is more even than ground is; a person who stands on the pipe opens no hoop."""
    painted = paint(HOOP, CAMERA, replace(LEAFY, leaves=900, leaf_over=0.8), seed=1)
    at = CAMERA.project(np.array([[0.0, 190.0]]))[0]
    boot = np.zeros(painted.rgb.shape[:2], np.uint8)
    cv2.ellipse(boot, tuple(int(v) for v in at), (80, 170), 0, 0, 360, 1, -1)
    rgb = painted.rgb.copy()
    grain = np.random.default_rng(0).normal(0, 4, (*boot.shape, 3))
    rgb[boot > 0] = (np.array([140, 115, 92]) + grain)[boot > 0].clip(0, 255)
    painted = replace(painted, rgb=rgb, classes=np.where(boot > 0, 0, painted.classes))
    fit = found_in(painted)
    assert fit, fit
    assert fit.evidence["bare_gap_deg"] > LARGEST_GROUND_GAP_DEG
    assert iou(fit.outline_px, painted.outline_px) > 0.98
    monkeypatch.setattr(openground, "_too_even", lambda *_: False)
    assert found_in(painted).evidence["ground_gap_deg"] > LARGEST_GROUND_GAP_DEG
