"""The parameters of least cost: Levenberg's method, with points far off losing their weight."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["TAIL", "least"]

Array = NDArray[Any]

TAIL = 4.0
"""Squared error, of the typical one, from which on a point loses its weight (Cauchy's rule)."""


def least(
    p: Array,
    errors: Callable[[Array], Array],
    weight: Array,
    belief: Callable[[Array], tuple[Array, Array]],
    step: Array,
    *,
    rounds: int,
    enough: float,
) -> tuple[Array, float]:
    """Parameters (P,) of least cost from a rough start, and that cost.

    The cost is minus twice the logarithm of how likely the points and the beliefs are.

    Parameters
    ----------
    p : ndarray (P,), the start
    errors : parameters (K, P) to errors (K, N) of the points, of the typical one
    weight : ndarray (N,), readings that each point is worth
    belief : parameters (P,) to what is believed beforehand, as errors (B,) in units of their
        spread, and their slopes (B, P)
    step : ndarray (P,), steps for the slopes of the errors
    rounds, enough : how often to improve at most, and the gain in cost not worth another round
    """

    def price(r: Array, believed: Array) -> float:
        apart = float(TAIL * (weight * np.log1p(r**2 / TAIL)).sum())
        return apart + float((believed**2).sum())

    steps = np.vstack([np.zeros(len(p)), np.diag(step)])
    damping, cost = 1e-3, math.inf
    for _ in range(rounds):
        every = errors(p + steps)
        believed, lean = belief(p)
        r = every[0]
        cost = before = price(r, believed)
        slope = (every[1:] - r) / step[:, None]
        weighted = slope * (weight / (1 + r**2 / TAIL))
        pull = weighted @ r + believed @ lean
        curve = weighted @ slope.T + lean.T @ lean
        for _ in range(5):
            move = np.linalg.solve(curve + damping * np.diag(np.diag(curve) + 1e-9), -pull)
            trial = p + move
            now = price(errors(trial[None])[0], belief(trial)[0])
            if now < before:
                p, cost, damping = trial, now, max(damping / 5, 1e-6)
                break
            damping *= 6
        if before - cost < enough:
            break
    return p, cost
