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

__all__ = ["Pipe", "camera_mm", "pipe_of", "seen_radius", "seen_rectangle"]

Array = NDArray[Any]


@dataclass(frozen=True)
class Pipe:
    """Width of the pipe as seen, and the height at which its inside edge is seen, mm."""

    width_mm: float
    height_mm: float

    @property
    def radius_mm(self) -> float:
        """Radius of the round pipe that the height stands for."""
        return self.height_mm


def pipe_of(view: View, width_px: float, flat: float, half_mm: float) -> Pipe:
    """Pipe from its width in px, as seen in the plane of ``view``.

    ``flat`` is the probability of a lath, which is seen down to the ground; ``half_mm`` half the
    size of the frame, which says at what angle the pipe is seen.
    """
    if not math.isfinite(width_px):
        return Pipe(float("nan"), 0.0)
    width = width_px * mm_per_px(view.plane_to_photo())
    width = width / math.hypot(1, half_mm / float(view.origin_mm[2]))
    return Pipe(width, width / 2 * (1 - flat))


def camera_mm(view: View) -> Array:
    """The camera's position (3,) in ground coordinates, mm."""
    rotation = np.column_stack([view.axes, view.up])
    position: Array = -np.linalg.solve(rotation, view.origin_mm)
    return position


def seen_rectangle(corners: Array, radius_mm: float, view: View) -> Array:
    """Where the inside edges of a pipe rectangle (4, 2) mm are seen, in the plane of its axis."""
    if radius_mm <= 0:
        return corners
    x, y, z = camera_mm(view)
    out = corners.copy()
    for axis, foot in ((0, x), (1, y)):
        for sign in (-1, 1):
            rows = np.sign(corners[:, axis]) == sign
            # signs turned so that this side lies to the right of the middle
            axis_at = sign * corners[rows, axis] + radius_mm
            out[rows, axis] = sign * _grazing(axis_at, radius_mm, sign * foot, z)
    return out


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
