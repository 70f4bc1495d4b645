"""Distances between positions on the globe."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tillercount.units import MM_PER_FT

__all__ = ["PHONE_ERROR_M", "distance_m", "far_text"]

PHONE_ERROR_M = 4.9
"""Position error of phones under open sky (gps.gov, after van Diggelen & Enge 2015; from memory)"""

_EARTH_M = 6_371_008.8  # mean radius, IUGG


def far_text(distance_m: float) -> str:
    """A distance as screens show it."""
    return f"{distance_m * 1000 / MM_PER_FT:,.0f} ft ({distance_m:,.0f} m)"


def distance_m(
    lat: float, lon: float, lats: NDArray[np.float64], lons: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Great-circle distances, metres, from one position to (N,) others, degrees (haversine).

    The sphere's mean radius is within 0.6 % of the ellipsoid's: 0.2 m in 30 m.
    """
    a, b = np.radians(lat), np.radians(lats)
    half = np.sin((b - a) / 2) ** 2
    half = half + np.cos(a) * np.cos(b) * np.sin(np.radians(lons - lon) / 2) ** 2
    return 2 * _EARTH_M * np.arcsin(np.sqrt(np.minimum(1.0, half)))
