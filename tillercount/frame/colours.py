"""How likely a colour is on one thing and on another, by counting what is seen of each."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["codes_of", "colours_of", "likeness", "shares_of"]

Array = NDArray[Any]

COLOUR_BINS = 12
SMOOTH = 0.5 * np.eye(COLOUR_BINS) + 0.25 * (np.eye(COLOUR_BINS, k=1) + np.eye(COLOUR_BINS, k=-1))
SMOOTH[[0, -1], [0, -1]] += 0.25
"""The outermost bins stand for what lies beyond them."""
MOST_LIKELY = 4.0
"""No single colour says more than this, a logarithm."""


def codes_of(rgb: NDArray[np.float32]) -> NDArray[np.int64]:
    """A number for each colour (..., 3), alike for colours that are nearly alike."""
    bins = np.minimum((rgb * (COLOUR_BINS / 256)).astype(np.int64), COLOUR_BINS - 1)
    return (bins[..., 0] * COLOUR_BINS + bins[..., 1]) * COLOUR_BINS + bins[..., 2]


def colours_of(codes: NDArray[np.int64]) -> Array:
    """Smoothed histogram of colour codes, flat."""
    counts = np.bincount(codes, minlength=COLOUR_BINS**3).astype(float)
    cube = counts.reshape(COLOUR_BINS, COLOUR_BINS, COLOUR_BINS)
    for _ in range(3):
        # one axis after the other comes first
        cube = np.moveaxis((SMOOTH @ cube.reshape(COLOUR_BINS, -1)).reshape(cube.shape), 0, 2)
    return cube.reshape(-1)


def shares_of(counts: Array) -> Array:
    """How likely each colour is, from counts; none is impossible."""
    return np.asarray((counts + 1e-3) / (counts.sum() + 1e-3 * counts.size))


def likeness(
    rgb: NDArray[np.float32], ground: NDArray[np.bool_], thing: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """How much likelier each colour (N, K) is on the ground than on a thing or on anything else,
    and how much likelier on the thing than on the ground or anything else; logarithms.

    ``ground``, ``thing`` (N, K): where either of them is known to be seen.
    """
    code = codes_of(rgb)
    on_ground, on_thing = (
        np.log(shares_of(colours_of(code[some]))) for some in (ground, thing)
    )
    anything = -math.log(len(on_ground))
    to_ground, to_thing = (
        np.clip(one - np.maximum(other, anything), -MOST_LIKELY, MOST_LIKELY)[code]
        for one, other in ((on_ground, on_thing), (on_thing, on_ground))
    )
    return to_ground, to_thing
