"""From the inside edge as it is seen to the outline on the ground below it.

A round pipe of radius r touches the ground; its inside edge is seen about r above the ground,
so seen from above it lies a little outside the outline that the area is defined by. The rays
that graze the pipe cross the plane through its axis at r / cos(angle of view) from the axis.
Where they meet the ground `section.pipe_edges` says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.projection import View, mm_per_px

__all__ = ["Pipe", "camera_mm", "pipe_of"]

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
