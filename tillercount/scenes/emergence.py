"""How many leaves the main stems of a stand have: its stage, and how evenly it came up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Emergence", "draw_emergence"]

LEAST = 0.5
"""Leaves of a seedling that is just coming out of the ground."""


@dataclass(frozen=True)
class Emergence:
    """Leaves of the main stems (Haun).

    Attributes
    ----------
    haun : leaves of those that came up with most others
    spread : of these, in leaves; about 0.3 where all lay at one depth in moist soil
    late : share of plants that came up late
    late_by : leaves by which the latest are behind; the others less, evenly
    """

    haun: float
    spread: float = 0.3
    late: float = 0.0
    late_by: float = 0.0

    def leaves(self, rng: np.random.Generator) -> float:
        """Leaves of one plant's main stem."""
        own = self.haun + self.spread * rng.normal()
        if rng.random() < self.late:
            own -= rng.uniform(0, self.late_by)
        return float(max(LEAST, own))


def draw_emergence(rng: np.random.Generator) -> dict[str, float]:
    """Stage and evenness of a stand, by the names of `Scene.params`.

    Three stands in five came up evenly. Dry soil, clods, straw and seed at all depths bring the
    others up over weeks, when a leaf takes one to two (common practice; how far is not measured).
    """
    haun = float(rng.uniform(0.7, 7.8))
    even = rng.random() < 0.6
    return {
        "haun": haun,
        "emergence_spread": float(rng.uniform(0.15, 0.4) if even else rng.uniform(0.3, 0.9)),
        "late": float(0.0 if even else rng.uniform(0.0, 0.35)),
        "late_by": float(0.0 if even else rng.uniform(0.5, 3.0)),
    }
