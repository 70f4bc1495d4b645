"""Edges read at a lath's top or at its foot: each rule of `faces` by an input of its own."""

from __future__ import annotations

import math

import cv2
import numpy as np
from frame.painter import Camera, iou
from frame.test_joint import sides_of

from tillercount.area import SquareArea
from tillercount.frame.faces import read_at_the_top
from tillercount.frame.finder import Picture, picture_of
from tillercount.frame.joint import fit_made
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.projection import View, apply, homography, pose_of, view_of
from tillercount.frame.settling import THICK, Seen, gathered, plane_of, settled
from tillercount.frame.side import Side

SQUARE = SquareArea(304.8)
CAMERA = Camera(distance_mm=640, turn_deg=20)
WIDE, TALL = 30.0, 21.0
HALF = SQUARE.side_mm / 2
RING = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]])
GROUND, FACE, TOP, SHADE = 120.0, 60.0, 230.0, 0.45
TWO_SIDES = np.array([[1.0, 1], [0, 1], [0, 0], [1, 0]])
ONE_SIDE = np.array([[0.0, 1], [0, 1], [0, 0], [0, 0]])
ALL_SIDES = -RING


def read(out_mm: float = 0.0) -> tuple[list[Side], np.ndarray, View]:
    """Sides of the lath whose foot was read ``out_mm`` too far out, seen from above, without any
    error along them; the corners of those inside edges, and the view that they make."""
    area = SquareArea(SQUARE.side_mm + 2 * out_mm)
    sides = sides_of("lath", CAMERA, area, WIDE - out_mm, TALL)
    corners = CAMERA.project(outline_mm(area))
    centre = ((CAMERA.width - 1) / 2, (CAMERA.height - 1) / 2)
    return sides, corners, view_of(homography(outline_mm(SQUARE), corners), CAMERA.focal_px, centre)


def lath(out_mm: float = 0.0) -> tuple[np.ndarray, Seen]:
    """The lath as fitted to such sides."""
    sides, corners, view = read(out_mm)
    seen = gathered(sides, corners, view, size_mm(SQUARE), sides[0].width_px)
    start = np.concatenate([pose_of(view), [0, 0, math.log(WIDE), math.log(THICK)]])
    return settled(start, "lath", seen)[0], seen


def outline(p: np.ndarray, seen: Seen) -> np.ndarray:
    x, y = seen.centre_px
    camera = np.array([[seen.focal_px, 0, x], [0, seen.focal_px, y], [0, 0, 1.0]])
    return apply(camera @ plane_of(p[None])[0][0], outline_mm(SQUARE))


def filled(light: np.ndarray, ring_mm: np.ndarray, high_mm: float, value: float) -> None:
    corners = CAMERA.project(np.column_stack([ring_mm, np.full(4, high_mm)]))
    cv2.fillPoly(light, [np.round(corners * 16).astype(np.int32)], value, cv2.LINE_AA, 4)


def painted(
    face: float,
    band_mm: np.ndarray | None = None,
    *,
    top: float = TOP,
    shade: float = SHADE,
    noise: float = 4.0,
) -> Picture:
    """The lath in grey. ``band_mm`` (4, 2) how far in from its foot a shade reaches at the corners;
    ``shade`` the light that is left there."""
    shape = (CAMERA.height, CAMERA.width)
    light, shaded = np.full(shape, GROUND), np.zeros(shape)
    filled(light, RING * (HALF + WIDE), TALL, top)
    filled(light, RING * HALF, TALL, face)
    filled(light, RING * HALF, 0, GROUND)
    if band_mm is not None:
        filled(shaded, RING * HALF, 0, 1.0)
        filled(shaded, RING * HALF + band_mm, 0, 0.0)
    light = light * (1 - (1 - shade) * shaded)
    grain = np.random.default_rng(0).normal(0, noise, (*shape, 3)) if noise else 0.0
    rgb = np.clip(np.round(light[..., None] + grain), 0, 255) + np.zeros(3)
    return picture_of(rgb.astype(np.uint8), CAMERA.focal_px)


def test_a_foot_that_is_as_clear_on_all_sides_is_taken() -> None:
    """Read at the upper edges: the foot below them is there."""
    taken = CAMERA.project(np.column_stack([RING * HALF, np.full(4, TALL)]))
    truth = CAMERA.project(outline_mm(SQUARE))
    p, seen = lath(HALF * 640 / (640 - TALL) - HALF)
    assert iou(outline(p, seen), taken) > 0.99 > 0.95 > iou(taken, truth)
    found = read_at_the_top(painted(FACE), p, seen)
    assert found is not None
    assert iou(outline(found, seen), truth) > 0.98


def stays(picture: Picture, p: np.ndarray, seen: Seen) -> bool:
    """Whether the outline stays where it was."""
    found = read_at_the_top(picture, p, seen)
    return found is None or iou(outline(found, seen), outline(p, seen)) > 0.985


def test_a_border_along_one_side_is_no_foot() -> None:
    """Not even where the frame has the ground's own colour and nothing speaks for what was read."""
    p, seen = lath()
    furrow = painted(GROUND, 8.5 * ONE_SIDE, top=GROUND)
    assert stays(furrow, p, seen)


def test_a_border_too_faint_to_mean_anything_is_no_foot() -> None:
    """However even and however long: a step of two of 255 levels, without any grain."""
    p, seen = lath()
    faint = painted(GROUND, 8.5 * ALL_SIDES, top=GROUND, shade=0.985, noise=0.0)
    assert stays(faint, p, seen)


def test_shade_of_one_width_is_no_foot_where_a_clearer_one_was_read() -> None:
    """Faces as light as the top: what was read as the foot is one, and no upper edge is seen."""
    p, seen = lath()
    assert stays(painted(TOP, 6 * TWO_SIDES), p, seen)


def test_shade_of_one_width_is_no_foot_below_clear_upper_edges() -> None:
    """Faces as dark as the ground: the foot is unclear, but the upper edges lie right."""
    p, seen = lath()
    assert stays(painted(GROUND, 6 * TWO_SIDES), p, seen)


def test_a_foot_read_halfway_is_looked_for_anew() -> None:
    """Some edges read at the top and some at the foot, with clear upper edges beyond."""
    truth = CAMERA.project(outline_mm(SQUARE))
    p, seen = lath(2.6)
    assert iou(outline(p, seen), truth) < 0.975
    found = read_at_the_top(painted(FACE), p, seen)
    assert found is not None
    assert iou(outline(found, seen), truth) > 0.98


def test_edges_read_clean_between_top_and_foot_are_clean() -> None:
    """They lie off both edges of the lath that is found in the end, and still are straight lines
    that fit a frame: no reason to doubt it."""
    sides, corners, view = read(2.6)
    made = fit_made(
        sides, corners, view, size_mm(SQUARE), sides[0].width_px, picture=painted(FACE)
    )
    assert made[-1].kind == "lath"
    assert iou(made[-1].corners, CAMERA.project(outline_mm(SQUARE))) > 0.98
    assert made[-1].residual_px < 0.5


def test_a_foot_less_clear_than_the_upper_edges_that_were_read_is_found_all_the_same() -> None:
    """All edges read exactly at the top, whose step is as clear as can be; the faces have nearly
    the ground's colour, but along all sides."""
    high = HALF * TALL / (CAMERA.distance_mm - TALL)
    p, seen = lath(high)
    truth = CAMERA.project(outline_mm(SQUARE))
    assert iou(outline(p, seen), truth) < 0.95
    found = read_at_the_top(painted(GROUND - 8), p, seen)
    assert found is not None
    assert iou(outline(found, seen), truth) > 0.98
