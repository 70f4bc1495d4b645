"""A tall lath's inner faces: the outline lies at their foot, also where they can't be told."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import SquareArea
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of

SQUARE = SquareArea(304.8)
WIDE, TALL = 30.0, 21.0
GROUND, TOP = (140, 115, 92), (236, 234, 228)


def lath(camera: Camera, face: tuple[int, int, int], seed: int = 0) -> Picture:
    """A square of square laths; ``face`` the colour of its inner faces."""
    painted = paint(None, camera, Look(leaves=0), seed=seed)
    half = SQUARE.side_mm / 2
    ring = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])

    def px(out_mm: float, high_mm: float) -> np.ndarray:
        corners = np.column_stack([ring * out_mm, np.full(4, high_mm)])
        return camera.project(corners)

    def filled(image: np.ndarray, corners: np.ndarray, colour) -> None:
        cv2.fillPoly(image, [np.round(corners * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)

    rgb = painted.rgb.copy()
    rng = np.random.default_rng(seed)
    filled(rgb, px(half + WIDE, TALL), TOP)
    foot, upper = px(half, 0), px(half, TALL)
    filled(rgb, upper, face)
    inside = np.zeros(rgb.shape[:2], np.uint8)
    filled(inside, foot, 255)
    share = inside[..., None] / 255.0
    rgb = rgb * (1 - share) + painted.rgb * share
    rgb = np.clip(rgb + rng.normal(0, 4, rgb.shape), 0, 255).astype(np.uint8)
    classes = np.zeros(rgb.shape[:2], np.uint8)
    filled(classes, px(half + WIDE, TALL), 4)
    filled(classes, upper, 0)
    plane = camera.matrix()[:, [0, 1, 3]]
    return Picture(rgb, foot, upper, np.zeros((0, 2)), plane, classes, camera, SQUARE)


@pytest.mark.parametrize("turn", [10.0, 35.0])
def test_faces_in_the_dark(turn: float) -> None:
    painted = lath(Camera(distance_mm=640, turn_deg=turn), (70, 58, 48))
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "quad", wrong=0.3)
    fit = find_in_maps(picture, maps, SQUARE)
    assert fit, fit
    assert fit.evidence["flat"] > 0.6
    # the upper edge alone would be 3 % of the area too large
    assert iou(painted.inside_edge_px, painted.outline_px) < 0.95
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_faces_as_light_as_the_top_stay_where_they_were_read() -> None:
    """There the inside edge that is seen is the foot, and nothing lies below it."""
    painted = lath(Camera(distance_mm=640, turn_deg=10), (206, 204, 198))
    cv2.fillPoly(
        painted.classes, [np.round(painted.inside_edge_px).astype(np.int32)], 4, cv2.LINE_8
    )
    foot = np.round(painted.outline_px).astype(np.int32)
    cv2.fillPoly(painted.classes, [foot], 0, cv2.LINE_8)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.outline_px, "quad", wrong=0.3)
    fit = find_in_maps(picture, maps, SQUARE)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98
