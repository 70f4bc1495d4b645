"""Mean density of some spots, with an interval that carries every error known.

**The interval.** With spot values y₁…yₙ, mean m and standard deviation s between spots, the
half-width at level L is

    half = sqrt( (t · s/√n)²  +  (z · B)² )

- t: Student's quantile at (1+L)/2 with n-1 degrees of freedom. s/√n already holds the random error
  of each photo's own count, because that error is part of what differs between spots.
- B = Σ bᵢ·yᵢ / n: the shared error. bᵢ is the relative standard error that all photos of one model
  have in common (0 for hand counts); more photos don't average it out. z is the normal quantile.

Without photos B is 0 and this is the plain t interval of the spot means. The low end stops at 0.

**Few spots** say little about how much spots differ, and one nothing. So the interval reaches, at
either end, at least as far as spots of the usual spread would have it (`.betweenspots`: m times or
over a factor), with all errors but the scatter of the spots added: the shared error, and for one
spot its own. The t interval of one spot is m ± z·sqrt(se² + (CV·m)² + B²) with a CV of 45 %. How
probable it is that the field's mean is below any density follows the same rule: on either side of m
the wider of both (`believed_under`).

**Spots too much alike** don't mean certainty: counts that were rounded, or copied from one spot to
the next, look so too. Plants placed at random along the row (gaps between them are close to that:
Liu et al. 2017, Plant Methods 13:38) scatter with the variance P = m·mean(1/a) over spots of area
a, and by Fisher's dispersion test (Statistical Methods for Research Workers, 1925; see
`tillercount.field.dispersion`) the index I = s²/P falls below c = χ²(5 %, n-1)/(n-1) in one field
of 20 only. From c on the interval is the plain t interval. Below c the scatter of random plants
steps in for s², the more so the further below: s² + (1 - I/c)·P, which meets s² at c and is P
where all spots are the same. That blend is the project's own convention; a floor at c·P would be
simpler, but gives three equal counts of 20 an interval of ±1.7. Where nothing at all was counted,
the upper end is the exact Poisson limit for 0 in the whole area seen, -ln((1-L)/2)/Σa.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tillercount.field.betweenspots import ASSUMED_CV, ASSUMED_DF, Ratio, ratio_of
from tillercount.field.dispersion import dispersion, least_index
from tillercount.field.spots import SpotDensity

__all__ = [
    "ASSUMED_CV",
    "ASSUMED_DF",
    "DensityEstimate",
    "Scatter",
    "believed_under",
    "mean_of_spots",
    "normal",
    "pooled_df",
    "student",
]


@dataclass(frozen=True)
class Scatter:
    """What the interval of a mean is made of, so that more spots can be reckoned with.

    Without pairs the mean of N spots has the variance spot_sd²/N, and the shared error of the
    photos besides. With pairs (`tillercount.field.double`) it is signal_sd²/N + error_sd²/n.

    Attributes
    ----------
    spots : int
        N, all spots.
    pairs : int
        n, spots with a photo and a hand count that enter as pairs; 0 where pairs aren't used.
    photos : int
        Spots known by photo alone.
    spot_sd : float
        Standard deviation between spots, per m².
    signal_sd, error_sd : float
        The part of it that photos see, and that of hand counts around what photos say.
    fitted : int
        Numbers fitted: 1 (a mean, or a mean difference), 2 (a line), and what is charged besides
        (`tillercount.field.choosing`).
    shared : float
        Standard error that all photos share, per m² of mean density by photo; 0 with pairs.
    """

    spots: int
    pairs: int = 0
    photos: int = 0
    spot_sd: float = 0.0
    signal_sd: float = 0.0
    error_sd: float = 0.0
    fitted: int = 1
    shared: float = 0.0


@dataclass(frozen=True)
class DensityEstimate:
    """Mean density of a field, per m², with its interval.

    Attributes
    ----------
    mean, low, high : float
        Per m², at ``level``.
    level : float
        The share of such intervals that hold the field's true mean.
    n : int
        Spots.
    cv : float or None
        Standard deviation between spots over the mean; None for one spot or a mean of 0.
    scale, df : float
        Spread of a Student's t around ``mean`` with ``df`` degrees of freedom (infinite: normal)
        whose two-sided interval at ``level`` is the t interval above.
    shared_rel : float
        Shared relative standard error carried, B/m.
    how : str
        How it was worked out, in words.
    scatter : Scatter or None
        What the interval is made of; None where nothing was found at any spot.
    ratio : Ratio or None
        How far the truth may lie from ``mean`` by the usual spread of spots; None where only the
        t interval is known (pairs, zones), or nothing was found.
    """

    mean: float
    low: float
    high: float
    level: float
    n: int
    cv: float | None
    scale: float
    df: float
    shared_rel: float = 0.0
    flags: tuple[str, ...] = ()
    how: str = ""
    scatter: Scatter | None = None
    ratio: Ratio | None = field(default=None, compare=False, repr=False)

    def under(self, per_m2: ArrayLike) -> NDArray[np.float64]:
        """Probability that the field's true mean is below this; none is below zero."""
        return believed_under(per_m2, self.mean, self.scale, self.df, self.ratio)


def believed_under(
    per_m2: ArrayLike, mean: ArrayLike, scale: ArrayLike, df: float, ratio: Ratio | None
) -> NDArray[np.float64]:
    """Probability that the truth is below ``per_m2``: on either side of the mean the wider of
    Student's t and, where known, the usual spread of spots; cut off at zero.

    Shapes broadcast; ``ratio`` has that of ``mean``.
    """
    from scipy import special

    x, mean, scale = (np.asarray(one, float) for one in (per_m2, mean, scale))

    def plain(at: NDArray[np.float64]) -> NDArray[np.float64]:
        z = (at - mean) / scale
        return np.asarray(special.ndtr(z) if math.isinf(df) else special.stdtr(df, z))

    found = plain(x)
    if ratio is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            other = np.where(mean > 0, ratio.under(np.log(x / mean)), found)
        found = np.where(x < mean, np.maximum(found, other), np.minimum(found, other))
    nothing = plain(np.zeros_like(mean))
    return np.asarray(np.clip((found - nothing) / (1 - nothing), 0.0, 1.0))


def student(upper: float, df: float) -> float:
    """Student's quantile; the normal one where ``df`` is infinite."""
    if math.isinf(df):
        return normal(upper)
    from scipy import special

    return float(special.stdtrit(df, upper))


@functools.cache
def normal(upper: float) -> float:
    """Normal quantile; kept, since a season asks for the same one at every spot."""
    from scipy import special

    return float(special.ndtri(upper))


def pooled_df(*parts: tuple[float, float]) -> float:
    """Satterthwaite's degrees of freedom of a sum of variances, each given with its own.

    Satterthwaite 1946, Biometrics Bulletin 2:110-114.
    """
    total = sum(part for part, _ in parts)
    if total <= 0:
        return min(df for _, df in parts)
    # shares first: the squares of tiny variances would vanish
    inverse = sum((part / total) ** 2 / df for part, df in parts if part > 0)
    return 1.0 / inverse if inverse > 0 else math.inf  # all of them normal


def mean_of_spots(spots: Sequence[SpotDensity], what: str, level: float) -> DensityEstimate | None:
    """Mean of ``what`` ("plants" or "shoots") over spots, all with the same weight.

    Returns
    -------
    DensityEstimate or None
        None where no spot has it.
    """
    have = [spot for spot in spots if getattr(spot, f"{what}_per_m2") is not None]
    if not have:
        return None
    values = np.array([getattr(spot, f"{what}_per_m2") for spot in have], dtype=float)
    areas = np.array([spot.area_m2 for spot in have])
    biases = np.array([getattr(spot, f"{what}_bias_rel") for spot in have], dtype=float)
    n, mean = len(values), float(values.mean())
    shared = float(np.mean(biases * values))  # B, fully correlated between photos
    upper = (1 + level) / 2
    z = normal(upper)
    flags: list[str] = []
    if mean == 0.0:
        high = -math.log((1 - level) / 2) / float(areas.sum())
        flags.append(f"no {what} found at any spot; the upper end is what could have been missed")
        return DensityEstimate(
            0.0, 0.0, high, level, n, None, high / z, math.inf, flags=tuple(flags),
            how=f"nothing found at {n} spot{'s' if n > 1 else ''}: exact limit of a Poisson count",
        )  # fmt: skip
    # a hand count of plants may have its shoots from the photo, and with them the photo's error
    photos = sum(s.source == "photo" or b > 0 for s, b in zip(have, biases, strict=True))
    own = 0.0
    if n == 1:
        own = float(getattr(have[0], f"{what}_se"))
        spread = ASSUMED_CV * mean
        scale = math.sqrt(own**2 + spread**2 + shared**2)
        half, df, cv = z * scale, math.inf, None
        how = "one spot: its own error and an assumed spot-to-spot CV"
        flags.append(
            f"one spot only: the interval assumes that spots differ by about {ASSUMED_CV:.0%} (a "
            "published poor stand), maybe half as much or twice; count more spots"
        )
    else:
        spread, df = float(values.std(ddof=1)), float(n - 1)
        cv = spread / mean
        index, _more, p_even = dispersion((values * areas).tolist(), areas.tolist())
        too_alike = 0.0 if index is None else max(0.0, 1 - index / least_index(n))
        if too_alike > 0:
            flags.append(_too_alike(what, index or 0.0, p_even or 0.0, photos))
            spread = math.sqrt(spread**2 + too_alike * mean * float((1 / areas).mean()))
        t = student(upper, df)
        half = math.hypot(t * spread / math.sqrt(n), z * shared)
        scale = half / t
        how = f"t interval, or wider by the usual spread between spots, of {n} spots"
        if shared > 0:
            how += f", with a shared photo error of {shared / mean:.1%} in quadrature"
        if n < 5:
            flags.append(f"{n} spots are few; published advice is 5 to 15 per field")
    # what n spots hold of each other's error is in their spread; one spot's is not
    alone = math.hypot(shared, own) if n == 1 else shared
    ratio = ratio_of(
        n, cv=None if n == 1 else spread / mean, others=alone / mean,
        least=math.sqrt(float((1 / areas).mean()) / mean),
    )  # fmt: skip
    factor = ratio.factor(upper)
    return DensityEstimate(
        mean=mean,
        low=max(0.0, min(mean - half, mean / factor)),
        high=max(mean + half, mean * factor),
        level=level,
        n=n,
        cv=cv,
        scale=scale,
        df=df,
        shared_rel=shared / mean,
        flags=tuple(flags),
        how=how,
        # where only some spots are photos, B is the photos' part of the mean
        scatter=Scatter(
            n, 0, photos, spread, shared=shared * n / photos if photos and shared else 0.0
        ),
        ratio=ratio,
    )


def _too_alike(what: str, index: float, p: float, photos: int) -> str:
    if index < 1e-9:
        seen = f"all spots have the same {what}"
    else:
        seen = (
            f"{what} are more alike from spot to spot than chance leaves them (variance over mean "
            f"{index:.2f}, p {p:.2g})"
        )
    doubt = "." if photos else "; were they rounded, or copied?"
    return f"{seen}{doubt} The interval takes the scatter of plants placed at random instead"
