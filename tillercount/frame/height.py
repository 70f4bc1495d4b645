"""From the inside edge as it is seen to the outline on the ground below it.

A round pipe of radius r touches the ground; its inside edge is seen about r above the ground,
so seen from above it lies a little outside the outline that the area is defined by. The rays
that graze the pipe cross the plane through its axis at r / cos(angle of view) from the axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.projection import View, mm_per_px

__all__ = ["Pipe", "camera_mm", "pipe_of", "seen_radius"]

Array = NDArray[Any]


@dataclass(frozen=True)
class Pipe:
    """Width of the pipe as seen, and the height at which its inside edge is seen, mm."""

    width_mm: float
    height_mm: float


def pipe_of(view: View, width_px: float, half_mm: float) -> Pipe:
    """Pipe from its width in px, as seen in the plane of ``view``.

    ``half_mm`` half the size of the frame, which says at what angle the pipe is seen.
    """
    if not math.isfinite(width_px):
        return Pipe(float("nan"), 0.0)
    width = width_px * mm_per_px(view.plane_to_photo())
    width = width / math.hypot(1, half_mm / float(view.origin_mm[2]))
    return Pipe(width, width / 2)


def camera_mm(view: View) -> Array:
    """The camera's position (3,) in ground coordinates, mm."""
    rotation = np.column_stack([view.axes, view.up])
    position: Array = -np.linalg.solve(rotation, view.origin_mm)
    return position


def _grazing(axis_at: Array, radius_mm: float, foot: float, height_mm: float) -> Array:
    """Where the ray that grazes a pipe on its left crosses the plane of the pipe's axis."""
    edge = axis_at - radius_mm
    for _ in range(4):
        slope = (edge - foot) / max(abs(height_mm), radius_mm)
        edge = axis_at - radius_mm * np.sqrt(1 + slope**2)
    return edge


def seen_radius(radius_mm: float, pipe_radius_mm: float, view: View) -> float:
    """Where the inside edge of a hoop is seen, in the plane of its axis, mean around it."""
    if pipe_radius_mm <= 0:
        return radius_mm
    axis_at = np.array([radius_mm + pipe_radius_mm])
    return float(_grazing(axis_at, pipe_radius_mm, 0.0, float(camera_mm(view)[2]))[0])
