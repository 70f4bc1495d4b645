"""Straight lines fitted to points that aren't all good."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Line", "fit_line", "four_lines", "in_order", "meet"]

Array = NDArray[Any]


@dataclass(frozen=True, eq=False)
class Line:
    """Points p with ``normal`` · p = ``offset``; normal (2,) unit."""

    normal: Array
    offset: float

    def distance(self, points: Array) -> Array:
        """Signed distance of points (N, 2), positive on the normal's side."""
        out: Array = points @ self.normal - self.offset
        return out

    def facing_away_from(self, point: Array) -> Line:
        """The same line with its normal pointing away from a point."""
        if self.normal @ point > self.offset:
            return Line(-self.normal, -self.offset)
        return self

    @property
    def along(self) -> Array:
        """Direction (2,), a quarter turn from the normal."""
        return np.array([-self.normal[1], self.normal[0]])


def in_order(lines: list[Line]) -> list[Line]:
    """Sides in the order in which one walks around, going by where their normals point."""
    return sorted(lines, key=lambda line: math.atan2(line.normal[1], line.normal[0]))


def meet(a: Line, b: Line) -> Array:
    """Where two lines cross (2,); far away where they are parallel."""
    matrix = np.stack([a.normal, b.normal])
    determinant = float(np.linalg.det(matrix))
    if abs(determinant) < 1e-9:
        return np.full(2, np.inf)
    point: Array = np.linalg.solve(matrix, np.array([a.offset, b.offset]))
    return point


def fit_line(points: Array, weights: Array | None = None, *, rounds: int = 8) -> Line:
    """Total least squares, points far off losing their weight (Tukey's biweight)."""
    base = np.ones(len(points)) if weights is None else np.asarray(weights, float)
    w = base
    line = Line(np.array([1.0, 0.0]), 0.0)
    for _ in range(rounds):
        total = max(float(w.sum()), 1e-12)
        centre = (points * w[:, None]).sum(0) / total
        d = points - centre
        _, vectors = np.linalg.eigh((d * w[:, None]).T @ d)
        line = Line(vectors[:, 0], float(vectors[:, 0] @ centre))
        off = np.abs(line.distance(points))
        scale = 1.4826 * _weighted_median(off, base) * 4.0 + 0.35
        w = base * np.clip(1 - (off / scale) ** 2, 0, None) ** 2
        if (w > 0).sum() < 3:
            break
    return line


def _weighted_median(values: Array, weights: Array) -> float:
    order = np.argsort(values)
    sums = np.cumsum(weights[order])
    if sums[-1] <= 0:
        return 0.0
    return float(values[order][np.searchsorted(sums, sums[-1] / 2)])


def four_lines(
    rim: Array, *, tolerance_px: float, rng: np.random.Generator, tries: int = 300
) -> list[tuple[Line, int]]:
    """Up to four lines that a closed rim (N, 2) consists of, each with its number of points.

    One after the other the line with the most points near it is taken and its points are
    removed; at the end all four share the points out again.
    """
    left = rim
    found: list[Line] = []
    least = max(12, int(0.04 * len(rim)))
    for _ in range(4):
        if len(left) < least:
            break
        a = rng.integers(0, len(left), tries)
        reach = max(3, len(left) // 3)
        b = np.mod(a + rng.integers(2, reach + 1, tries), len(left))
        d = left[b] - left[a]
        length = np.linalg.norm(d, axis=1)
        ok = length > 6 * tolerance_px
        if not ok.any():
            break
        n = np.column_stack([-d[:, 1], d[:, 0]])[ok] / length[ok, None]
        off = np.abs(left @ n.T - (left[a][ok] * n).sum(1))
        best = int(np.argmax((off < tolerance_px).sum(0)))
        near = off[:, best] < 2 * tolerance_px
        if near.sum() < least:
            break
        line = fit_line(left[near])
        found.append(line)
        left = left[np.abs(line.distance(left)) > 2.5 * tolerance_px]
    if not found:
        return []
    for _ in range(3):
        off = np.abs(np.stack([line.distance(rim) for line in found]))
        owner = np.where(off.min(0) < 3 * tolerance_px, off.argmin(0), -1)
        found = [
            fit_line(rim[owner == i]) if (owner == i).sum() >= 8 else line
            for i, line in enumerate(found)
        ]
    return [(line, int((owner == i).sum())) for i, line in enumerate(found)]
