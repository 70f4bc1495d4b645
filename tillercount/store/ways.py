"""How the spots of two visits were counted: a change may be just another way of counting."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from tillercount.field import FieldEstimate, SpotDensity

__all__ = ["Way", "ways_of"]

Way = Literal["hand", "photo", "both"]
"""What the means of a visit rest on."""


def ways_of(before: FieldEstimate, now: FieldEstimate) -> tuple[Way, Way] | None:
    """The way of each visit; None where all was counted alike.

    Two visits that are both mixed are alike where no spot changed from one way to the other.
    """
    old, new = list(_entered(before)), list(_entered(now))
    ways = _way(old), _way(new)
    if ways[0] != ways[1]:
        return ways
    earlier = {(what, spot.key): spot.by(what) for what, spot in old}
    changed = any(earlier.get((what, s.key), s.by(what)) != s.by(what) for what, s in new)
    return ways if changed else None


def _entered(estimate: FieldEstimate) -> Iterable[tuple[str, SpotDensity]]:
    for what in ("plants", "shoots"):
        for spot in estimate.entered(what):
            if getattr(spot, f"{what}_per_m2") is not None:
                yield what, spot


def _way(spots: Iterable[tuple[str, SpotDensity]]) -> Way:
    sources = {spot.by(what) for what, spot in spots}
    if len(sources) != 1:
        return "both"
    return "hand" if sources == {"hand"} else "photo"
