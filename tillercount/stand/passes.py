"""Straight passes of a boom over a shape, on a grid of millimetres."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tillercount.errors import InputError

if TYPE_CHECKING:
    from shapely import Point
    from shapely.geometry.base import BaseGeometry

__all__ = ["GRID_M", "areas", "stripes_of", "turned", "union"]

_MOST_PASSES = 5000
GRID_M = 0.001
_SLIVER_M2 = 0.05
"""Areas below this are left out: what is left where edges meet on a grid of millimetres."""


def stripes_of(
    upright: BaseGeometry, width_m: float, step_m: float, sections: int
) -> tuple[list[BaseGeometry], int]:
    """Ground under each pass, left to right, each the union of what its sections run over.

    ``upright`` in metres, turned so that passes run along y; then the number of passes driven.

    Raises
    ------
    InputError
        More passes than make sense.
    """
    import shapely

    if upright.is_empty:
        return [], 0
    left, low, right, high = upright.bounds
    # The first pass lies along the edge of the headland; no pass is driven for the last 5 mm, so
    # that a field of just so many boom widths doesn't get one pass more.
    count = max(1, math.ceil((right - left - 0.005 - width_m) / step_m) + 1)
    if count > _MOST_PASSES:
        raise InputError(
            f"{count} passes are needed for this field; check the boom's width and the units"
        )
    part = width_m / sections
    out: list[BaseGeometry] = []
    driven = 0
    for number in range(count):
        start = left + number * step_m
        boxes = []
        for section in range(sections):
            a = start + section * part
            lane = shapely.box(a, low - 1, a + part, high + 1)
            for piece in shapely.get_parts(upright.intersection(lane)):
                if piece.area > 1e-6:
                    _, bottom, _, top = piece.bounds
                    boxes.append(shapely.box(a, bottom, a + part, top))
        driven += bool(boxes)
        out.append(shapely.union_all(boxes) if boxes else shapely.Polygon())
    return out, driven


def turned(shape: BaseGeometry, heading_deg: float, about: Point) -> BaseGeometry:
    """Turned anticlockwise, then snapped to the grid, which keeps it valid."""
    import shapely

    rotated = shapely.affinity.rotate(shape, heading_deg, origin=about)
    return shapely.set_precision(rotated, GRID_M)


def union(shapes: list[BaseGeometry]) -> BaseGeometry:
    """All shapes in one, on the grid."""
    import shapely

    return shapely.union_all(shapes, grid_size=GRID_M) if shapes else shapely.Polygon()


def areas(shape: BaseGeometry) -> BaseGeometry:
    """Only the areas of a mixed shape, slivers left out."""
    import shapely

    parts = [
        p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > _SLIVER_M2
    ]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()
