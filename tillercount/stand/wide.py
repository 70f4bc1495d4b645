"""Why a range of yield in print is wide, and what narrows it."""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.stand.expect import Expectation

__all__ = ["WIDE", "Wide", "why_wide"]

WIDE = 2.5
"""A range whose top is more than so many times its bottom says little: a convention of our own."""


@dataclass(frozen=True)
class Wide:
    """Half a sentence on it: for a page, and in as few words as a screen has room for."""

    text: str
    short: str


_PER_HEAD = Wide(
    "wide mostly because print differs in what a head yields; what your own fields have yielded "
    "says more than further spots",
    "wide by yield per head, which spots can't tell",
)


def why_wide(heads: Expectation | None, bushels: Expectation | None) -> Wide | None:
    """Why a yield's range is wide; None where it isn't, or none is told.

    The range is that of the heads (which share of the shoots lives: up to 1.7 times in print) times
    that of what a head yields (3 times and more, `tillercount.stand.expect`). Where the latter
    isn't the wider of the two, nothing is said. How far the mean of the shoots may be off stands
    beside it (`Expectation.sampling`). That one's own yields say more follows from that; no source.
    """
    if heads is None or bushels is None or heads.low <= 0 or bushels.low <= 0:
        return None
    whole, alive = bushels.high / bushels.low, heads.high / heads.low
    return _PER_HEAD if whole > WIDE and whole / alive > alive else None
