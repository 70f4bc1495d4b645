"""Probabilities of all classes in whole percent that add up to 100."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tillercount.stand.words import beyond, percent

__all__ = ["percents"]


def percents(shares: Sequence[float]) -> list[str]:
    """Each share as `percent` says it, rounded together by the largest remainder.

    Rounded one by one, shares that sum to 1 come to 99 or 101. Those under 1 % are said as such
    and count as nothing.

    Parameters
    ----------
    shares : sequence of float
        They sum to 1.
    """
    whole = {i: math.floor(100 * share) for i, share in enumerate(shares) if not beyond(share)}
    left = max(0, 100 - sum(whole.values())) if whole else 0
    nearest = sorted(whole, key=lambda i: whole[i] - 100 * shares[i])
    for i in nearest[:left]:
        whole[i] = min(99, whole[i] + 1)
    return [percent(whole[i] / 100) if i in whole else percent(s) for i, s in enumerate(shares)]
