"""From the inside edge as it is seen to the outline on the ground below it.

A round pipe of radius r touches the ground; its inside edge is seen about r above the ground,
so seen from above it lies a little outside the outline that the area is defined by. The rays
that graze the pipe cross the plane through its axis at r / cos(angle of view) from the axis.

Where two pipes lie across the other two, the upper pair is nearer to the camera and seems to
stand further apart: a square looks longer that way. How much longer says how much higher.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.projection import View, mm_per_px

__all__ = ["Pipe", "camera_mm", "lifts_of", "pipe_of", "seen_radius", "seen_rectangle"]

Array = NDArray[Any]

LEAST_LIFT, LARGEST_LIFT = 0.5, 2.2
"""Of the pipe's radius: a pipe laid across another is lifted by up to its whole width."""


@dataclass(frozen=True)
class Pipe:
    """Width of the pipe as seen, and the height at which its inside edge is seen, mm."""

    width_mm: float
    height_mm: float


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


def lifts_of(view: View, width_mm: float) -> tuple[float, float]:
    """How much higher the pipes across x, or those across y, lie than the other two, mm.

    ``view`` comes from the outline with all pipes taken to lie at one height. A stretch too
    large for pipes across each other is left alone, as is one that a frame out of square has.
    """
    if not math.isfinite(width_mm):
        return 0.0, 0.0
    lift = math.log(view.stretch) * float(camera_mm(view)[2])
    share = abs(lift) / max(width_mm / 2, 1e-9)
    if not LEAST_LIFT < share < LARGEST_LIFT:
        return 0.0, 0.0
    return (0.0, lift) if lift > 0 else (-lift, 0.0)


def seen_rectangle(
    corners: Array, radius_mm: float, view: View, lifts_mm: tuple[float, float] = (0.0, 0.0)
) -> Array:
    """Where the inside edges of a pipe rectangle (4, 2) mm are seen, in the plane of its axis.

    ``lifts_mm`` of the pipes to the left and right, and of those below and above; the plane is
    that of the lower pipes' axis.
    """
    if radius_mm <= 0:
        return corners
    x, y, z = camera_mm(view)
    out = corners.copy()
    for axis, foot in ((0, x), (1, y)):
        lift = lifts_mm[axis]
        for sign in (-1, 1):
            rows = np.sign(corners[:, axis]) == sign
            # signs turned so that this side lies to the right of the middle
            axis_at = sign * corners[rows, axis] + radius_mm
            edge = _grazing(axis_at, radius_mm, sign * foot, z - lift)
            edge = sign * foot + (edge - sign * foot) * z / max(z - lift, radius_mm)
            out[rows, axis] = sign * edge
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
