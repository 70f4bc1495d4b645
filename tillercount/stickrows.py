"""How far apart rows are seen beside a stick, where the photo itself tells clearly."""

from __future__ import annotations

import numpy as np

from tillercount.area import Area, RowArea
from tillercount.frame import FrameFit
from tillercount.photo import Photo

__all__ = ["stick_rows_mm"]


def stick_rows_mm(photo: Photo, fit: FrameFit, area: Area) -> float | None:
    """Distance between the rows around a stick by the stick's own length, mm.

    None without a stick, or where too few rows are in view or too little of their green stands out
    (the limits of `tillercount.frame.beside`, from which a contradiction is refused there).
    """
    if not isinstance(area, RowArea) or fit.stick_px is None:
        return None
    from tillercount.frame.beside import LEAST_CLEAR, LEAST_PERIODS, rows_beside
    from tillercount.frame.finder import picture_of

    picture = picture_of(photo.rgb, photo.focal_px)
    ends = np.column_stack([fit.stick_px, np.ones(2)]) @ np.linalg.inv(picture.to_photo).T
    seen = rows_beside(picture, ends[:, :2] / ends[:, 2:], area)
    clear = seen.clear >= LEAST_CLEAR and seen.periods >= LEAST_PERIODS
    return seen.period_mm if clear else None
