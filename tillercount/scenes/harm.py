"""What winter, wheels and mouths do to a stand: dead, heaved, pressed and grazed plants.

How often and how strongly is common practice (what one meets in spring), not measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Harm", "draw_harm", "harm_params"]

FAR_LIFT_MM = 16.0


@dataclass(frozen=True)
class Harm:
    """What happened to each of N plants.

    Attributes
    ----------
    dead : ndarray (N,) bool, killed by winter: brown remains that nobody counts
    pressed : ndarray (N,) bool, driven or trodden flat, alive
    lift_mm : ndarray (N,) float, how far frost lifted the plant out of the ground
    grazed : share of blades bitten off
    """

    dead: NDArray[np.bool_]
    pressed: NDArray[np.bool_]
    lift_mm: NDArray[np.float64]
    grazed: float

    def living(self) -> Harm:
        """The same of the plants that live."""
        return Harm(
            self.dead[~self.dead], self.pressed[~self.dead], self.lift_mm[~self.dead], self.grazed
        )


def harm_params(rng: np.random.Generator) -> dict[str, float]:
    """Draw how much of it a stand has suffered; most stands none.

    ``killed``, ``heaved``, ``trodden``: shares of the plants; ``grazed``: share of blades;
    ``wheel_mm``: width of a wheel's track along the rows, 0 for none.
    """

    def sometimes(chance: float, low: float, high: float) -> float:
        return float(rng.uniform(low, high)) if rng.random() < chance else 0.0

    return {
        "killed": sometimes(0.15, 0.05, 0.6),
        "heaved": sometimes(0.06, 0.1, 0.6),
        "trodden": sometimes(0.06, 0.05, 0.4),
        "grazed": sometimes(0.08, 0.3, 0.95),
        "wheel_mm": sometimes(0.06, 120.0, 420.0),
    }


def draw_harm(
    plants_mm: NDArray[np.float64], row_angle: float, p: dict[str, Any], rng: np.random.Generator
) -> Harm:
    """Which plants (N, 2) suffered, for the values of `harm_params`."""
    n = len(plants_mm)
    across = -plants_mm[:, 0] * np.sin(row_angle) + plants_mm[:, 1] * np.cos(row_angle)
    dead = _patchy(plants_mm, p["killed"], rng)
    pressed = _patchy(plants_mm, p["trodden"], rng)
    middle = rng.normal(0, 150)
    if p["wheel_mm"] > 0:
        track = np.abs(across - middle) < p["wheel_mm"] / 2
        pressed = pressed | (track & (rng.random(n) < 0.85))
        dead = dead | (track & (rng.random(n) < rng.uniform(0, 0.6)))
    lift = np.where(rng.random(n) < p["heaved"], rng.uniform(3, FAR_LIFT_MM, n), 0.0)
    return Harm(dead, pressed, lift, float(p["grazed"]))


def _patchy(
    plants_mm: NDArray[np.float64], share: float, rng: np.random.Generator
) -> NDArray[np.bool_]:
    """A share of the plants, more of them in some places than in others."""
    wave, turn = rng.uniform(80, 400), rng.uniform(0, 2 * np.pi, 2)
    place = np.sin(plants_mm[:, 0] / wave + turn[0]) * np.sin(plants_mm[:, 1] / wave + turn[1])
    return np.asarray(rng.random(len(plants_mm)) < share * (1 + 0.7 * place))
