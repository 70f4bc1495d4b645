"""Figures that say how good counts and maps are; pure functions of numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["CountFigures", "Row", "count_figures", "polygon_iou", "thirds"]


@dataclass(frozen=True)
class Row:
    """One photo with known counts, as it was counted.

    ``true``, ``count``, ``low``, ``high``, ``variance`` are (plants, shoots); the last four are
    None for a refused photo. ``unusable``: why a careful person would have taken the photo again
    (see `tillercount.train.usable`), or None. ``found``: whether a marked area was accepted, also
    where the photo was refused for something else. ``weeds``: (broadleaf, grass) in the marked
    area, where that is known.
    """

    name: str
    kind: str
    status: str
    reason: str | None
    area_ft2: float
    true: tuple[float, float]
    count: tuple[float, float] | None = None
    low: tuple[float, float] | None = None
    high: tuple[float, float] | None = None
    variance: tuple[float, float] | None = None
    novelty: float = math.nan
    outline_iou: float = math.nan
    seconds: float = math.nan
    flags: tuple[str, ...] = ()
    unusable: str | None = None
    found: bool = False
    weeds: tuple[int, int] | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for a file."""
        return asdict(self)

    @classmethod
    def read(cls, values: dict[str, Any]) -> Row:
        """Row out of a file."""
        given: dict[str, Any] = {
            k: tuple(v) if isinstance(v, list) else v for k, v in values.items()
        }
        return cls(**given)


@dataclass(frozen=True)
class CountFigures:
    """Errors of one quantity over photos.

    ``rel_rmse``: root mean squared error over the mean true count; ``bias``: mean error over the
    mean true count; ``r2``: share of the variance explained by the count as it stands;
    ``coverage``: share of intervals that hold the true count; ``width_ratio``: mean width over
    that of a normal distribution of the same RMSE. ``by_third``: the same by density.
    """

    n: int
    mean_true: float
    rel_rmse: float
    bias: float
    r2: float
    coverage: float
    width_ratio: float
    by_third: tuple[CountFigures, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for a file."""
        return asdict(self)


def thirds(density: NDArray[np.float64]) -> list[NDArray[np.int64]]:
    """Indices of the thinnest, middle and thickest third."""
    return [np.sort(part) for part in np.array_split(np.argsort(density, kind="stable"), 3)]


def count_figures(
    true: Sequence[float] | NDArray[np.float64],
    count: Sequence[float] | NDArray[np.float64],
    low: Sequence[float] | NDArray[np.float64],
    high: Sequence[float] | NDArray[np.float64],
    *,
    density: Sequence[float] | NDArray[np.float64] | None = None,
    level: float = 0.9,
) -> CountFigures:
    """Figures of one quantity; with ``density``, for each third of it too.

    Raises
    ------
    ValueError
        No photos.
    """
    t, c, lo, hi = (np.asarray(a, dtype=np.float64) for a in (true, count, low, high))
    if not len(t):
        raise ValueError("no photos to take figures of")
    error = c - t
    mean = float(t.mean())
    rmse = float(np.sqrt(np.mean(error**2)))
    spread = float(np.mean((t - mean) ** 2))
    gaussian = 2 * NormalDist().inv_cdf((1 + level) / 2) * rmse
    parts: tuple[CountFigures, ...] = ()
    if density is not None and len(t) >= 9:
        parts = tuple(
            count_figures(t[i], c[i], lo[i], hi[i], level=level)
            for i in thirds(np.asarray(density, dtype=np.float64))
        )
    return CountFigures(
        n=len(t),
        mean_true=mean,
        rel_rmse=rmse / mean if mean else math.nan,
        bias=float(error.mean()) / mean if mean else math.nan,
        r2=1 - float(np.mean(error**2)) / spread if spread else math.nan,
        coverage=float(np.mean((lo <= t) & (t <= hi))),
        width_ratio=float(np.mean(hi - lo)) / gaussian if gaussian else math.nan,
        by_third=parts,
    )


def polygon_iou(one: NDArray[np.float64], two: NDArray[np.float64]) -> float:
    """Intersection over union of two polygons (N, 2); 0 where both are empty."""
    from shapely import Polygon, make_valid

    a, b = (make_valid(Polygon(ring)) for ring in (one, two))
    union = float(a.union(b).area)
    return float(a.intersection(b).area) / union if union else 0.0
