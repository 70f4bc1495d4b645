"""Outlines of marked areas on the ground."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.frame.projection import apply, homography

__all__ = ["circle_in", "outline_mm", "size_mm"]

Array = NDArray[Any]


def size_mm(area: SquareArea | RectArea | RowArea) -> tuple[float, float]:
    """Width and height of an area with four corners, mm; a row's width lies along the row."""
    if isinstance(area, SquareArea):
        return area.side_mm, area.side_mm
    if isinstance(area, RectArea):
        return area.width_mm, area.length_mm
    return area.length_mm, area.spacing_mm


def outline_mm(area: SquareArea | RectArea | HoopArea | RowArea, *, points: int = 256) -> Array:
    """Outline of an area on the ground (N, 2) mm, counter-clockwise with y up.

    Four corners from the lower left one; a hoop has ``points`` of them.
    """
    if isinstance(area, HoopArea):
        t = 2 * math.pi * np.arange(points) / points
        # straight pieces cut a little off the circle: as much is added outside
        grow = math.sqrt(2 * math.pi / (points * math.sin(2 * math.pi / points)))
        return np.column_stack([np.cos(t), np.sin(t)]) * (area.diameter_mm / 2 * grow)
    w, h = size_mm(area)
    return np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2


def circle_in(corners_px: Array, *, points: int = 256) -> Array:
    """The circle (N, 2) px that touches the sides of a square, whose corners (4, 2) are seen."""
    matrix = homography(outline_mm(SquareArea(2.0)), np.asarray(corners_px, float))
    return apply(matrix, outline_mm(HoopArea(2.0), points=points))
