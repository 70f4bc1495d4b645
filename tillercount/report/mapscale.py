"""How large the map is drawn: the ground that it shows, its scale, and the length of its bar."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tillercount.plan.mapparts import round_length
from tillercount.units import MM_PER_FT

__all__ = ["PAD", "WIDTH", "bar_lengths", "extent", "scale_of"]

PAD = 14.0
"""Around the ground, in units of the drawing."""
WIDTH = 360.0
"""Of the drawing."""
_TALLEST, _SMALL_TALLEST, _EMPTY_TALLEST = 300.0, 215.0, 190.0
"""Of the ground on it; the second on a small map, the last where there is no spot to show."""

Box = tuple[float, float, float, float]


def extent(points: Sequence[Any]) -> Box:
    """West, south, east and north ends of the ground to show around these points, metres."""
    xy = np.array(points, float).reshape(-1, 2)
    (west, south), (east, north) = xy.min(axis=0), xy.max(axis=0)
    # A single spot, or some in a line, still get a map with a scale.
    wide = max(30.0, east - west, 0.25 * (north - south))
    tall = max(30.0, north - south, 0.25 * (east - west))
    x, y = (west + east) / 2, (south + north) / 2
    return x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2


def scale_of(box: Box, spots: int, *, small: bool = False) -> float:
    """Units of the drawing for a metre, where so many spots are shown on this ground."""
    west, south, east, north = box
    tallest = (_SMALL_TALLEST if small else _TALLEST) if spots else _EMPTY_TALLEST
    return min((WIDTH - 2 * PAD - 16) / (east - west), (tallest - 2 * PAD) / (north - south))


def bar_lengths(metres: Any, bounds: Box | None) -> dict[str, float]:
    """Round lengths of the scale bar, in feet and in metres.

    Parameters
    ----------
    metres : array of float, shape (n, 2)
        The spots.
    bounds : tuple of float, optional
        Of the field's outline.
    """
    points = list(metres)
    if bounds is not None:
        west, south, east, north = bounds
        points += [(west, south), (east, north)]
    longest = 100.0 / scale_of(extent(points), len(metres))
    return {"ft": round_length(1000 * longest / MM_PER_FT), "m": round_length(longest)}
