"""May counting stop, and if not, how much more is it?

**Stopping when the interval looks good isn't free.** A 90 % interval is meant for a number of
spots fixed beforehand. Looked at after every spot, and stopped as soon as a border falls outside,
it is wrong far more often than one field in ten. The stop rule here uses a confidence sequence
instead: intervals for n = 2, 3, 4 … of which, with 90 % probability, *all* hold the true mean. So
whoever looks after every spot, stops when he likes, or goes on after stopping, is misled in at
most one field in ten.

The sequence is that of the t-test with a Gaussian mixture over the effect in units of the unknown
standard deviation (Wang & Ramdas, arXiv 2310.03722; a test martingale in the reduced, scale-free
filtration; the same mixture over σ as Lai 1976). With ν = n-1, t = (m - μ)/(s/√n) and mixture
variance g, μ stays in while

    √(1 + ng) · ((1 + t²/(ν(1 + ng))) / (1 + t²/ν))^(n/2)  >  α,

which is t² < ν(K-1)/(1 - K/(1 + ng)) with K = (√(1 + ng)/α)^(2/n), and no bound at all while
K ≥ 1 + ng. g = 1 makes it tightest around seven spots. It is exact for normal data. Patchy fields
are skewed, and there the first few spots mislead most: with fewer than 8 spots nothing is settled
(error rates by simulation: ``scripts/simulate_sampling.py``). In a combined estimate n is
the number of pairs (the slower of its two clocks), and the bound is that many standard errors of
the combined mean. Where uncorrected photos share an error B, half of α goes to the sequence and
half to B.

**How many more.** For a given kind of spot, the smallest number that brings the half-width below
the distance to the nearest border, if mean and scatter stay as they are: a guide, as the mean will
move. Given twice: looked at once, after that number, and looked at after every spot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from tillercount.errors import InputError
from tillercount.field.choosing import FEWEST_PAIRS
from tillercount.field.density import DensityEstimate, normal, pooled_df, student
from tillercount.field.samplesize import MOST_SPOTS
from tillercount.field.scatter import Scatter

__all__ = [
    "MINUTES",
    "Further",
    "Kind",
    "Minutes",
    "StopRule",
    "corrects",
    "further",
    "grown",
    "peek_factor",
    "standard_error",
    "stop_rule",
]

Kind = Literal["photo", "hand"]


@dataclass(frozen=True)
class Minutes:
    """Minutes that one more spot takes, the walk to it included."""

    photo: float
    hand: float


FEWEST_TO_STOP = 8

MINUTES = Minutes(photo=3.0, hand=15.0)
"""Assumed, not measured: a walk of two minutes, one for a photo, twelve more to dig up a square
foot, break it apart and count. Give your own."""


@dataclass(frozen=True)
class StopRule:
    """Whether counting may stop, looked at after every spot.

    Attributes
    ----------
    low, high : float
        Per m², of the confidence sequence now. ``high`` is infinite with fewer than 8 spots.
    settled : bool
        Whether no border lies between them.
    """

    low: float
    high: float
    level: float
    settled: bool


@dataclass(frozen=True)
class Further:
    """More spots of one kind that are expected to settle it.

    ``spots`` with one look at the end, ``spots_peeking`` with a look after every spot by
    `stop_rule`; None where no number up to 200 in all does it. ``minutes`` likewise.
    """

    kind: Kind
    spots: int | None
    minutes: float | None
    spots_peeking: int | None
    minutes_peeking: float | None


@cache
def peek_factor(n: int, level: float = 0.9, *, g: float = 1.0) -> float:
    """Standard errors to either side that hold the mean at every n at once; infinite for small n.

    Raises
    ------
    InputError
        A level outside (0, 1), or g not above 0.
    """
    if not (0 < level < 1 and g > 0):
        raise InputError(f"level {level!r} must lie between 0 and 1 and g {g!r} above 0")
    if n < 2:
        return math.inf
    more = 1 + n * g
    k = (math.sqrt(more) / (1 - level)) ** (2 / n)
    return math.inf if k >= more else math.sqrt((n - 1) * (k - 1) / (1 - k / more))


def stop_rule(estimate: DensityEstimate, borders: Sequence[float]) -> StopRule:
    """Whether the borders (per m²) between classes all lie outside the confidence sequence."""
    level = estimate.level
    scatter = estimate.scatter
    if scatter is None:
        # Nothing found: that limit holds at every look at once, since it is wrong only if nothing
        # had turned up by the first look at which it fell below the truth.
        half = estimate.high - estimate.mean
    else:
        half = _half(scatter, estimate.mean, level, peeking=True)
    low, high = max(0.0, estimate.mean - half), estimate.mean + half
    settled = estimate.n >= FEWEST_TO_STOP and not any(low <= b <= high for b in borders)
    return StopRule(low, high, level, settled)


def further(
    estimate: DensityEstimate, border: float, minutes: Minutes = MINUTES
) -> tuple[Further, ...]:
    """More spots by photo and by hand that are expected to put ``border`` (per m²) outside.

    By photo only where there are photos already, since nothing else tells how well they do. By
    hand, a new spot is counted by hand and, where there are pairs, also taken as a photo. Beside
    photos that stand uncorrected see `grown`.
    """
    scatter = estimate.scatter
    if scatter is None:
        return ()
    kinds: list[Kind] = ["hand"]
    if scatter.photos or scatter.pairs:
        kinds.insert(0, "photo")
    out = []
    for kind in kinds:
        counts = [_more(scatter, estimate, border, kind, peeking) for peeking in (False, True)]
        cost = minutes.photo if kind == "photo" else minutes.hand
        spent = [None if count is None else count * cost for count in counts]
        out.append(Further(kind, counts[0], spent[0], counts[1], spent[1]))
    return tuple(out)


def standard_error(scatter: Scatter) -> tuple[float, float]:
    """Standard error of the mean but for what photos share, per m², and its degrees of freedom.

    The latter are 0 or less where there are too few spots, or pairs, to tell.
    """
    n = scatter.spots
    if not scatter.pairs:
        return scatter.spot_sd / math.sqrt(n), float(n - scatter.fitted)
    error, signal = scatter.error_sd**2 / scatter.pairs, scatter.signal_sd**2 / n
    own = float(scatter.pairs - scatter.fitted)
    df = pooled_df((error, own), (signal, n - 1.0)) if own > 0 else 0.0
    return math.sqrt(error + signal), df


def _more(
    scatter: Scatter, estimate: DensityEstimate, border: float, kind: Kind, peeking: bool
) -> int | None:
    gap = abs(estimate.mean - border)
    for count in range(1, MOST_SPOTS + 1 - scatter.spots):
        if _half(grown(scatter, kind, count), estimate.mean, estimate.level, peeking) < gap:
            return count
    return None


def grown(scatter: Scatter, kind: Kind, count: int) -> Scatter:
    """The same with so many more spots of a kind, put together as they will be.

    Beside photos that err together and have no pairs, up to three hand counts are so many spots
    more. From four on (`tillercount.field.choosing`) they are made at spots that have a photo,
    first, and correct the other photos; once all of these are counted by hand, hand counts stand
    alone.
    """
    if kind == "photo":
        return replace(scatter, spots=scatter.spots + count, photos=scatter.photos + count)
    if corrects(scatter, count) and count >= scatter.photos:
        by_hand = scatter.spots - scatter.photos + count
        return replace(scatter, spots=by_hand, photos=0, shared=0.0)
    if corrects(scatter, count):
        own = scatter.spot_sd if scatter.own_sd is None else min(scatter.own_sd, scatter.spot_sd)
        return replace(
            scatter,
            pairs=count,
            photos=scatter.photos - count,
            signal_sd=math.sqrt(scatter.spot_sd**2 - own**2),
            error_sd=own,
            shared=0.0,
        )
    pairs = scatter.pairs + count if scatter.pairs else 0
    return replace(scatter, spots=scatter.spots + count, pairs=pairs)


def corrects(scatter: Scatter, count: int) -> bool:
    """Whether so many hand counts, made at spots that have a photo, take away what photos share."""
    return not scatter.pairs and scatter.shared > 0 and count >= FEWEST_PAIRS


def _half(scatter: Scatter, mean: float, level: float, peeking: bool) -> float:
    """Half-width that so much scatter gives, looked at once or at every spot; per m²."""
    n = scatter.spots
    if peeking and n < FEWEST_TO_STOP:
        return math.inf
    shared = scatter.shared * scatter.photos / n
    clock = scatter.pairs or n
    se, df = standard_error(scatter)
    if not peeking:
        if df < 1:
            return math.inf
        upper = (1 + level) / 2
        return math.hypot(student(upper, df) * se, normal(upper) * shared)
    if shared == 0:
        return peek_factor(clock, level) * se
    half_level = (1 + level) / 2  # half the error for the sequence, half for what photos share
    return peek_factor(clock, half_level) * se + normal((1 + half_level) / 2) * shared
