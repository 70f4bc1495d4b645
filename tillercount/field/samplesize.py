"""How many spots are enough.

n = (t · CV / E)², with E the relative half-width wanted (sample-size formula of the University of
Missouri's forest-measurement course; Cochran, Sampling Techniques). t depends on n, so n is found
by going up until the half-width fits.
"""

from __future__ import annotations

import math

from tillercount.errors import InputError

__all__ = ["MOST_SPOTS", "sample_size", "spots_to_clear"]

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
