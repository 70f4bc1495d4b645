"""Does a top view look like something that isn't a young stand of small grain: lawn, maize …

For each thing that was shown to it, a direction is kept along which pictures of that thing differ
from pictures of stands (Fisher's linear discriminant with a ridge), in the encoder's means over
the picture. `Novelty` finds what is far from all stands; this finds what is near to a known other
thing, which may be not far at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Resemblance", "Things"]

_RIDGE = 1.0
"""Added to the spread of features that are standardised: hundreds of them from a few hundred
pictures would otherwise follow chance (0.3 and 3 told about as many test pictures apart)."""
_QUANTILE = 0.9975
_LEAST_LIMIT = 3.0
"""Standard deviations of stands: what few stands left out can't say of the one in 400."""
_FEWEST, _FEWEST_HELD = 8, 100

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Resemblance:
    """The ``thing`` that a view resembles most, and how much: 0 as the middle of all stands, 1 as
    much as 1 stand in 400 does. ``growing``: it would be counted as a stand."""

    thing: str
    much: float
    growing: bool


@dataclass(frozen=True)
class Things:
    """Directions of things.

    ``names`` (T); ``growing``, those of them that would be counted as a stand; ``weights`` (T, E):
    score per unit of the embedding; ``middle`` (T): median score of stands; ``limit`` (T): how
    far above it 1 stand in 400 scores. A limit for each, since some stands are all but bare and
    some all but closed: one for all would be theirs. So of stands up to T in 400 reach one.
    """

    names: tuple[str, ...]
    growing: tuple[str, ...]
    weights: Array
    middle: Array
    limit: Array

    @classmethod
    def fit(
        cls,
        stands: NDArray[np.floating[Any]],
        others: NDArray[np.floating[Any]],
        things: Mapping[str, NDArray[np.floating[Any]]],
        growing: Sequence[str] = (),
    ) -> Things | None:
        """Directions from embeddings of ``stands`` (n, E) and of things (m, E each), limits from
        ``others`` (k, E), stands that the directions weren't fitted on.

        None if nothing is left of things with at least 8 pictures, or ``others`` are fewer than
        100.
        """
        e = np.asarray(stands, dtype=np.float64)
        mean, size = e.mean(0), e.std(0) + 1e-3
        z = (e - mean) / size
        spread = z.T @ z / max(1, len(z) - 1) + _RIDGE * np.eye(z.shape[1])
        named = {name: np.asarray(v, np.float64) for name, v in sorted(things.items())}
        named = {name: v for name, v in named.items() if len(v) >= _FEWEST}
        if not named or len(others) < _FEWEST_HELD:
            return None
        away = np.array([((v - mean) / size).mean(0) for v in named.values()])
        weights = np.linalg.solve(spread, away.T).T / size
        scores = np.asarray(others, np.float64) @ weights.T
        middle, deviation = np.median(scores, 0), scores.std(0) + 1e-9
        beyond = np.quantile(scores, _QUANTILE, axis=0) - middle
        limit = np.maximum(beyond, _LEAST_LIMIT * deviation)
        return cls(tuple(named), tuple(growing), weights, middle, limit)

    def of(self, embedding: NDArray[np.floating[Any]]) -> Resemblance:
        """What a picture (E,) resembles most."""
        score = self.weights @ np.asarray(embedding, dtype=np.float64)
        much = (score - self.middle) / self.limit
        best = int(np.argmax(much))
        name = self.names[best]
        return Resemblance(name, float(much[best]), name in self.growing)

    def tensors(self) -> dict[str, Any]:
        """Arrays for the bundle."""
        import torch

        return {"things.weights": torch.from_numpy(np.ascontiguousarray(self.weights))}

    def numbers(self) -> dict[str, Any]:
        """Plain values for the bundle's metadata."""
        return {
            "names": list(self.names), "growing": list(self.growing),
            "middle": self.middle.tolist(), "limit": self.limit.tolist(),
        }

    @classmethod
    def read(cls, tensors: Mapping[str, Any], numbers: Mapping[str, Any]) -> Things:
        """Directions out of a bundle."""
        return cls(
            tuple(numbers["names"]),
            tuple(numbers["growing"]),
            tensors["things.weights"].double().numpy(),
            np.asarray(numbers["middle"], np.float64),
            np.asarray(numbers["limit"], np.float64),
        )
