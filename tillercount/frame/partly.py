"""A lath read at its foot on some sides and at its top on others.

The light comes from one side: the faces of the one or two sides towards it lie in the dark and are
taken for the ground's shadow, those of the others are lit and taken for the lath. A lath that shall
fit all of that with its inside edges on the ground comes out far thicker than it is wide.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.settling import THICK, Seen, settled

__all__ = ["CLEAN", "read_partly_at_the_top"]

Array = NDArray[Any]

LIKELIER = 16.0
"""How much less edges must cost (minus twice the logarithm of how likely they are) where some of
them are read at the top: e to the 8th, by judgement. Of 139 fits to laths of rendered frames ten
are replaced, each by one that overlaps the truth by more (0.968 to 0.997 before, 0.991 to 0.999
after). One that would have been put wrong gains 12 at most.
"""
CLEAN = 1.2
"""Cost per reading up to which a frame fits."""
THICKEST = 1.2
"""Of the width: laths lie on their broad side, or stand hardly higher than they are wide."""
DARK = ((0,), (1,), (2,), (3,), (0, 1), (1, 2), (2, 3), (3, 0))
"""Sides whose faces may lie in the dark: one, or two that meet."""


def read_partly_at_the_top(p: Array, cost: float, seen: Seen) -> tuple[Array, float] | None:
    """The lath (10,), and its cost, whose inside edges were read at the top on some sides only.

    ``p`` and ``cost``, see `settled`: the lath with all of them on the ground. None where that may
    be right, or where none fits so much better that it must be.
    """
    clean = CLEAN * seen.readings
    if cost <= clean and math.exp(p[9]) <= THICKEST:
        return None
    start = p.copy()
    start[9] = math.log(THICK)
    fits = []
    for sides in DARK:
        top = np.isin(seen.edge, sides)
        if top.any():
            some = replace(seen, edge=np.where(top, seen.edge + 8, seen.edge))
            fits.append(settled(start, "lath", some))
    best, least = min(fits, key=lambda fit: fit[1])
    right = least < min(clean, cost - LIKELIER) and math.exp(best[9]) <= THICKEST
    return (best, least) if right else None
