"""Intervals of counts that hold as often as they say: normalised split conformal prediction.

Errors of counts on photos with known truth are divided by a size that depends on the count and
on the network's own variance, and the spread of those scores gives the interval of a new count
(Lei et al. 2018, J. Am. Stat. Assoc. 113:1094). Counts are compared on a log or root scale, so
intervals are wider above than below, as errors of counts are. Scores are kept with their sign:
a count that runs low gets an interval that reaches further up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError

__all__ = ["Calibration", "conformal_quantile", "coverage_spread"]

_GROUP_MIN = 40
_NEEDED = 19
_SCALES = ("log", "sqrt")
_SCORES_KEPT = 400


def conformal_quantile(scores: NDArray[np.float64], level: float) -> float:
    """The ceil((n + 1) level)-th smallest score, infinite if there are too few.

    A new score, exchangeable with these n, is at most this with probability ``level`` or more.
    """
    n = len(scores)
    k = math.ceil((n + 1) * level - 1e-9)
    return math.inf if k > n else float(np.partition(scores, max(k, 1) - 1)[max(k, 1) - 1])


def coverage_spread(n: int, level: float = 0.9) -> tuple[float, float]:
    """Range (5 to 95 %) of the coverage that an interval calibrated on n photos really has.

    The coverage, given the calibration photos, follows Beta(k, n + 1 - k) with
    k = ceil((n + 1) level) (Vovk 2012, arXiv 1209.2673).
    """
    from scipy.stats import beta

    k = min(n, math.ceil((n + 1) * level - 1e-9))
    return float(beta.ppf(0.05, k, n + 1 - k)), float(beta.ppf(0.95, k, n + 1 - k))


@dataclass(frozen=True)
class Calibration:
    """Calibration of one quantity (plants or shoots).

    Attributes
    ----------
    scale : str
        "log": log(count + 1); "sqrt": root of (count + 3/8).
    slope : tuple of float
        Log of the error's size = slope[0] + slope[1] log(count + 1) + slope[2] log of
        (variance + 1) / (count + 1).
    within : tuple
        Smallest and largest of the two regressors met in calibration.
    edges : tuple of float
        Predicted counts that part the groups; empty for one group.
    scores : tuple of tuples
        Sorted signed scores of each group.
    dispersion : float
        Squared error per counted unit among the smallest counts; the floor of the interval.
    n : int
        Photos.
    source : str
        What kind of photos they were.
    """

    scale: str
    slope: tuple[float, float, float]
    within: tuple[tuple[float, float], tuple[float, float]]
    edges: tuple[float, ...]
    scores: tuple[tuple[float, ...], ...]
    dispersion: float
    n: int
    source: str

    @classmethod
    def fit(
        cls,
        predicted: Sequence[float] | NDArray[np.float64],
        variance: Sequence[float] | NDArray[np.float64],
        true: Sequence[float] | NDArray[np.float64],
        source: str,
        widen: Sequence[float] | NDArray[np.float64] | None = None,
    ) -> Calibration:
        """Calibrate on photos with known counts, arrays of length n.

        ``widen`` is what the interval of each photo is stretched by for its own faults (see
        `interval`); errors of doubtful photos then don't widen the intervals of good ones as
        well. The scale is the one of the two that gives the narrower 90 % intervals.

        Raises
        ------
        InputError
            Too few photos for a 90 % interval (fewer than 19), or numbers that make no sense.
        """
        p, v, t = (np.asarray(a, dtype=np.float64) for a in (predicted, variance, true))
        if len(p) < _NEEDED:
            raise InputError(
                f"{len(p)} photos are too few to calibrate a 90 % interval; "
                f"give at least {_NEEDED} photos with known counts"
            )
        if not (np.isfinite(p).all() and np.isfinite(v).all() and np.isfinite(t).all()):
            raise InputError("a predicted or true count isn't a number; check the predictions file")
        w = np.ones(len(p)) if widen is None else np.asarray(widen, dtype=np.float64)
        tries = [cls._fit(p, v, t, w, source, scale) for scale in _SCALES]
        widths = [
            np.mean(
                [
                    np.subtract(*c.interval(a, b, widen=x)[::-1])
                    for a, b, x in zip(p, v, w, strict=True)
                ]
            )
            for c in tries
        ]
        return tries[int(np.argmin(widths))]

    @classmethod
    def _fit(
        cls,
        p: NDArray[np.float64],
        v: NDArray[np.float64],
        t: NDArray[np.float64],
        widen: NDArray[np.float64],
        source: str,
        scale: str,
    ) -> Calibration:
        error = (_forward(t, scale) - _forward(p, scale)) / widen
        x = np.column_stack([np.log(p + 1), np.log((v + 1) / (p + 1))])
        y = np.log(np.abs(error) + 0.02)
        middle = x.mean(0)
        # A little shrinkage keeps the slopes tame when photos are few.
        a = (x - middle).T @ (x - middle) + 0.05 * len(x) * np.eye(2)
        b = np.linalg.solve(a, (x - middle).T @ (y - y.mean()))
        slope = (float(y.mean() - b @ middle), float(b[0]), float(b[1]))
        within = tuple((float(lo), float(hi)) for lo, hi in zip(x.min(0), x.max(0), strict=True))
        small = p <= np.quantile(p, 1 / 3)
        dispersion = float(np.median((t - p)[small] ** 2 / (p[small] + 0.5)) / 0.455)
        empty = cls(scale, slope, within, (), ((),), dispersion, len(p), source)  # type: ignore[arg-type]
        score = error / np.array([empty.size(a, b) for a, b in zip(p, v, strict=True)])
        edges = tuple(float(e) for e in np.quantile(p, [1 / 3, 2 / 3]))
        group = np.searchsorted(edges, p, side="right")
        if min(np.bincount(group, minlength=3)) < _GROUP_MIN:
            edges, group = (), np.zeros(len(p), dtype=int)
        scores = tuple(_thin(np.sort(score[group == g])) for g in range(len(edges) + 1))
        return cls(scale, slope, within, edges, scores, dispersion, len(p), source)  # type: ignore[arg-type]

    def size(self, count: float, variance: float) -> float:
        """Expected size of the error on the chosen scale; regressors stay in what was met."""
        x = (math.log(max(count, 0) + 1), math.log((max(variance, 0) + 1) / (max(count, 0) + 1)))
        near = [min(max(a, lo), hi) for a, (lo, hi) in zip(x, self.within, strict=True)]
        return math.exp(self.slope[0] + self.slope[1] * near[0] + self.slope[2] * near[1])

    def interval(
        self, count: float, variance: float, level: float = 0.9, widen: float = 1.0
    ) -> tuple[float, float]:
        """Low and high of a predicted count; ``widen`` stretches both arms.

        Raises
        ------
        InputError
            The level isn't between 0.5 and 0.99, or too few photos for it were calibrated on.
        """
        if not 0.5 <= level <= 0.99:
            raise InputError(f"interval level {level:g} is outside 0.5 to 0.99; 0.9 is usual")
        scores = np.asarray(self.scores[int(np.searchsorted(self.edges, count, side="right"))])
        tail = (1 - level) / 2
        high = conformal_quantile(scores, 1 - tail)
        low = -conformal_quantile(-scores, 1 - tail)
        if not (math.isfinite(high) and math.isfinite(low)):
            raise InputError(
                f"interval level {level:g} needs more calibration photos than the "
                f"{len(scores)} of this model; use a lower level"
            )
        size = self.size(count, variance) * widen
        middle = float(_forward(np.array(count), self.scale))
        bottom = _backward(middle + size * min(low, 0.0), self.scale)
        top = _backward(middle + size * max(high, 0.0), self.scale)
        # Near zero the scale flattens out: keep at least the spread of a rare thing's count.
        from statistics import NormalDist

        z = NormalDist().inv_cdf(1 - tail)
        least = z * math.sqrt(min(self.dispersion, 1.0) * max(count, 0.5)) * widen
        if count < 3:
            bottom, top = min(bottom, count - least), max(top, count + least)
        return max(0.0, bottom), max(top, count)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for the bundle's metadata."""
        return asdict(self)

    @classmethod
    def read(cls, values: dict[str, Any]) -> Calibration:
        """Calibration out of a bundle's metadata."""
        return cls(
            scale=str(values["scale"]),
            slope=tuple(values["slope"]),
            within=tuple(tuple(w) for w in values["within"]),  # type: ignore[arg-type]
            edges=tuple(values["edges"]),
            scores=tuple(tuple(s) for s in values["scores"]),
            dispersion=float(values["dispersion"]),
            n=int(values["n"]),
            source=str(values["source"]),
        )


def _thin(scores: NDArray[np.float64]) -> tuple[float, ...]:
    """At most `_SCORES_KEPT` of the sorted scores, evenly by rank, ends kept.

    Fewer scores make the finite-sample correction larger, so this errs towards wide.
    """
    if len(scores) > _SCORES_KEPT:
        ranks = np.linspace(0, len(scores) - 1, _SCORES_KEPT)
        scores = np.interp(ranks, np.arange(len(scores)), scores)
    return tuple(round(float(s), 5) for s in scores)


def _forward(count: NDArray[np.float64], scale: str) -> NDArray[np.float64]:
    clipped = np.maximum(count, 0)
    return np.log(clipped + 1) if scale == "log" else np.sqrt(clipped + 0.375)


def _backward(value: float, scale: str) -> float:
    return math.exp(value) - 1 if scale == "log" else max(value, 0.0) ** 2 - 0.375
