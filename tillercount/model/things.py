"""Does a top view look like something that isn't a young stand of small grain: lawn, maize …

For each thing that was shown to it, a direction is kept along which pictures of that thing differ
from pictures of stands (Fisher's linear discriminant with a ridge), in the encoder's means over
the picture. `Novelty` finds what is far from all stands; this finds what is near to a known other
thing, which may be not far at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Resemblance", "Things"]

_RIDGE = 1.0
_QUANTILE = 0.9975
_FEWEST = 8

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Resemblance:
    """The ``thing`` that a view resembles most, and how much: 0 as the middle of all stands, 1 as
    much as 1 stand in 400, 2 about five standard deviations of stands away."""

    thing: str
    much: float


@dataclass(frozen=True)
class Things:
    """Directions of things.

    ``names`` (T); ``weights`` (T, E): score per unit of the embedding; ``middle`` and ``limit``
    (T): score of the middle stand, and score that 1 stand in 400 exceeds.
    """

    names: tuple[str, ...]
    weights: Array
    middle: Array
    limit: Array

    @classmethod
    def fit(
        cls,
        stands: NDArray[np.floating[Any]],
        others: NDArray[np.floating[Any]],
        things: Mapping[str, NDArray[np.floating[Any]]],
    ) -> Things | None:
        """Directions from embeddings of ``stands`` (n, E) and of things (m, E each), limits from
        ``others`` (k, E), stands that the directions weren't fitted on. None if nothing is left of
        things with at least 8 pictures."""
        e = np.asarray(stands, dtype=np.float64)
        mean, size = e.mean(0), e.std(0) + 1e-3
        z = (e - mean) / size
        spread = z.T @ z / max(1, len(z) - 1) + _RIDGE * np.eye(z.shape[1])
        named = {name: np.asarray(v, np.float64) for name, v in sorted(things.items())}
        named = {name: v for name, v in named.items() if len(v) >= _FEWEST}
        if not named or not len(others):
            return None
        away = np.array([((v - mean) / size).mean(0) for v in named.values()])
        weights = np.linalg.solve(spread, away.T).T / size
        scores = np.asarray(others, np.float64) @ weights.T
        return cls(
            tuple(named), weights, np.median(scores, 0), np.quantile(scores, _QUANTILE, axis=0)
        )

    def of(self, embedding: NDArray[np.floating[Any]]) -> Resemblance:
        """What a picture (E,) resembles most."""
        score = self.weights @ np.asarray(embedding, dtype=np.float64)
        much = (score - self.middle) / np.maximum(self.limit - self.middle, 1e-9)
        best = int(np.argmax(much))
        return Resemblance(self.names[best], float(much[best]))

    def tensors(self) -> dict[str, Any]:
        """Arrays for the bundle."""
        import torch

        return {"things.weights": torch.from_numpy(np.ascontiguousarray(self.weights))}

    def numbers(self) -> dict[str, Any]:
        """Plain values for the bundle's metadata."""
        return {
            "names": list(self.names), "middle": self.middle.tolist(), "limit": self.limit.tolist()
        }

    @classmethod
    def read(cls, tensors: Mapping[str, Any], numbers: Mapping[str, Any]) -> Things:
        """Directions out of a bundle."""
        return cls(
            tuple(numbers["names"]),
            tensors["things.weights"].double().numpy(),
            np.asarray(numbers["middle"], np.float64),
            np.asarray(numbers["limit"], np.float64),
        )
