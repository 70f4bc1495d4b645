"""Several fits of one frame, from several starts: the one that the others agree with most."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.result import FrameFit

__all__ = ["midmost"]

Array = NDArray[Any]


def midmost(fits: list[FrameFit]) -> FrameFit:
    """The fit whose outline lies nearest to the others', each counted by its confidence.

    The photo is the same for all, so what several starts lead to is likelier than what one does.
    Of two the surer one is taken.
    """
    if len(fits) < 3:
        return max(fits, key=lambda fit: fit.confidence)
    area = [math.log(_area(fit.outline_px)) for fit in fits]
    middle = np.array([fit.outline_px.mean(0) for fit in fits])
    size = math.sqrt(_area(fits[0].outline_px))

    def apart(i: int) -> float:
        return sum(
            other.confidence
            * (abs(area[i] - area[k]) + 2 * float(np.abs(middle[i] - middle[k]).sum()) / size)
            for k, other in enumerate(fits)
        )

    return fits[min(range(len(fits)), key=lambda i: (apart(i), -fits[i].confidence))]


def _area(outline_px: Array) -> float:
    x, y = outline_px.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
