"""Photos and hand counts of the same places under names that don't meet.

A camera calls its photos IMG_0412, a sheet calls its spots 1, 2, 3. Where nothing says which belong
together each place counts twice: the field looks surer than it is, and no photo is held against
the hand count beside it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from tillercount.field.spots import SpotDensity
from tillercount.names import first_few, spots_once
from tillercount.positions import distance_m

__all__ = ["NEAR_M", "unpaired"]

FEWEST = 2
"""Places of either kind from which it is said: a convention."""
NEAR_M = 30.0
"""Further than this from every photo a hand count is of another place: a convention, about 100 ft
as for planned spots."""
_NAMED = 3


def unpaired(spots: Sequence[SpotDensity]) -> list[str]:
    """The question whether they are of the same places, in one line; empty where that is plain.

    Plain it is where a spot has both, where both are named by one pattern (photos spot_1 to spot_5,
    hand counts 6 to 9 or A to D: others were meant), and where positions lie apart.
    """
    photos = [spot for spot in spots if spot.source == "photo"]
    hands = [spot for spot in spots if spot.source == "hand" and not spot.photo]
    keys = [{spot.key for spot in some} for some in (photos, hands)]
    if min(map(len, keys)) < FEWEST or keys[0] & keys[1]:
        return []
    if {_pattern(key) for key in keys[0]} & {_pattern(key) for key in keys[1]}:
        return []
    if all(_elsewhere(hand, photos) for hand in hands):
        return []
    names = [spots_once(spot.spot for spot in some) for some in (photos, hands)]
    first = [first_few(some, _NAMED) for some in names]
    return [
        f"no hand count is named like a photo's spot: {len(names[0])} by photo ({first[0]}) and "
        f"{len(names[1])} by hand ({first[1]}) count as {len(names[0]) + len(names[1])} different "
        "places. If some are the same places, the field looks surer than it is: call them alike in "
        f"the sheet (spot {names[0][0]}), or, in a season, assign each photo to its spot. If all "
        "are other places, there is nothing to do"
    ]


def _pattern(key: str) -> str:
    """A name without its figures and single letters: all of IMG_0412 to IMG_0420 have one, and so
    have 1, 2, A and B, which somebody gave to places."""
    return re.sub(r"\d+|(?<![^\W\d_])[^\W\d_](?![^\W\d_])", "#", key)


def _elsewhere(hand: SpotDensity, photos: Sequence[SpotDensity]) -> bool:
    """Whether positions say that no photo was taken where this was counted."""
    there = [(one.lat, one.lon) for one in photos if one.lat is not None and one.lon is not None]
    if hand.lat is None or hand.lon is None or len(there) < len(photos):
        return False
    lats, lons = np.array(there, float).T
    return bool(distance_m(hand.lat, hand.lon, lats, lons).min() > NEAR_M)
