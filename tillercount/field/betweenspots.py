"""How far a field's mean may lie from that of a few spots, whose own spread is poorly known.

**Why.** One spot says nothing of how much spots differ, and two or three little: spots that happen
to look alike make Student's t interval far too short in just those fields (of simulated fields, in
the quarter whose three spots differ least, it holds in 75 of 100 where 90 are meant:
``scripts/simulate_sampling.py``). Counts are skewed besides: a mean that came out low lies further
from the truth than one that came out high.

**How.** The spot-to-spot CV c is given a lognormal prior and what the spots say of it:
p(c) ∝ prior(c) · e^-(n-1) · exp(-(n-1)·CV²/(2e²)), as if their spread were that of normal counts
around the CV e that n skewed ones have between them on average, e² = c²/(1 + c²/n). For gamma
counts that is exact, since their mean m and s/m are independent (Lukacs 1955, Ann. Math. Statist.
26:319-324; cited from memory): the mean of (s/m)² is that of s², c²μ², over that of m²,
μ²(1 + c²/n). Without it a few spots of a very uneven field look more even than the field is, and
the 90 % interval holds in about one of 100 such fields fewer. Given c, the logarithm of truth over
mean is normal with variance ln(1 + c²/n), plus ln(1 + r²) for each relative error r besides. Taken
over all c that is a mixture of normals whose tails are heavy: with one spot its kurtosis is that of
a Student's t with about 5 degrees of freedom.

**The prior.** Its middle, 45 %, is the published example of a poor, uneven stand (South Dakota
State, Graham & Fanning: counts 10, 16, 8, 6, 18 have a CV of 44.6 %). Its width, a factor e^0.5
for one standard deviation, is a convention of our own: nine fields of ten then lie between 20 % and
102 %. An even crop reaches the lower end: ears in the 540 square feet of a uniformity trial have a
CV of 22 % (computed from the data set ``smith.wheat.uniformity`` of agridat, plots joined by twos;
Smith 1938, J. Agric. Sci. 28:1-23, and plots of half a square foot: both from memory).
A CV below that of plants placed at random is not believed, 1/√(plants counted at a spot).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["ASSUMED_CV", "ASSUMED_DF", "LOG_SD", "Ratio", "ratio_of", "usual_cvs"]

ASSUMED_CV = 0.45
"""Middle of the spot-to-spot CVs taken for possible (SDSU, Graham & Fanning: 44.6 %)."""
LOG_SD = 0.5
"""Standard deviation of the CV's natural logarithm: a convention of our own."""
ASSUMED_DF = 5.0
"""Degrees of freedom of the Student's t whose tails are about as heavy as one spot's mixture."""

Floats = float | NDArray[np.float64]

_NODES = 61
_REACH = 3.0
"""The prior is taken at so many CVs, up to so many standard deviations to either side."""


@dataclass(frozen=True, eq=False)
class Ratio:
    """Truth over mean, as a mixture of normals of its logarithm; its median is 1.

    Attributes
    ----------
    cv, others, least : as given to `ratio_of`
        What it was reckoned from.
    cvs : array of float, shape (..., K)
        Spot-to-spot CVs held for possible.
    weights : array of float, shape (..., K)
        How probable each is; they sum to 1 over the last axis.
    sds : array of float, shape (..., K)
        Standard deviation of the logarithm, given each.
    """

    cv: Floats | None
    others: Floats
    least: Floats
    cvs: NDArray[np.float64]
    weights: NDArray[np.float64]
    sds: NDArray[np.float64]

    def record(self) -> dict[str, float | None]:
        """What it was reckoned from, as plain values, so that it can be worked out again."""
        return {
            "middle_cv": ASSUMED_CV,
            "log_sd": LOG_SD,
            "seen_cv": None if self.cv is None else float(self.cv),
            "others_rel": float(self.others),
            "least_cv": float(self.least),
        }

    def under(self, log_ratio: ArrayLike) -> NDArray[np.float64]:
        """Probability that the logarithm of truth over mean is below this; shape as given."""
        from scipy import special

        z = np.asarray(log_ratio, float)[..., None] / self.sds
        return np.asarray((self.weights * special.ndtr(z)).sum(axis=-1))

    def factor(self, upper: float) -> float:
        """Truth over mean that is stayed below with probability ``upper``, from 0.5 on.

        The lower end at the same level is one over it.
        """
        from scipy import special

        # between what the least and the largest spread alone would give
        z = float(special.ndtri(upper))
        low, high = z * float(self.sds.min()), z * float(self.sds.max())
        while high - low > 1e-12 + 1e-10 * high:
            middle = (low + high) / 2
            low, high = (middle, high) if self.under(middle) < upper else (low, middle)
        return math.exp((low + high) / 2)


@cache
def _prior() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """CVs, and the logarithm of how probable each is before any spot is seen."""
    steps = np.linspace(-_REACH, _REACH, _NODES)
    return ASSUMED_CV * np.exp(LOG_SD * steps), -(steps**2) / 2


def usual_cvs() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """CVs held for possible before any spot is seen, and how probable each is; they sum to 1."""
    cvs, log_p = _prior()
    weights = np.exp(log_p)
    return cvs, weights / weights.sum()


def ratio_of(
    n: int, cv: Floats | None = None, *, others: Floats = 0.0, least: Floats = 0.0
) -> Ratio:
    """What n spots with this CV between them say about truth over mean.

    Parameters
    ----------
    n : int
        Spots.
    cv : float or array, optional
        Standard deviation between them over their mean; None for one spot.
    others : float or array
        Relative standard error of the mean from all else, which more spots don't average out.
    least : float or array
        CV that spots have at least, plants standing at random.
    """
    c, log_p = _prior()
    cvs = np.maximum(c, np.asarray(least, float)[..., None])
    if cv is not None:
        seen = np.asarray(cv, float)[..., None]
        square = cvs**2 / (1 + cvs**2 / n)  # of the CV that n spots have between them
        log_p = log_p - (n - 1) * (np.log(square) + seen**2 / square) / 2
    p = np.exp(log_p - log_p.max(axis=-1, keepdims=True))
    more = np.log1p(np.asarray(others, float)[..., None] ** 2)
    sds = np.sqrt(np.log1p(cvs**2 / n) + more)
    return Ratio(cv, others, least, cvs, p / p.sum(axis=-1, keepdims=True), sds)
