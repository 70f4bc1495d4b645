"""Counts whose position can't be that of their spot: a digit mistyped, a phone without a fix."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tillercount.field import SpotDensity
from tillercount.field.apart import FAR_M
from tillercount.names import spot_text
from tillercount.positions import distance_m, far_text
from tillercount.store.placing import WITHIN_M

__all__ = ["astray"]

_OFF_PLAN_M = 10 * WITHIN_M
"""Farther than this (1,000 ft) from its planned place a spot's own position is named: a
convention."""
_NEAR_DEG = 0.0015
"""At most 240 m along both ways together, so within `_OFF_PLAN_M`."""
_FEWEST = 3
"""Of two places nobody can tell which one is off."""


def astray(
    counts: Sequence[SpotDensity], planned: Mapping[str, tuple[float, float]]
) -> list[str]:
    """Notes on counts that lie far from their planned spot, or from all others of the visit.

    Parameters
    ----------
    counts : sequence of SpotDensity
    planned : mapping
        Latitude and longitude of planned spots, by their key.
    """
    placed = [(s, s.lat, s.lon) for s in counts if s.lat is not None and s.lon is not None]
    notes: dict[str, None] = {}
    if not placed:
        return []
    lats = np.array([lat for _, lat, _ in placed], float)
    lons = np.array([lon for _, _, lon in placed], float)
    middle = float(np.median(lats)), float(np.median(lons))
    away = distance_m(*middle, lats, lons)
    for (spot, lat, lon), far in zip(placed, away.tolist(), strict=True):
        at = f"{'hand count' if spot.source == 'hand' else 'photo'} at {lat:.5f}, {lon:.5f}"
        there = planned.get(spot.key)
        if there is not None:
            # a large season has many spots, nearly all within reach
            if max(abs(lat - there[0]), abs(lon - there[1])) < _NEAR_DEG:
                continue
            off = float(distance_m(lat, lon, np.array(there[:1]), np.array(there[1:]))[0])
            if off > _OFF_PLAN_M:
                notes[f"{spot_text(spot.spot)}: its {at} lies {far_text(off)} from where it was "
                      "planned; was a digit mistyped?"] = None  # fmt: skip
        elif len(placed) >= _FEWEST and far > FAR_M:
            notes[f"{spot_text(spot.spot)}: its {at} lies {_miles(far)} from the middle of the "
                  "others, farther than a field is wide; was a digit mistyped?"] = None  # fmt: skip
    return list(notes)


def _miles(metres: float) -> str:
    return f"{metres / 1609.344:,.1f} mi ({metres / 1000:,.1f} km)"
