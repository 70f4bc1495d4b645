"""How unlike its training pictures a top view looks to the network.

The means of the encoder's stages over the picture are compared with those of training pictures
by Mahalanobis distance in their leading directions, plus what those directions leave over. One
unit is the distance that 0.5 % of pictures of the training kind exceed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Novelty"]

_DIRECTIONS = 64
_QUANTILE = 0.995


@dataclass(frozen=True)
class Novelty:
    """Yardstick fitted by `fit`.

    ``mean`` and ``size`` (E,): centre and spread of each feature; ``basis`` (E, K): whitening
    directions; ``rest``: usual squared size of what the directions leave over; ``limit``: raw
    distance that equals 1; ``n``: pictures that the limit was taken from.
    """

    mean: NDArray[np.float64]
    size: NDArray[np.float64]
    basis: NDArray[np.float64]
    rest: float
    limit: float
    n: int

    @classmethod
    def fit(
        cls, embeddings: NDArray[np.floating[Any]], others: NDArray[np.floating[Any]]
    ) -> Novelty:
        """Fit directions on ``embeddings`` (n, E), and the limit on ``others`` (m, E).

        The two must be different pictures: distances of the very pictures that the directions
        were fitted on come out too small.
        """
        e = np.asarray(embeddings, dtype=np.float64)
        mean, size = e.mean(0), e.std(0) + 1e-3
        z = (e - mean) / size
        _, s, vt = np.linalg.svd(z, full_matrices=False)
        k = max(1, min(_DIRECTIONS, len(e) // 4, len(s)))
        deviation = s[:k] / np.sqrt(max(1, len(e) - 1)) + 1e-6
        basis = vt[:k].T
        left = z - z @ basis @ basis.T
        rest = float((left**2).sum(1).mean()) + 1e-6
        raw = cls(mean, size, basis / deviation, rest, 1.0, len(others))
        distances = [raw.of(x) for x in np.asarray(others, dtype=np.float64)]
        limit = float(np.quantile(distances, _QUANTILE)) if distances else 1.0
        return cls(mean, size, basis / deviation, rest, max(limit, 1e-6), len(others))

    def of(self, embedding: NDArray[np.floating[Any]]) -> float:
        """Distance of one picture (E,); above 1 is unusual."""
        z = (np.asarray(embedding, dtype=np.float64) - self.mean) / self.size
        white = z @ self.basis
        lengths = np.linalg.norm(self.basis, axis=0)
        unit = self.basis / lengths
        left = z - (z @ unit) @ unit.T
        raw = np.sqrt((np.mean(white**2) + float(left @ left) / self.rest) / 2)
        return float(raw / self.limit)

    def tensors(self) -> dict[str, Any]:
        """Arrays for the bundle."""
        import torch

        arrays = {"mean": self.mean, "size": self.size, "basis": self.basis}
        return {
            f"novelty.{k}": torch.from_numpy(np.ascontiguousarray(v)) for k, v in arrays.items()
        }

    def numbers(self) -> dict[str, float]:
        """Plain values for the bundle's metadata."""
        return {"rest": self.rest, "limit": self.limit, "n": self.n}

    @classmethod
    def read(cls, tensors: dict[str, Any], numbers: dict[str, Any]) -> Novelty:
        """Yardstick out of a bundle."""
        mean, size, basis = (
            tensors[f"novelty.{k}"].double().numpy() for k in ("mean", "size", "basis")
        )
        return cls(
            mean, size, basis, float(numbers["rest"]), float(numbers["limit"]), int(numbers["n"])
        )
