"""Which estimator the pairs of photo and hand count earn, and what choosing it costs.

**The choice** (figures of the simulation behind it: ``scripts/simulate_sampling.py``):

- fewer than 4 pairs: too few to judge the photos by. A hand count stands for its photo, other
  photos stand as they are with the error that all of them share.
- from 4 pairs, the correlation of hand and photo must be above 1/√(n-2); below it a fitted
  correction has no gain over the hand counts alone (Mani 2025, arXiv 2505.20178). Else: the hand
  counts alone.
- 4 to 9 pairs: difference estimator, slope 1.
- from 10 pairs: regression estimator.

The rule isn't bent to pick whichever interval comes out narrower: with few pairs that choice would
make intervals hold less often than they say. So the hand counts alone are now and then narrower.

**The choice has a price.** The pairs that say whether photos follow are those that the interval is
made from: a high r comes with residuals that happen to be small, a low one with hand counts that
happen to lie close together, so that either interval would be too narrow (with loose photos and 6
pairs, hand counts alone then held in 79 % of simulated fields instead of 89 %). What was chosen by
looking at r is therefore charged one degree of freedom, as if r had been one more number fitted to
it: its residual variance is divided by one less and Student's t has one fewer. Data that chose a
model use up degrees of freedom like data that fitted one (Ye 1998, "On measuring and correcting
the effects of data mining and model selection", J. Am. Stat. Assoc. 93:120-131); one for one
correlation is the plain reading of it, not a figure made to fit the simulation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from tillercount.field.density import DensityEstimate, student
from tillercount.field.twophase import correlation

__all__ = ["FEWEST_FOR_LINE", "FEWEST_PAIRS", "Method", "choose", "dearer"]

FEWEST_PAIRS = 4
FEWEST_FOR_LINE = 10

Method = Literal["difference", "regression", "hand only", "as counted"]


def choose(hand: Sequence[float], photo: Sequence[float]) -> tuple[Method, str]:
    """Which estimator the pairs earn, and why, by the rule at the head of this module."""
    n = len(hand)
    if n < FEWEST_PAIRS:
        have = (
            "no spot was counted both ways, so nothing tells how well photos do here"
            if n == 0
            else f"{n} pair{'s are' if n > 1 else ' is'} too few to judge the photos by"
        )
        return "as counted", f"{have}: count at least {FEWEST_PAIRS} spots both ways"
    r, needed = correlation(hand, photo), 1 / math.sqrt(n - 2)
    if r is None:
        return "hand only", "the pairs don't vary, so nothing shows that photos follow hand counts"
    if r <= needed:
        return "hand only", (
            f"photos follow hand counts too loosely here (r {r:.2f} over {n} pairs; it takes more "
            f"than {needed:.2f})"
        )
    if n >= FEWEST_FOR_LINE:
        return "regression", f"r {r:.2f} over {n} pairs, enough of them to fit a line"
    return "difference", (
        f"r {r:.2f} over {n} pairs; fewer than {FEWEST_FOR_LINE} are too few to fit a line"
    )


def dearer(hand: DensityEstimate) -> DensityEstimate:
    """Hand counts alone with one degree of freedom less, because the pairs led to them."""
    if hand.scatter is None or hand.df < 2:
        return hand
    more = math.sqrt(hand.df / (hand.df - 1))
    half = student((1 + hand.level) / 2, hand.df - 1) * hand.scale * more
    return replace(
        hand,
        low=max(0.0, hand.mean - half),
        high=hand.mean + half,
        scale=hand.scale * more,
        df=hand.df - 1,
        how=f"{hand.how}, one degree of freedom less because the counts decided against photos",
        scatter=replace(
            hand.scatter, spot_sd=hand.scatter.spot_sd * more, fitted=hand.scatter.fitted + 1
        ),
    )
