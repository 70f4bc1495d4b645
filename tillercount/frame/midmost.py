"""Several fits of one frame, from several starts: the one that the others agree with most."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.result import FrameFit

__all__ = ["midmost"]

Array = NDArray[Any]

CLOSE = 0.1
"""Of confidence: only fits that are nearly as sure as the surest have a say (by judgement)."""


def midmost(fits: list[FrameFit]) -> FrameFit:
    """Of fits nearly alike in confidence the one whose outline lies nearest to the others'.

    The photo is the same for all, so what several starts lead to is likelier than what one does
    that is surer by a hair. Of two the surer one is taken.
    """
    best = max(fit.confidence for fit in fits)
    fits = [fit for fit in fits if fit.confidence >= best - CLOSE]
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
