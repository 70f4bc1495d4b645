"""How well the points that the network sees match the true bases, and from which score on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Matching", "best_threshold", "match_points"]

REACH_MM = 5.0
"""A point this near a true base, and no nearer to another, has found it."""
_GRID = tuple(round(0.1 + 0.02 * i, 2) for i in range(36))


@dataclass(frozen=True)
class Matching:
    """Points that found a base, points that found none, bases not found."""

    found: int
    wrong: int
    missed: int

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall; 1 if there was nothing to find or say."""
        total = 2 * self.found + self.wrong + self.missed
        return 2 * self.found / total if total else 1.0


def match_points(
    points: NDArray[np.floating[Any]], true: NDArray[np.floating[Any]], reach: float
) -> NDArray[np.bool_]:
    """Which of ``points`` (N, 2+), best first, find a base of ``true`` (M, 2) within ``reach``.

    One to one, nearest free base first for each point in turn.
    """
    hit = np.zeros(len(points), dtype=bool)
    if not len(true) or not len(points):
        return hit
    free = np.ones(len(true), dtype=bool)
    for i, point in enumerate(points):
        far = np.hypot(*(true - point[:2]).T)
        far[~free] = np.inf
        nearest = int(np.argmin(far))
        if far[nearest] <= reach:
            hit[i] = True
            free[nearest] = False
    return hit


def best_threshold(
    pictures: list[tuple[NDArray[np.floating[Any]], NDArray[np.floating[Any]]]], reach: float
) -> tuple[float, Matching]:
    """Score from which points are kept so that F1 is highest, and the matching it gives.

    Each picture is (points (N, 3) best first, decoded at a low score; true bases (M, 2)).
    Matching goes from the best point down, so one pass serves every threshold.
    """
    scores, hits, bases = [], [], 0
    for points, true in pictures:
        scores.append(points[:, 2])
        hits.append(match_points(points, true, reach))
        bases += len(true)
    score = np.concatenate(scores) if scores else np.zeros(0)
    hit = np.concatenate(hits) if hits else np.zeros(0, dtype=bool)
    best, best_matching = 0.3, Matching(0, 0, bases)
    for threshold in _GRID:
        kept = score >= threshold
        found = int(np.sum(hit & kept))
        matching = Matching(found, int(np.sum(kept)) - found, bases - found)
        if matching.f1 > best_matching.f1:
            best, best_matching = threshold, matching
    return best, best_matching
