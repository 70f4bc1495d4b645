"""The marked area as a person points at it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.errors import InputError
from tillercount.frame.beside import row_side_mm, rows_beside
from tillercount.frame.build import HOOP_POINTS
from tillercount.frame.finder import Finder, Picture
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import apply, homography, mm_per_px, view_of
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.row import area_beside
from tillercount.frame.rowresult import LARGEST_OTHER_SIDE
from tillercount.frame.shape import fit_shape, round_from_lower_left, shape_trouble

__all__ = ["fit_by_hand"]

Array = NDArray[Any]

SMALLEST_PX = 40.0
USUAL_STICK_MM = 22.0
"""Width of a stick whose ends alone are given (common practice: a lath or a broom handle)."""
FAR_OUTSIDE = 1.0
"""Corners may lie outside the photo, by up to this share of its size."""


def fit_by_hand(
    corners: Array, area: SquareArea | RectArea | HoopArea | RowArea, picture: Picture
) -> FrameFit | FrameNotFound:
    """Marked area from points given by hand, in photo px, in any order.

    A square, rectangle or row area: its four corners on the ground, inside the frame. A hoop: the
    four corners of the square around its inside edge. A row: also just the stick's two ends; the
    area then lies on the row beside it, as with a stick that the program finds by itself.

    Raises
    ------
    InputError
        The points contradict the area: wrong number, not a four-sided shape, too small, far
        outside the photo, or another shape than the area's.
    """
    points = _checked(corners, area, picture)
    if isinstance(area, RowArea) and len(points) == 2:
        return _beside_ends(points[np.argsort(points[:, 0])], area, picture)
    _check_shape(points)
    shape: SquareArea | RectArea
    if isinstance(area, HoopArea):
        shape = SquareArea(area.diameter_mm)
    elif isinstance(area, RowArea):
        shape = RectArea(area.length_mm, area.spacing_mm)
    else:
        shape = area
    whole = Picture(
        picture.rgb,
        (1.0, 1.0),
        picture.focal_px * math.sqrt(picture.per_px[0] * picture.per_px[1]),
        (
            float(picture.to_photo[0] @ [*picture.centre_px, 1]),
            float(picture.to_photo[1] @ [*picture.centre_px, 1]),
        ),
        picture.focal_known,
    )
    ring, view = fit_shape(round_from_lower_left(points), whole, shape)
    trouble = shape_trouble(view, shape, {})
    if trouble is not None:
        raise InputError(f"--corners: {trouble.reason}; check the corners and --area")
    matrix = homography(outline_mm(shape), ring)
    outline = ring
    if isinstance(area, HoopArea):
        outline = apply(matrix, outline_mm(area, points=HOOP_POINTS))
    focal = whole.focal_px
    if not picture.focal_known:
        known = not isinstance(area, HoopArea)
        focal = likely_focal_px(matrix, focal, whole.centre_px, shape_known=known)
    view = view_of(matrix, focal, whole.centre_px)
    return FrameFit(
        kind=area.kind,
        outline_px=outline,
        to_ground=np.linalg.inv(matrix),
        tilt_deg=view.tilt_deg,
        mm_per_px=mm_per_px(matrix),
        confidence=0.95,
        evidence={
            "given_px": points.tolist(),
            "stretch": round(view.stretch, 4),
            "skew_deg": round(view.skew_deg, 2),
        },
        method="by hand",
    )


def _beside_ends(ends: Array, area: RowArea, picture: Picture) -> FrameFit | FrameNotFound:
    """The area of the row beside a stick with these ends (2, 2), photo px."""
    inverse = np.linalg.inv(picture.to_photo)
    here = apply(inverse, ends)
    scale = area.length_mm / float(np.linalg.norm(here[1] - here[0]))
    evidence: dict[str, Any] = {"given_px": ends.tolist(), "tilt_known": False}
    offset, row = row_side_mm(
        picture, Finder.load()(picture), here, USUAL_STICK_MM / scale, area
    )
    evidence |= row
    if not math.isfinite(offset) or row["other_side"] > LARGEST_OTHER_SIDE:
        return FrameNotFound(
            "it isn't clear which row the stick with these ends is meant to mark",
            "give the area's four corners instead: --corners \"x,y x,y x,y x,y\"",
            evidence,
        )
    rows = rows_beside(picture, here, area)
    matrix: Array = picture.to_photo @ area_beside(here, offset, area)
    return FrameFit(
        kind="row",
        outline_px=apply(matrix, outline_mm(area)),
        to_ground=np.linalg.inv(matrix),
        tilt_deg=float("nan"),
        mm_per_px=mm_per_px(matrix),
        confidence=0.9,
        evidence=evidence,
        method="by hand",
        tube_mm=USUAL_STICK_MM,
        stick_px=ends,
        rows_mm=rows.period_mm if rows.told else None,
    )


def _checked(
    corners: Array, area: SquareArea | RectArea | HoopArea | RowArea, picture: Picture
) -> Array:
    points = np.array(corners, dtype=float)
    if points.ndim != 2 or points.shape[1:] != (2,):
        raise InputError('--corners: give points as x,y, as in "10,20 900,25 890,880 15,870"')
    wanted = (2, 4) if isinstance(area, RowArea) else (4,)
    if len(points) not in wanted:
        count = "4 corners, or the 2 ends of the stick" if len(wanted) == 2 else "4 corners"
        raise InputError(f"--corners: {len(points)} points given; a {area.kind} needs {count}")
    if not np.isfinite(points).all():
        raise InputError("--corners: a coordinate isn't a number; give px as x,y")
    per = np.array(picture.per_px)
    size = np.array(picture.shape[::-1]) * per
    for x, y in points:
        if not ((-FAR_OUTSIDE * size <= (x, y)) & ((x, y) <= (1 + FAR_OUTSIDE) * size)).all():
            raise InputError(
                f"--corners: {x:g},{y:g} lies far outside the photo, which is "
                f"{size[0]:.0f} by {size[1]:.0f} px; give px of the upright photo"
            )
    low, high = points.min(0), points.max(0)
    if (high < 0).any() or (low > size).any():
        raise InputError(
            f"--corners: the area lies outside the photo, which is {size[0]:.0f} by "
            f"{size[1]:.0f} px; give px of the upright photo"
        )
    if float(np.linalg.norm(high - low)) < SMALLEST_PX * math.sqrt(2):
        raise InputError(
            f"--corners: the points lie within {np.linalg.norm(high - low):.0f} px of each "
            "other, too near for an area; give px of the photo as taken"
        )
    return points


def _check_shape(points: Array) -> None:
    """Four points in any order that make a four-sided shape."""
    ring = round_from_lower_left(points)
    d = np.roll(ring, -1, axis=0) - ring
    e = np.roll(d, -1, axis=0)
    turn = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
    sides = np.linalg.norm(d, axis=1)
    bend = np.abs(turn) / np.maximum(sides * np.roll(sides, -1), 1e-9)
    if not ((turn < 0).all() or (turn > 0).all()) or bend.min() < 0.08:
        raise InputError(
            "--corners: the four points don't make a four-sided shape; "
            "give the four inside corners of the frame"
        )
    if sides.min() < SMALLEST_PX / 2:
        raise InputError(
            "--corners: two of the points are nearly the same; give four different corners"
        )
