"""Positions that can't be those of the field's spots: a digit mistyped, a phone without a fix.

One of them drawn to scale would shrink the field to a dot, so the map leaves it out and says so.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["stray"]

_TIMES = 6.0
"""So many times the middle distance of the spots from their middle is no part of the same field."""
_LEAST_M = 1_500.0
"""Spots nearer than this to the middle of the others are always drawn: a field of a square mile is
1,600 m long, and who counts along one side of it and once at its far end is honest."""
_OUTSIDE = 0.5
"""With an outline: so much of its diagonal outside is too far."""
_LEAST_OUTSIDE_M = 250.0
"""With an outline spots nearer to it than this are always drawn."""
_FEWEST = 5
"""Fewer places say too little of how large the field is. All five are conventions."""


def stray(metres: NDArray[np.float64], shape: Any = None) -> NDArray[np.float64]:
    """How far off each stray position is, in metres; NaN for one that belongs on the map.

    Parameters
    ----------
    metres : ndarray of float, shape (n, 2)
        East and north on a plane.
    shape : shapely geometry, optional
        The field's outline on the same plane; without it spots are judged by each other.
    """
    off = np.full(len(metres), np.nan)
    if not len(metres):
        return off
    if shape is not None:
        import shapely

        west, south, east, north = shape.bounds
        limit = max(_LEAST_OUTSIDE_M, _OUTSIDE * float(np.hypot(east - west, north - south)))
        away = np.asarray(shapely.distance(shapely.points(metres), shape), float)
    else:
        if len(metres) < _FEWEST:
            return off
        away = np.hypot(*(metres - np.median(metres, axis=0)).T)
        limit = max(_LEAST_M, _TIMES * float(np.median(away)))
    return np.where(away > limit, away, off)
