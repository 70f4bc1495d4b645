"""How unevenly plants stand from spot to spot, and whether one spot doesn't fit the rest.

**Index of dispersion.** For counts c at spots of area a, with λ = Σc/Σa, the index is
Σ(c - λa)²/(λa) / (n-1); for equal areas it is variance/mean. Plants thrown down at random give 1,
clumps and thin patches more, rows drilled evenly less. If they stand at random, (n-1) times the
index follows χ² with n-1 degrees of freedom (Fisher's index of dispersion test). Above 1, clumping
is told by the negative binomial's k = mean/(index - 1): the smaller, the patchier. A count by
photo carries its own error, which makes the index larger.

**The odd spot.** On the scale √(c + 3/8), where random counts scatter by 0.5 however many they are
(Anscombe 1948, Biometrika 35:246-254), each spot is held against the mean and scatter of the
others (the scatter not taken below 0.5, so that a chance difference is never odd). The most
distant one is odd if its t with n-2 degrees of freedom is less probable than 5 %, after allowing
for n looks. That is the deleted-residual form of Grubbs' test for one outlier (Technometrics 11,
1969, 1-21). Nothing is thrown out: a drowned corner is part of the field.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.errors import InputError
from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.units import per_ft2

__all__ = [
    "Dispersion",
    "OddSpot",
    "Under",
    "dispersion",
    "dispersion_of",
    "least_index",
    "odd_one",
    "share_under",
]

ODD = 0.05
EVEN = 0.05
"""Probability of so small an index below which spots are called too much alike."""
FEWEST_FOR_ODD = 4
FEW_PER_SPOT = 5.0
"""Fewer plants than this at a spot, in the mean, make the χ² test rough (Cochran's rule)."""


@dataclass(frozen=True)
class OddSpot:
    """A spot that doesn't fit the rest: its density and the mean of the others, per m²."""

    spot: str
    per_m2: float
    others_per_m2: float
    p: float


@dataclass(frozen=True)
class Dispersion:
    """Scatter from spot to spot.

    Attributes
    ----------
    what : {"plants", "shoots"}
    n : int
        Spots.
    counted : float
        How many plants or shoots in all.
    index : float or None
        Index of dispersion; None for one spot, or where nothing was found.
    p_clumped, p_even : float or None
        Probability of an index so large, or so small, if they stood at random.
    k : float or None
        Of the negative binomial; None where the index isn't above 1.
    rough : bool
        Whether there are too few per spot for the test to be trusted.
    by_photo : int
        Spots known by photo, whose own error is in the index.
    odd : OddSpot or None
    """

    what: str
    n: int
    counted: float
    index: float | None = None
    p_clumped: float | None = None
    p_even: float | None = None
    k: float | None = None
    rough: bool = False
    by_photo: int = 0
    odd: OddSpot | None = None

    @property
    def flags(self) -> tuple[str, ...]:
        """The odd spot, for the list of things to mind."""
        if self.odd is None:
            return ()
        return (
            f"{spot_text(self.odd.spot)} doesn't fit the rest: {per_ft2(self.odd.per_m2):.1f} "
            f"{self.what} per ft² against {per_ft2(self.odd.others_per_m2):.1f} at the others; "
            "look again at its count and its place (it stays in the mean)",
        )


@dataclass(frozen=True)
class Under:
    """Spots below a limit: ``share`` with its exact interval (Clopper and Pearson)."""

    limit_per_m2: float
    spots: int
    n: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share of the spots."""
        return self.spots / self.n


def dispersion(
    counts: Sequence[float], areas: Sequence[float] | None = None
) -> tuple[float | None, float | None, float | None]:
    """Index of dispersion, probability of more, probability of less.

    All None for fewer than two spots, or where nothing was counted.

    Raises
    ------
    InputError
        A count below zero, or an area not above it.
    """
    c = np.asarray(counts, float)
    a = np.ones_like(c) if areas is None else np.asarray(areas, float)
    if (c < 0).any() or not np.isfinite(c).all():
        raise InputError("counts must be numbers, 0 or more")
    if (a <= 0).any() or len(a) != len(c):
        raise InputError("each count needs its area, above 0")
    n = len(c)
    if n < 2 or c.sum() <= 0:
        return None, None, None
    from scipy import special

    expected = a * c.sum() / a.sum()
    chi2 = float(((c - expected) ** 2 / expected).sum())
    return (
        chi2 / (n - 1),
        float(special.chdtrc(n - 1, chi2)),
        float(special.chdtr(n - 1, chi2)),
    )


def least_index(n: int) -> float:
    """Index of n spots that plants at random fall below with the probability `EVEN`."""
    from scipy import special

    # chdtri takes the upper tail
    return float(special.chdtri(n - 1, 1 - EVEN)) / (n - 1)


def odd_one(counts: Sequence[float]) -> tuple[int, float] | None:
    """Which count doesn't fit the others, and how improbable that is; None where all fit.

    ``counts`` are per equal area. Fewer than 4 are never judged.
    """
    n = len(counts)
    if n < FEWEST_FOR_ODD:
        return None
    from scipy import special

    root = np.sqrt(np.asarray(counts, float) + 0.375)
    # mean and variance of the others, for each spot at once
    off = root - root.mean()
    squares = np.maximum(0.0, (off**2).sum() - off**2 * n / (n - 1))
    spread = np.maximum(np.sqrt(squares / (n - 2)), 0.5)
    t = np.abs(off) * n / (n - 1) / (spread * math.sqrt(1 + 1 / (n - 1)))
    best = int(np.argmax(t))
    worst = min(1.0, n * 2 * float(special.stdtr(n - 2, -t[best])))
    return (best, worst) if worst < ODD else None


def dispersion_of(spots: Sequence[SpotDensity], what: str) -> Dispersion | None:
    """Scatter of ``what`` over spots, one record each; None where no spot has it."""
    have = [s for s in spots if getattr(s, f"{what}_per_m2") is not None]
    if not have:
        return None
    density = np.array([getattr(s, f"{what}_per_m2") for s in have], float)
    areas = np.array([s.area_m2 for s in have])
    counts = density * areas
    index, more, less = dispersion(counts.tolist(), areas.tolist())
    mean_count = float(counts.mean())
    found = odd_one(density * areas.mean())
    odd = None
    if found is not None:
        i, p = found
        odd = OddSpot(have[i].spot, float(density[i]), float(np.delete(density, i).mean()), p)
    return Dispersion(
        what=what,
        n=len(have),
        counted=float(counts.sum()),
        index=index,
        p_clumped=more,
        p_even=less,
        k=mean_count / (index - 1) if index is not None and index > 1 else None,
        rough=mean_count < FEW_PER_SPOT,
        by_photo=sum(s.by(what) == "photo" for s in have),
        odd=odd,
    )


def share_under(
    spots: Sequence[SpotDensity], what: str, limit_per_m2: float, level: float = 0.9
) -> Under | None:
    """How many spots lie below a limit, with an exact binomial interval for the share.

    Returns
    -------
    Under or None
        None where no spot has ``what``.
    """
    from scipy import special

    values = [v for s in spots if (v := getattr(s, f"{what}_per_m2")) is not None]
    n = len(values)
    if n == 0:
        return None
    # a value on the limit isn't under it, whatever the way through per m² does to it
    k = sum(value < limit_per_m2 * (1 - 1e-9) for value in values)
    tail = (1 - level) / 2
    return Under(
        limit_per_m2,
        k,
        n,
        low=0.0 if k == 0 else float(special.betaincinv(k, n - k + 1, tail)),
        high=1.0 if k == n else float(special.betaincinv(k + 1, n - k, 1 - tail)),
    )
