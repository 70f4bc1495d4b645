"""When two densities of the same ground can't both be right, and when photos show the same ground.

A low side of a few, or of nothing at all, has no ratio to speak of. There the other side decides:
if it found so many that even a third of them should have left more than the low side has, by the
1 % limit of a Poisson count, the two contradict each other as well. (Plants scattered at random
along the row give Poisson counts: Liu et al. 2017, Plant Methods 13:38.)

Photos of one spot aren't of the same ground for that alone: a photo goes to a planned spot from up
to 100 ft away, and stands differ twofold over far less. Two whose own positions agree as closely as
a phone knows them are, and two without a position that a name or a person put to the same spot.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from tillercount.field.density import normal
from tillercount.field.spots import SpotDensity
from tillercount.positions import PHONE_ERROR_M, distance_m

__all__ = [
    "FEWEST", "FOLD", "PHOTO_FOLD", "cant_both_be", "fold_apart", "hardly_both", "pair_apart",
]  # fmt: skip

FOLD = 3.0
"""Ratio of photo and hand count from which they aren't mixed: the project's judgement. The measured
error of photos (about a quarter, up to 25 % too many) stays far below."""
PHOTO_FOLD = 2.0
"""The same for two photos, which share most of their error: the project's judgement, between that
for two people (1.5) and that for a photo and a hand count."""
FEWEST = 10.0
"""Counted things on the lower side below which a ratio is mostly chance: of 10 plants scattered at
random, two thirds of repeats lie within a third. On the higher side: below it nothing is said."""
UNLIKELY = 0.01
"""Probability of so few on the lower side from which that isn't taken for chance."""
_UPPER = 0.95
"""Upper end of the intervals that mustn't meet: 90 % ones, as counts files have them."""


def cant_both_be(a: float, b: float, area_m2: float) -> bool:
    """Whether two densities of the same ground, of so much area, can't both be right."""
    low, high = (density * area_m2 for density in sorted((a, b)))
    if low >= FEWEST:
        return fold_apart(low, high, FOLD)
    if high < FEWEST:
        return False
    from scipy import special

    # Q(low + 1, m) is the probability of at most ``low`` in a Poisson count of mean m
    return bool(special.gammaincc(low + 1, high / FOLD) < UNLIKELY)


def hardly_both(a: float, b: float, area_m2: float) -> bool:
    """Whether one is threefold the other, which is likely a slip, but too few to stop for it.

    So few that they may be a patch or chance are left alone; 7 against 28 isn't, though a third of
    28 might well have left 7.
    """
    low, high = (density * area_m2 for density in sorted((a, b)))
    return FEWEST / 2 <= low < FEWEST <= high and fold_apart(low, high, FOLD)


def fold_apart(a: float, b: float, fold: float) -> bool:
    """Whether the one is so many times the other."""
    low, high = sorted((a, b))
    return high >= fold * low and high > 0


def pair_apart(
    photos: Sequence[SpotDensity], what: str
) -> tuple[SpotDensity, SpotDensity] | None:
    """Of the photos of one spot the two of the same ground that contradict each other most.

    Returns
    -------
    (SpotDensity, SpotDensity) or None
        The one with fewer of ``what`` first; None where no two contradict each other.
    """
    name = f"{what}_per_m2"
    have = sorted(
        (s for s in photos if getattr(s, name) is not None), key=lambda s: float(getattr(s, name))
    )
    if len(have) < 2 or not fold_apart(
        float(getattr(have[0], name)), float(getattr(have[-1], name)), PHOTO_FOLD
    ):
        return None
    found = [
        (low, high)
        for low, high in itertools.combinations(have, 2)
        if _contradict(low, high, what) and _same_ground(low, high)
    ]
    # the ratio may be that of something to nothing
    return max(
        found, default=None,
        key=lambda pair: float(getattr(pair[1], name)) / max(float(getattr(pair[0], name)), 1e-9),
    )  # fmt: skip


def _contradict(fewer: SpotDensity, more: SpotDensity, what: str) -> bool:
    low, high = (float(getattr(s, f"{what}_per_m2")) for s in (fewer, more))
    # a few plants more or less are chance where the frame lay a hand's breadth beside
    if high * more.area_m2 < FEWEST or not fold_apart(low, high, PHOTO_FOLD):
        return False
    errors = [float(getattr(s, f"{what}_se")) for s in (fewer, more)]
    if not all(errors):
        # a person's correction, or a count whose error nobody stated: as a photo and a hand count
        return cant_both_be(low, high, min(fewer.area_m2, more.area_m2))
    up, down = (normal(_UPPER) * error for error in errors)
    return low + up < high - down


def _same_ground(one: SpotDensity, other: SpotDensity) -> bool:
    if one.lat is None or one.lon is None or other.lat is None or other.lon is None:
        return one.lat is None and other.lat is None and one.named and other.named
    there = np.array([other.lat]), np.array([other.lon])
    return bool(distance_m(one.lat, one.lon, *there)[0] <= PHONE_ERROR_M)
