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
GROUND, TOP, WORN = (140, 115, 92), (236, 234, 228), (216, 212, 204)


def lath(
    camera: Camera,
    face: tuple[int, int, int],
    seed: int = 0,
    rim: tuple[int, int, int] = TOP,
) -> Picture:
    """A square of square laths; ``face`` the colour of its inner faces, ``rim`` of the innermost
    5 mm of three of its tops."""
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
    worn = ring * half + np.clip(ring, 0, 1) * 5 - [0, 5] * (ring < 0)
    filled(rgb, camera.project(np.column_stack([worn, np.full(4, TALL)])), rim)
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
@pytest.mark.parametrize("rim", [TOP, WORN], ids=["plain", "worn rim"])
def test_faces_in_the_dark(turn: float, rim: tuple[int, int, int]) -> None:
    """Whether or not lines along the tops look like upper edges of their own."""
    painted = lath(Camera(distance_mm=640, turn_deg=turn), (70, 58, 48), rim=rim)
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


@pytest.mark.parametrize("wide_mm", [6.0, 9.0])
def test_a_shadow_of_one_width_along_two_sides_is_no_face(wide_mm: float) -> None:
    painted = lath(Camera(distance_mm=640, turn_deg=35), (206, 204, 198))
    foot, half = painted.outline_px, SQUARE.side_mm / 2
    ring = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half + wide_mm * np.array(
        [[1, 1], [0, 1], [0, 0], [1, 0]]
    )
    sunny = painted.camera.project(np.column_stack([ring, np.zeros(4)]))
    shade = np.zeros(painted.rgb.shape[:2], np.uint8)
    for corners, value in ((foot, 1), (sunny, 0)):
        cv2.fillPoly(shade, [np.round(corners).astype(np.int32)], value)
    rgb = np.where(shade[..., None] > 0, painted.rgb * 0.45, painted.rgb).astype(np.uint8)
    cv2.fillPoly(
        painted.classes, [np.round(painted.inside_edge_px).astype(np.int32)], 4, cv2.LINE_8
    )
    cv2.fillPoly(painted.classes, [np.round(foot).astype(np.int32)], 0, cv2.LINE_8)
    picture = picture_of(rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, foot, "quad", wrong=0.3)
    fit = find_in_maps(picture, maps, SQUARE)
    assert fit, fit
    assert fit.evidence["flat"] > 0.6
    assert iou(fit.outline_px, foot) > 0.98
