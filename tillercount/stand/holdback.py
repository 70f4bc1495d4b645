"""What no interval knows of, and what therefore keeps a verdict from being called clear."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.field.observers import observer_differences
from tillercount.handlimits import SIZE_WORDS
from tillercount.stand.classify import Classified, Hold
from tillercount.stand.words import join

__all__ = ["hold_back"]


def hold_back(estimate: FieldEstimate, result: Classified) -> Hold | None:
    """Why a result isn't to be called clear; None where nothing speaks against it.

    People who differ on the same spots, hand counts whose size can't be right, or one spot alone:
    how much spots differ is not known from one, so its probabilities rest on what is usual.
    """
    what = result.rule.measures
    apart = [one for one in observer_differences(estimate.listed) if one.differ]
    apart = [one for one in apart if one.what == what] or apart
    if apart:
        one = apart[0]
        times = f"{one.ratio:.1f} times as many" if one.ratio < 100 else "far more"
        return Hold(
            f"“{one.more}” counts {times} {one.what} as “{one.fewer}” on the same spots", one.remedy
        )
    odd = [spot.spot for spot in estimate.used if any(SIZE_WORDS in flag for flag in spot.flags)]
    if 2 * len(odd) >= len(estimate.used) > 0:
        return Hold(
            f"the size of the area counted can hardly be right (spot {join(odd[:6])})",
            "Check the area of the hand counts and its unit, correct it, and assess again.",
        )
    if result.n == 1:
        return Hold("one spot can't speak for a field")
    return None
