"""What looking for the marked area gives: where it lies, or why it isn't sure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["FrameFit", "FrameNotFound", "Method"]

Method = Literal["found", "by hand", "markers", "whole photo"]


@dataclass(frozen=True, eq=False)
class FrameFit:
    """The marked area in one photo. True in a condition.

    Attributes
    ----------
    kind : str
        ``square``, ``rect``, ``hoop``, ``row`` or ``whole``.
    outline_px : ndarray (N, 2) of float64
        Outline of the area on the ground, photo px (x, y), counter-clockwise as seen: 4 corners
        beginning at the lower left, or 64 points of a hoop. May lie outside the photo.
    to_ground : ndarray (3, 3)
        Photo px to ground mm: origin in the middle of the area, x to the right, y up the photo.
    tilt_deg : float
        Between the camera's axis and the perpendicular of the ground; nan where it isn't known,
        0 for a hoop seen from within 5 degrees of straight above.
    mm_per_px : float
        On the ground at the middle of the area, in the photo as taken.
    confidence : float
        0 to 1.
    evidence : dict
        What the fit rests on: shares seen, residuals, presence; JSON types only.
    method : str
        ``found``, ``by hand``, ``markers`` or ``whole photo``.
    tube_mm : float
        Width of the pipe or lath; nan where it isn't known.
    stick_px : ndarray (2, 2) or None
        Ends of a row stick's middle line, photo px; None without one.
    rows_mm : float or None
        Distance between the rows around a row stick, by the stick's own length; None without a
        stick, or where too few rows are in view or too little of their green stands out.
    """

    kind: str
    outline_px: NDArray[np.float64]
    to_ground: NDArray[np.float64]
    tilt_deg: float
    mm_per_px: float
    confidence: float
    evidence: dict[str, Any] = field(default_factory=dict)
    method: Method = "found"
    tube_mm: float = float("nan")
    stick_px: NDArray[np.float64] | None = None
    rows_mm: float | None = None

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True)
class FrameNotFound:
    """No marked area that is sure enough. False in a condition.

    ``reason`` says what was seen, ``todo`` what to do about it, both for the person who took the
    photo; ``evidence`` as in `FrameFit`.
    """

    reason: str
    todo: str
    evidence: dict[str, Any] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return False

    def __str__(self) -> str:
        return f"{self.reason}: {self.todo}"
