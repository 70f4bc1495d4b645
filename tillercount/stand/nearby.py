"""What there is for a place without rules of its own: those of near by, never taken unasked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from tillercount.names import first_few
from tillercount.positions import distance_m
from tillercount.stand.places import Place, place_named

if TYPE_CHECKING:
    from tillercount.stand.ruleset import RuleSet

__all__ = ["DECIDES", "NEAR_M", "near_by", "nearest_line", "none_for"]

NEAR_M = 640_000.0
"""So far (400 miles) from the middle of where rules hold a place or a field is still near by: a
convention."""
DECIDES = "the local extension service says which limits hold there"
_NAMED = 4


def near_by(lat: float, lon: float, sets: Iterable[RuleSet]) -> list[RuleSet]:
    """Sets that judge a stand, the nearest first; none from further than `NEAR_M`."""
    away = [(_away_m(one, lat, lon), one) for one in sets if one.rules and one.where]
    near = [pair for pair in away if pair[0] < NEAR_M]
    return [one for _, one in sorted(near, key=lambda pair: pair[0])]


def _away_m(rules: RuleSet, lat: float, lon: float) -> float:
    """To the nearest middle of the places where rules hold: a box is often half wilderness."""
    middles = []
    for box in rules.where:
        place = place_named(box.name)
        middles.append(
            (sum(box.lat) / 2, sum(box.lon) / 2) if place is None else (place.lat, place.lon)
        )
    lats, lons = np.array(middles, dtype=float).T
    return float(distance_m(lat, lon, lats, lons).min())


def nearest_line(lat: float, lon: float, sets: Iterable[RuleSet]) -> str:
    """Which sets are near by, for whom, and who decides; without a full stop."""
    near = near_by(lat, lon, sets)
    if not near:
        return f"none near by either; {DECIDES}"
    named = first_few([f"{one.name} ({one.region})" for one in near], _NAMED, between="; ")
    they = "They are" if near[1:] else "It is"
    return f"near by: {named}. {they} for other ground: {DECIDES}"


def none_for(place: Place, sets: Iterable[RuleSet], crop: str = "") -> str:
    """That no set judges a stand there, what those published for it give, and what is near by.

    ``crop`` is said where the place has sets for other crops, which aren't given.
    """
    every = list(sets)
    there = [one.name for one in every if one.holds_in(place.name)]
    give = "give" if there[1:] else "gives"
    only = f" ({' and '.join(there)} {give} nitrogen by yield goal alone)" if there else ""
    stand = f"a stand of {crop}" if crop else "a stand"
    return (
        f"no rule set here that judges {stand} was published for {place.name}{only}; "
        f"{nearest_line(place.lat, place.lon, every)}"
    )
