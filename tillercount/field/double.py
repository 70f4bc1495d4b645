"""Photos and hand counts of the same field: together where that pays, beside each other always.

`tillercount.field.choosing` says which way, by a rule that was fixed beforehand.

Spots with a hand count and no usable photo enter with their own weight: of N spots, n' with a
photo and k by hand alone, the mean is (n'·two-phase mean + k·their mean)/N.

**What it rests on**: which spots are counted by hand too was drawn at random, before anybody had
seen a result. Where the nice spots were counted by hand, the interval doesn't hold.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.definition import Definition
from tillercount.field.choosing import Method, choose, r_needed
from tillercount.field.density import (
    DensityEstimate,
    mean_of_spots,
    pooled_df,
    student,
)
from tillercount.field.merge import by_spot, mean_of, merge
from tillercount.field.scatter import Scatter
from tillercount.field.spots import SpotDensity
from tillercount.field.twophase import Fit, correlation, two_phase
from tillercount.units import per_ft2

__all__ = ["DoubleSample", "combine", "double_sample", "in_words"]


@dataclass(frozen=True)
class DoubleSample:
    """Three answers for one field: by hand alone, by photo alone, together.

    Attributes
    ----------
    what : {"plants", "shoots"}
    hand, photo : DensityEstimate
        Each from its own counts only. The photos' interval carries the error that they share.
    combined : DensityEstimate or None
        By ``method``; None where that is "hand only" or "as counted".
    method : {"difference", "regression", "hand only", "as counted"}
        "as counted": a hand count stands for its photo, other photos as they are. "hand only":
        every spot was counted by hand.
    why : str
        Why this method, in words.
    pairs, photos, hands : int
        Spots with both, with a photo, with a hand count.
    r, r_needed : float or None
        Correlation of the pairs, and above what photos add to the hand counts.
    difference, difference_sd : float or None
        Hand minus photo over the pairs, per m².
    slope, intercept : float or None
        Of the correction used: hand = intercept + slope × photo, per m².
    pair_hand, pair_photo : float or None
        Mean hand count and mean photo of the pairs, per m².
    """

    what: str
    hand: DensityEstimate
    photo: DensityEstimate
    combined: DensityEstimate | None
    method: Method
    why: str
    pairs: int
    photos: int
    hands: int
    r: float | None = None
    r_needed: float | None = None
    difference: float | None = None
    difference_sd: float | None = None
    slope: float | None = None
    intercept: float | None = None
    pair_hand: float | None = None
    pair_photo: float | None = None

    def corrected(self, photo_per_m2: float) -> float:
        """A photo's density as the pairs correct it; as it is where they don't."""
        if self.slope is None or self.intercept is None:
            return photo_per_m2
        return max(0.0, self.intercept + self.slope * photo_per_m2)

    @property
    def answer(self) -> DensityEstimate | None:
        """The field's mean by ``method``; None where that is "as counted"."""
        return self.hand if self.method == "hand only" else self.combined


def combine(
    pairs: Sequence[tuple[float, float]],
    photos_alone: Sequence[float],
    hands_alone: Sequence[float],
    fit: Fit,
    level: float,
    *,
    careful: bool = False,
) -> tuple[DensityEstimate, float]:
    """Mean per m² from pairs (hand, photo), other photos and other hand counts; and the slope.

    ``careful``: one degree of freedom less than the fit leaves; see `tillercount.field.choosing`.
    """
    y, x = (np.array(side, float) for side in zip(*pairs, strict=True))
    every = np.concatenate([x, np.asarray(photos_alone, float)])
    alone = np.asarray(hands_alone, float)
    n, k = len(y), len(alone)
    found = two_phase(
        y,
        x,
        photos=len(every),
        photo_mean=float(every.mean()),
        photo_var=float(every.var(ddof=1)),
        fit=fit,
    )
    whole = len(every) + k
    c = len(every) / whole
    mean = c * found.mean + (float(alone.sum()) / whole)
    df = found.error_df - careful
    dearer = found.error_df / df
    # k hand counts have both parts of the variance, each with weight 1/N
    error = dearer * (c**2 * found.error_part + k * found.error_var / whole**2)
    signal = found.signal_var / whole
    scale = math.sqrt(error + signal)
    df = pooled_df((error, df), (signal, len(every) - 1.0))
    half = student((1 + level) / 2, df) * scale
    values = np.concatenate([y, alone, np.asarray(photos_alone, float) + y.mean() - x.mean()])
    mean = max(0.0, mean)
    name = "regression" if fit == "line" else "difference" if fit == "one" else "ratio"
    return DensityEstimate(
        mean=mean,
        low=max(0.0, mean - half),
        high=mean + half,
        level=level,
        n=whole,
        cv=float(values.std(ddof=1)) / mean if mean > 0 else None,
        scale=scale,
        df=df,
        how=f"{name} estimator: {whole} spots, {n} of them with a photo and a hand count",
        scatter=Scatter(
            whole,
            n,
            len(every) - n,
            float(values.std(ddof=1)),
            math.sqrt(found.signal_var),
            math.sqrt(dearer * found.error_var),
            (2 if fit == "line" else 1) + careful,
        ),
    ), found.slope


def double_sample(spots: Sequence[SpotDensity], what: str, level: float) -> DoubleSample | None:
    """The three answers for ``what``; None where it was only counted one way.

    Parameters
    ----------
    spots : sequence of SpotDensity
        Everything, photos and hand counts of the same spot side by side.
    what : {"plants", "shoots"}
    level : float
    """
    name = f"{what}_per_m2"
    if len({s.source for s in spots if getattr(s, name) is not None}) < 2:
        return None
    pairs: list[tuple[float, float]] = []
    photos_alone: list[float] = []
    hands_alone: list[float] = []
    by_hand: list[SpotDensity] = []
    by_photo: list[SpotDensity] = []
    for hands, photos in by_spot([s for s in spots if getattr(s, name) is not None]):
        y, x = mean_of(hands, name), mean_of(photos, name)
        if hands:
            by_hand.append(merge(hands, [], hands[0].definition))
        if photos:
            by_photo.append(merge([], photos, Definition.STEMS))
        if y is not None and x is not None:
            pairs.append((y, x))
        elif y is not None:
            hands_alone.append(y)
        elif x is not None:
            photos_alone.append(x)
    hand, photo = mean_of_spots(by_hand, what, level), mean_of_spots(by_photo, what, level)
    if hand is None or photo is None:
        return None
    n = len(pairs)
    method, why = choose([y for y, _ in pairs], [x for _, x in pairs])
    if method != "as counted" and not photos_alone:
        method, why = "hand only", "every spot was counted by hand, so photos add nothing"
    if pairs and not any([*map(max, pairs), *photos_alone, *hands_alone]):
        # without any scatter a correction would be sure of it; `.nothing` isn't
        method, why = "as counted", "nothing was found either way"
    combined, slope, intercept = None, None, None
    if method in ("difference", "regression"):
        fit: Fit = "one" if method == "difference" else "line"
        combined, slope = combine(
            pairs, photos_alone, hands_alone, fit, level, careful=fit == "line"
        )
        intercept = float(np.mean([y - slope * x for y, x in pairs]))
    gaps = np.array([y - x for y, x in pairs])
    return DoubleSample(
        what=what,
        hand=hand,
        photo=photo,
        combined=combined,
        method=method,
        why=why,
        pairs=n,
        photos=len(by_photo),
        hands=len(by_hand),
        r=correlation([y for y, _ in pairs], [x for _, x in pairs]),
        r_needed=r_needed(n),
        difference=float(gaps.mean()) if n else None,
        difference_sd=float(gaps.std(ddof=1)) if n > 1 else None,
        slope=slope,
        intercept=intercept,
        pair_hand=float(np.mean([y for y, _ in pairs])) if n else None,
        pair_photo=float(np.mean([x for _, x in pairs])) if n else None,
    )


def in_words(found: DoubleSample) -> str:
    """What was done with the pairs, for the list of things to mind."""
    if found.method == "difference":
        assert found.difference is not None
        return (
            f"{found.what}: photos corrected by the mean difference hand minus photo "
            f"({per_ft2(found.difference):+.1f} per ft²; {found.why})"
        )
    if found.method == "regression":
        return f"{found.what}: photos corrected by a line, slope {found.slope:.2f} ({found.why})"
    if found.method == "hand only":
        return f"{found.what}: taken from the hand counts alone ({found.why})"
    return f"{found.what}: a hand count stands for its photo ({found.why})"
