"""How many spots are enough.

n = (t · CV / E)², with E the relative half-width wanted (sample-size formula of the University of
Missouri's forest-measurement course; Cochran, Sampling Techniques). t depends on n, so n is found
by going up until the half-width fits.

Over strata with area shares W and their own CVs, ΣW·CV takes the place of CV, a finite number of
possible spots P lowers n to n/(1 + n/P), and each stratum gets its share of ΣW·CV (USDA Forest
Service Handbook 2409.12; Neyman's allocation for strata of equal means).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tillercount.errors import InputError

__all__ = [
    "MOST_SPOTS",
    "run_precision",
    "sample_size",
    "spots_to_clear",
    "stratified_size",
]

MOST_SPOTS = 200
"""More spots than anybody counts in one field; past it the answer is "not by more spots"."""


def sample_size(cv: float, relative: float, *, t: float) -> int:
    """Spots for an interval of ± ``relative`` × mean, by n = (t CV / E)² with a given t.

    Raises
    ------
    InputError
        A CV or t below zero, or a width that isn't above zero.
    """
    if not (relative > 0 and cv >= 0 and t >= 0):
        raise InputError(
            f"sample size needs cv ≥ 0, t ≥ 0 and a width above 0; got {cv}, {t}, {relative}"
        )
    return max(1, math.ceil((t * cv / relative) ** 2 - 1e-9))


def spots_to_clear(
    mean: float, border: float, cv: float, *, level: float = 0.9, shared_rel: float = 0.0
) -> int | None:
    """Spots in all until the interval around ``mean`` would leave ``border`` outside.

    Takes the mean and CV to stay as they are. Same half-width as
    `tillercount.field.estimate`: sqrt((t·CV·m/√n)² + (z·shared·m)²) with t at n-1.

    Returns
    -------
    int or None
        At least 2. None if no number up to `MOST_SPOTS` does it: the mean lies on the border, or
        the error shared by all photos alone reaches it (then count some spots by hand).
    """
    from scipy import stats

    upper = (1 + level) / 2
    fixed = float(stats.norm.ppf(upper)) * shared_rel * mean
    gap = abs(mean - border)
    for n in range(2, MOST_SPOTS + 1):
        t = float(stats.t.ppf(upper, n - 1))
        if math.hypot(t * cv * mean / math.sqrt(n), fixed) < gap:
            return n
    return None


def stratified_size(
    shares: Sequence[float],
    cvs: Sequence[float],
    relative: float,
    *,
    t: float = 2.0,
    population: float = math.inf,
) -> tuple[float, tuple[float, ...]]:
    """Spots for an interval of ± ``relative`` × mean over strata, and each stratum's part.

    Parameters
    ----------
    shares, cvs : sequences of equal length
        Share of the area and spot-to-spot CV of each stratum. Shares are scaled to add up to 1.
    population : float
        Number of possible spots; infinite for a field.

    Returns
    -------
    n, parts
        Not rounded; round them up.

    Raises
    ------
    InputError
        Lists of unequal length, shares or CVs below zero or all zero, a width not above zero.
    """
    if len(shares) != len(cvs) or not shares:
        raise InputError(f"{len(shares)} shares and {len(cvs)} CVs; give one of each per stratum")
    if min(*shares, *cvs) < 0 or sum(shares) <= 0 or sum(cvs) <= 0 or relative <= 0 or t <= 0:
        raise InputError("shares and CVs must be 0 or more and not all 0; width and t above 0")
    weights = [share * cv / sum(shares) for share, cv in zip(shares, cvs, strict=True)]
    n = (t * sum(weights) / relative) ** 2
    n /= 1 + n / population
    return n, tuple(n * weight / sum(weights) for weight in weights)


def run_precision(plants: float, gap_cv: float = 1.0) -> float:
    """Relative standard error of a density from so many plants in a run of row.

    Gaps between neighbours along a drilled row are close to independent (Liu et al. 2017, Plant
    Methods 13:38, gamma distributed), so the length that holds N of them has a relative standard
    error of gap_cv/√N; gap_cv is 1 for plants at random, less where they are spaced more evenly.

    Raises
    ------
    InputError
        Not above zero.
    """
    if not (plants > 0 and gap_cv > 0):
        raise InputError(f"plants and gap CV must be above 0; got {plants:g} and {gap_cv:g}")
    return gap_cv / math.sqrt(plants)
