"""Why a range of yield is so wide, by the parts it is made of, and what would narrow it most."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tillercount.field.density import DensityEstimate
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
    "wide mostly because print differs in what a head yields: past yields of fields like this "
    "would narrow it most, further spots would not",
    "wide by yield per head: past yields narrow it, not spots",
)
_ALIVE = Wide(
    "wide mostly because print differs in how many shoots live: a count of heads later would "
    "narrow it most, further spots now would not",
    "wide by how many shoots live: heads counted later narrow it",
)
_COUNTS = Wide(
    "wide in print, and the counts leave even more open: further spots would narrow it most",
    "wide, by the counts even more: further spots narrow it",
)
_PHOTOS = Wide(
    "wide in print, and the counts leave even more open: hand counts beside the photos would "
    "narrow it most",
    "wide, by the photos even more: hand counts narrow it",
)


def why_wide(
    heads: Expectation | None, bushels: Expectation | None, shoots: DensityEstimate | None
) -> Wide | None:
    """Why a yield's range is wide; None where it isn't, or none is told.

    The range is that of the heads (which share of the shoots lives) times that of what a head
    yields; how far the mean of the shoots may be off stands beside it (`Expectation.sampling`). The
    part whose ends lie furthest apart, as a ratio, is the one named.
    """
    if heads is None or bushels is None or shoots is None:
        return None
    if heads.low <= 0 or bushels.low <= 0 or bushels.high <= WIDE * bushels.low:
        return None
    alive = heads.high / heads.low
    per_head = bushels.high / bushels.low / alive
    counts = bushels.sampling[1] / bushels.sampling[0] if bushels.sampling[0] > 0 else math.inf
    if counts > max(alive, per_head):
        return _PHOTOS if _mostly_photos(shoots) else _COUNTS
    return _PER_HEAD if per_head >= alive else _ALIVE


def _mostly_photos(shoots: DensityEstimate) -> bool:
    """Whether the error that all photos share weighs more than how spots differ."""
    made_of = shoots.scatter
    if made_of is None or made_of.pairs or not made_of.photos:
        return False
    return shoots.shared_rel * shoots.mean > made_of.spot_sd / math.sqrt(made_of.spots)
