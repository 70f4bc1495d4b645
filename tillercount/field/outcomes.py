"""What more counting may come to: estimates that N more spots may give, from what is known now.

Where the mean will move to is as uncertain as the mean is, and so is how much the new spots will
scatter. Both are drawn from what the spots say so far (`tillercount.field.betweenspots`): a
spot-to-spot CV, the field's true mean given it, and new spots around that mean, gamma distributed
since counts are skewed; mean, scatter and interval are then made of old and new spots together, as
`tillercount.field.density` makes them. Photos that err together go on doing so: new ones are drawn
around what photos read, new hand counts around the truth.

Where only a t interval is known, or will be (pairs of photo and hand count, weighted zones), the
mean to come is drawn around that of now with the variance that the new spots take away, and the
scatter is taken to stay: what is expected of a mean is always the mean of now, so its variance now
is that to come plus that of its move (law of total variance).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.field.betweenspots import Ratio, ratio_of
from tillercount.field.density import DensityEstimate, believed_under, normal, student
from tillercount.field.stop import Kind, corrects, grown, standard_error

__all__ = ["Outcomes", "outcomes"]

DRAWS = 1000
SEED = 20260311
"""The same counts get the same answer; at so many draws a chance is off by 1.6 % or less (1 SE)."""


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Estimates after ``count`` more spots, equally likely each; arrays of one length, per m²."""

    count: int
    mean: NDArray[np.float64]
    scale: NDArray[np.float64]
    df: float
    ratio: Ratio | None

    def under(self, per_m2: float) -> NDArray[np.float64]:
        """Probability that each will give to the truth being below this."""
        return believed_under(np.full_like(self.mean, per_m2), self.mean, self.scale, self.df,
                              self.ratio)  # fmt: skip


def outcomes(estimate: DensityEstimate, kind: Kind, counts: Sequence[int]) -> Iterator[Outcomes]:
    """What the estimate may come to after each of these numbers of further spots of one kind.

    Numbers that leave too few pairs to tell anything are left out; all of them are where nothing
    was found yet.
    """
    if estimate.scatter is None or estimate.mean <= 0 or not counts:
        return
    rng = np.random.default_rng(SEED)
    if estimate.ratio is None:
        yield from _by_variance(estimate, kind, counts, rng)
        return
    scatter = estimate.scatter
    pairs = [count for count in counts if grown(scatter, kind, count).pairs]
    yield from _by_variance(estimate, kind, pairs, rng)
    counts = [count for count in counts if count not in pairs]
    if not counts:
        return
    off, spots = _new_spots(estimate, estimate.ratio, max(counts), kind == "hand", rng)
    for count in counts:
        then = grown(scatter, kind, count)
        again = scatter.photos if kind == "hand" and corrects(scatter, count) else 0
        # spots that are counted by hand again come out so far off what photos say of them
        before = estimate.mean * (off if again else np.ones(DRAWS))
        mean, sd = _together(estimate, before, spots[:, : count - again])
        shared = then.shared * then.photos / then.spots * mean / estimate.mean
        least = estimate.ratio.least * np.sqrt(estimate.mean / mean)
        ratio = ratio_of(then.spots, sd / mean, others=shared / mean, least=least)
        yield _outcomes(
            count, mean, sd / math.sqrt(then.spots), then.spots - 1.0, shared, estimate.level, ratio
        )


def _new_spots(
    estimate: DensityEstimate, ratio: Ratio, number: int, by_hand: bool, rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far off the truth photos are together, as a factor, and counts of so many spots in each
    of the fields that the present ones may come from, per m².

    Shapes (draws,) and (draws, number). Photos come out around what photos read, hand counts
    around the truth.
    """
    which = rng.choice(len(ratio.weights), DRAWS, p=ratio.weights)
    own = math.sqrt(max(0.0, float(ratio.others) ** 2 - estimate.shared_rel**2))  # of one spot
    cv = ratio.cvs[which]
    sd = np.sqrt(np.log1p(cv**2 / estimate.n) + math.log1p(own**2))
    mean = estimate.mean * np.exp(sd * rng.standard_normal(DRAWS))
    off = np.ones(DRAWS)
    if by_hand and estimate.shared_rel > 0:
        off = np.exp(math.sqrt(math.log1p(estimate.shared_rel**2)) * rng.standard_normal(DRAWS))
        mean = mean * off
    square = (cv**2 + own**2)[:, None]
    return off, np.asarray(rng.gamma(1 / square, mean[:, None] * square, (DRAWS, number)))


def _together(
    estimate: DensityEstimate, before: NDArray[np.float64], new: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean and standard deviation of new spots with those there are, of which the mean is then
    ``before`` and the scatter in proportion."""
    assert estimate.scatter is not None
    old, more = estimate.n, new.shape[1]
    n = old + more
    squares = (old - 1) * (estimate.scatter.spot_sd * before / estimate.mean) ** 2
    if not more:
        return before, np.sqrt(squares / (n - 1))
    mean = new.mean(axis=1)
    squares = squares + ((new - mean[:, None]) ** 2).sum(axis=1)
    squares += old * more / n * (mean - before) ** 2
    return (old * before + more * mean) / n, np.sqrt(squares / (n - 1))


def _by_variance(
    estimate: DensityEstimate, kind: Kind, counts: Sequence[int], rng: np.random.Generator
) -> Iterator[Outcomes]:
    """Where only a t interval is known: the mean moves, the scatter stays."""
    assert estimate.scatter is not None
    scatter = estimate.scatter
    now, df = standard_error(scatter)
    # what photos share goes too, where hand counts will correct them
    now = math.hypot(now, scatter.shared * scatter.photos / scatter.spots)
    if df < 1:
        return
    walk = rng.standard_t(df, DRAWS)
    for count in counts:
        then = grown(estimate.scatter, kind, count)
        se, df = standard_error(then)
        if df < 1:
            continue
        moved = estimate.mean + math.sqrt(max(0.0, now**2 - se**2)) * walk
        mean = np.maximum(moved, 1e-6 * estimate.mean)
        shared = then.shared * then.photos / then.spots * mean / estimate.mean
        yield _outcomes(count, mean, np.full(DRAWS, se), df, shared, estimate.level, None)


def _outcomes(
    count: int,
    mean: NDArray[np.float64],
    se: NDArray[np.float64],
    df: float,
    shared: NDArray[np.float64],
    level: float,
    ratio: Ratio | None,
) -> Outcomes:
    upper = (1 + level) / 2
    t = student(upper, df)
    return Outcomes(count, mean, np.hypot(t * se, normal(upper) * shared) / t, df, ratio)
