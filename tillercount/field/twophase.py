"""Two-phase estimates: many spots seen by photo, some of them counted by hand as well.

With n pairs (hand y, photo x) among n' photos,

    mean = ȳ + b·(x̄' - x̄)

x̄' over all photos, x̄ over the pairs. b is 1 (difference estimator: only the mean gap between hand
and photo is learnt), ȳ/x̄ (ratio: a photo that reads all densities too low by the same share), or
the slope of the line through the pairs (regression). What is left, e = y - b·x around its mean or
line, has the variance s²ₑ; the rest of the spot-to-spot variance, V, photos see:

    var = s²ₑ·(1/n + (x̄' - x̄)²/Sxx) + V/n'        (the middle term for the line only)

which is Cochran's double sampling (Sampling Techniques, 3rd ed. 1977, ch. 12) written so that both
parts can be estimated with the most data: V = b²·s²ₓ + 2b·cov(x, e), with s²ₓ from all photos, or
s²y - s²ₑ where only the photos' mean is known. In a finite population of P spots it loses
(V + s²ₑ)/P.

The first part has n-1 degrees of freedom (n-2 for the line), the second n'-1; Student's t takes
those of their sum by Satterthwaite (1946, Biometrics Bulletin 2:110-114).

The estimator is a model-assisted one: it is unbiased whatever the photos' error, as long as the
spots counted by hand were drawn at random (Särndal's generalised regression; the difference form
with a machine's readings is also called prediction-powered inference, Mozer 2026,
arXiv 2603.19160).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.field.density import pooled_df

__all__ = ["Fit", "TwoPhase", "correlation", "two_phase"]

Fit = Literal["one", "ratio", "line"]


@dataclass(frozen=True)
class TwoPhase:
    """A two-phase mean and the two parts of its variance.

    Attributes
    ----------
    mean : float
    slope : float
        b.
    error_var, signal_var : float
        s²ₑ and V, variances of single spots.
    error_part, signal_part : float
        Variance of the mean from each; they add up to `variance`.
    df : float
        For Student's t; ``error_df`` is that of the first part alone.
    """

    mean: float
    slope: float
    error_var: float
    signal_var: float
    error_part: float
    signal_part: float
    df: float
    error_df: float

    @property
    def variance(self) -> float:
        """Variance of the mean."""
        return self.error_part + self.signal_part

    @property
    def se(self) -> float:
        """Standard error of the mean."""
        return math.sqrt(self.variance)


def correlation(hand: Sequence[float], photo: Sequence[float]) -> float | None:
    """Pearson's r; None where either doesn't vary, or for fewer than three pairs."""
    y, x = np.asarray(hand, float), np.asarray(photo, float)
    if len(y) < 3 or np.ptp(y) <= 1e-9 * abs(y).max() or np.ptp(x) <= 1e-9 * abs(x).max():
        return None
    return float(np.clip(np.corrcoef(x, y)[0, 1], -1.0, 1.0))


def two_phase(
    hand: Sequence[float] | NDArray[np.float64],
    photo: Sequence[float] | NDArray[np.float64],
    *,
    photos: int,
    photo_mean: float,
    photo_var: float | None = None,
    fit: Fit = "one",
    population: float = math.inf,
    leverage: bool = True,
) -> TwoPhase:
    """Mean of all spots from pairs and all photos.

    Parameters
    ----------
    hand, photo : sequences of equal length n
        The pairs.
    photos : int
        n', all photos, the pairs' among them.
    photo_mean, photo_var : float
        Mean and (divided by n'-1) variance over all photos. Without the variance the pairs' is
        taken.
    fit : {"one", "ratio", "line"}
    population : float
        P, the number of spots in all; infinite for a field.
    leverage : bool
        Whether the line's own uncertainty away from x̄ is added.

    Raises
    ------
    InputError
        Fewer than two pairs (three for a line), lists of unequal length, fewer photos than pairs,
        or photos that don't vary where a slope is wanted.
    """
    y, x = np.asarray(hand, float), np.asarray(photo, float)
    n = len(y)
    fitted = 2 if fit == "line" else 1
    if len(x) != n:
        raise InputError(f"{n} hand counts but {len(x)} photos of pairs; give both for each pair")
    if n <= fitted:
        raise InputError(f"{n} pairs are too few for this estimate; it needs {fitted + 1}")
    if photos < n or population < photos:
        raise InputError(
            f"{n} pairs, {photos} photos and {population:g} spots don't fit; pairs are among the "
            "photos and photos among the spots"
        )
    sxx = float(((x - x.mean()) ** 2).sum())
    slope = 1.0
    if fit == "ratio":
        if x.mean() <= 0:
            raise InputError(
                "all photos of pairs read 0, so there is no ratio; take the difference"
            )
        slope = float(y.mean() / x.mean())
    elif fit == "line":
        if sxx <= 0:
            raise InputError("all photos of pairs read alike, so there is no slope")
        slope = float(((x - x.mean()) * (y - y.mean())).sum() / sxx)
    rest = y - slope * x
    df = float(n - fitted)
    # For the ratio the mean of the rest is 0 by construction, for the others it is the intercept.
    error_var = float(((rest - rest.mean()) ** 2).sum()) / df
    if photo_var is None:
        signal_var = float(y.var(ddof=1)) - error_var
    else:
        shared = float(((x - x.mean()) * (rest - rest.mean())).sum()) / (n - 1)
        signal_var = slope**2 * photo_var + 2 * slope * shared
    signal_var = max(0.0, signal_var)
    gap = photo_mean - float(x.mean())
    away = gap**2 / sxx if fit == "line" and leverage else 0.0
    error_part = error_var * (1 / n + away - 1 / population)
    signal_part = signal_var * (1 / photos - 1 / population)
    return TwoPhase(
        mean=float(y.mean()) + slope * gap,
        slope=slope,
        error_var=error_var,
        signal_var=signal_var,
        error_part=error_part,
        signal_part=signal_part,
        df=pooled_df((error_part, df), (signal_part, photos - 1.0)),
        error_df=df,
    )
