"""Printed corner markers: four open-standard squares that make the marked area exact.

Print four different markers of one dictionary (ArUco 4x4 or AprilTag 36h11, both drawn by
OpenCV's ``aruco.generateImageMarker``) on matt paper with a white rim at least one cell wide.
Lay one at each corner of the area so that the marker's corner nearest to the middle lies on the
area's corner. The four corners nearest to the middle then are the area, on the ground: paper
has no height. Which number lies where, and how the markers are turned, doesn't matter.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea, RectArea, SquareArea
from tillercount.cvcompat import find_markers
from tillercount.frame.finder import Picture
from tillercount.frame.shape import fit_shape, round_from_lower_left, shape_trouble

__all__ = ["DICTIONARIES", "find_corners"]

Array = NDArray[Any]

DICTIONARIES = ("DICT_4X4_50", "DICT_APRILTAG_36h11")
LARGEST_SHARE = 0.35
"""A marker whose side is more than this of the distance between markers isn't a corner mark."""
LEAST_SIDE_PX = 14.0


def find_corners(
    picture: Picture, area: SquareArea | RectArea | HoopArea
) -> tuple[Array, dict[str, Any]] | None:
    """Area corners (4, 2) picture px from four markers, or None where they aren't there.

    For a hoop the four mark the square around it.
    """
    grey = np.asarray(cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2GRAY), np.uint8)
    shape = SquareArea(area.diameter_mm) if isinstance(area, HoopArea) else area
    for dictionary in DICTIONARIES:
        markers = find_markers(grey, dictionary)
        numbers = [n for n, _ in markers]
        if len(markers) != 4 or len(set(numbers)) != 4:
            continue
        squares = np.array([square for _, square in markers])
        sides = np.linalg.norm(np.roll(squares, -1, axis=1) - squares, axis=2)
        middles = squares.mean(1)
        centre = middles.mean(0)
        span = float(np.min(_ring_sides(round_from_lower_left(middles))))
        alike = sides.max() < 1.8 * sides.min()
        if not alike or sides.min() < LEAST_SIDE_PX or sides.max() > LARGEST_SHARE * span:
            continue
        inner = np.array([square[_nearest(square, centre)] for square in squares])
        ring, view = fit_shape(round_from_lower_left(inner), picture, shape)
        evidence: dict[str, Any] = {
            "dictionary": dictionary,
            "markers": numbers,
            "marker_side_px": round(float(sides.mean()), 1),
            "stretch": round(view.stretch, 4),
            "skew_deg": round(view.skew_deg, 2),
        }
        if shape_trouble(view, shape, evidence) is None:
            return ring, evidence
    return None


def _nearest(square: Array, centre: Array) -> int:
    return int(np.argmin(np.linalg.norm(square - centre, axis=1)))


def _ring_sides(ring: Array) -> Array:
    out: Array = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    return out
