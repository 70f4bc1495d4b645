"""Probabilities of all classes in whole percent that add up to 100, the same on every screen.

Whoever shows a probability takes it from here: rounded one by one, the same field would be 93 %
sure on one page and 94 % on the next.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from tillercount.stand.words import beyond, percent

if TYPE_CHECKING:
    from tillercount.stand.classify import Classified

__all__ = ["band_shares", "class_percent", "class_shares", "percents", "rounded", "together"]

CLEAR_PERCENT = 80
"""As `tillercount.stand.classify.CLEAR`; a share below it is never rounded up to it."""


def rounded(shares: Sequence[float]) -> list[float]:
    """Shares to the whole percent, rounded together by the largest remainder.

    Rounded one by one, shares that sum to 1 come to 99 or 101. Those under 1 % or over 99 % stay as
    they are, to be said as such, and count as nothing. One just under the 80 % that make a verdict
    clear stays under them: "80 %, too close to call" would contradict itself.

    Parameters
    ----------
    shares : sequence of float
        They sum to 1.
    """
    whole = {i: math.floor(100 * share) for i, share in enumerate(shares) if not beyond(share)}
    left = max(0, 100 - sum(whole.values())) if whole else 0
    free = [i for i in whole if not (100 * shares[i] < CLEAR_PERCENT <= whole[i] + 1)]
    for i in sorted(free, key=lambda i: whole[i] - 100 * shares[i])[:left]:
        whole[i] = min(99, whole[i] + 1)
    return [whole[i] / 100 if i in whole else share for i, share in enumerate(shares)]


def percents(shares: Sequence[float]) -> list[str]:
    """Each share as `percent` says it, rounded together."""
    return [percent(share) for share in rounded(shares)]


def together(shares: Sequence[float], which: Collection[int]) -> float:
    """Some of the shares as one, so that it is the sum of what is shown of each."""
    exact = min(1.0, sum(shares[i] for i in which))
    if beyond(exact):
        return exact
    shown = rounded(shares)
    return min(0.99, max(0.01, round(sum(shown[i] for i in which), 2)))


def band_shares(result: Classified) -> list[float]:
    """What is shown of each band of the rule."""
    return rounded(result.band_probabilities)


def class_shares(result: Classified) -> dict[str, float]:
    """What is shown of each class, in the rule's order: its bands together."""
    bands = result.rule.bands
    return {
        name: together(
            result.band_probabilities, [i for i, b in enumerate(bands) if b.class_ == name]
        )
        for name in result.probabilities
    }


def class_percent(result: Classified) -> str:
    """How likely the likeliest class is, in words."""
    return percent(class_shares(result)[result.class_])
