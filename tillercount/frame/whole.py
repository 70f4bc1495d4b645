"""The whole photo as the marked area: it is a top view already, at a known scale."""

from __future__ import annotations

import numpy as np

from tillercount.area import WholePhoto
from tillercount.frame.result import FrameFit

__all__ = ["fit_whole"]


def fit_whole(width_px: int, height_px: int, area: WholePhoto) -> FrameFit:
    """The photo's own border as the outline; its pixels' edges count, not their centres."""
    s = area.mm_per_px
    left, top, right, bottom = -0.5, -0.5, width_px - 0.5, height_px - 0.5
    outline = np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
    middle_x, middle_y = (width_px - 1) / 2, (height_px - 1) / 2
    to_ground = np.array([[s, 0, -s * middle_x], [0, -s, s * middle_y], [0, 0, 1.0]])
    return FrameFit(
        kind="whole",
        outline_px=outline,
        to_ground=to_ground,
        tilt_deg=0.0,
        mm_per_px=s,
        confidence=1.0,
        evidence={},
        method="whole photo",
    )
