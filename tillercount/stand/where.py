"""Where rules hold, as rough boxes of latitude and longitude, and how far a field lies outside.

Borders of states are no boxes; theirs are rounded outward to half a degree and stand in the rule
files from memory. So a field is told to lie outside only beyond `FAR_M` of every box, and one near
a border may lie in the next state without a word.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from pydantic import Field, model_validator

from tillercount.positions import distance_m
from tillercount.stand.bands import Misplaced, Part
from tillercount.stand.nearby import nearest_line
from tillercount.stand.words import join
from tillercount.twoforms import RULES_THERE

if TYPE_CHECKING:
    from tillercount.stand.ruleset import RuleSet

__all__ = ["FAR_M", "Box", "holds_for", "miles_outside", "named_at", "outside"]

M_PER_MILE = 1609.344
FAR_M = 30 * M_PER_MILE
"""So far from every box a field lies outside for certain, whatever the rounding: a convention."""


class Box(Part):
    """A rough box around one state, province or country, in degrees; south and west first."""

    name: str = Field(min_length=1)
    lat: tuple[float, float]
    lon: tuple[float, float]

    @model_validator(mode="after")
    def _on_earth(self) -> Box:
        for key, (low, high), most in (("lat", self.lat, 90.0), ("lon", self.lon, 180.0)):
            if not -most <= low < high <= most:
                raise Misplaced(
                    f"needs two numbers of degrees from -{most:g} to {most:g}, the smaller one "
                    "first (west of Greenwich and south of the equator are below 0)",
                    key,
                )
        return self

    def away_m(self, lat: float, lon: float) -> float:
        """Distance to the box, metres; 0 inside."""
        near = (
            min(max(lat, self.lat[0]), self.lat[1]),
            min(max(lon, self.lon[0]), self.lon[1]),
        )
        if near == (lat, lon):
            return 0.0
        return float(distance_m(lat, lon, np.array([near[0]]), np.array([near[1]]))[0])

    @property
    def degrees2(self) -> float:
        """How large it is, for choosing the smaller of two that overlap."""
        return (self.lat[1] - self.lat[0]) * (self.lon[1] - self.lon[0])


def miles_outside(rules: RuleSet, lat: float, lon: float) -> float | None:
    """Miles from the nearest box of a rule set; None where its file gives none."""
    if not rules.where:
        return None
    return min(box.away_m(lat, lon) for box in rules.where) / M_PER_MILE


def holds_for(rules: RuleSet) -> str:
    """Where they hold, in words: the boxes' names, else the region."""
    names = list(dict.fromkeys(box.name for box in rules.where))
    return join(names) if names else rules.region


def named_at(lat: float, lon: float, sets: Iterable[RuleSet]) -> list[str]:
    """Names that some rule set has for a place, the smallest box first."""
    boxes = {box.name: box for one in sets for box in one.where if box.away_m(lat, lon) == 0.0}
    return [box.name for box in sorted(boxes.values(), key=lambda box: box.degrees2)]


def outside(rules: RuleSet, places: Sequence[tuple[float, float]], sets: Iterable[RuleSet]) -> str:
    """What to say where a field lies outside of its rules' boxes; else empty.

    Parameters
    ----------
    rules : RuleSet
    places : sequence of (lat, lon)
        Of spots, or of the boundary. Their medians count, so that one wrong position doesn't.
    sets : iterable of RuleSet
        Among which to look for others.
    """
    good = [place for place in places if all(math.isfinite(number) for number in place)]
    if not good:
        return ""
    lat, lon = (float(number) for number in np.median(np.array(good, dtype=float), axis=0))
    miles = miles_outside(rules, lat, lon)
    if miles is None or miles * M_PER_MILE <= FAR_M:
        return ""
    # rules for nitrogen alone don't help who looks for others to judge a stand by
    some = [o for o in sets if o.name != rules.name and (o.rules or not rules.rules)]
    others = named_at(lat, lon, some)[:2]
    if others:
        second = f" (or {_quoted(others[1])})" if others[1:] else ""
        see = f"{RULES_THERE.screen} {_quoted(others[0])}{second}"
    else:
        see = f"no other here was published for there; {nearest_line(lat, lon, some)}"
    return (
        f"these rules ({rules.name}) are for {holds_for(rules)}; this field lies outside, about "
        f"{_about(miles)} miles away ({lat:.2f}, {lon:.2f}), where they may not hold; {see}"
    )


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _about(miles: float) -> str:
    return f"{round(miles, -2):,.0f}" if miles >= 300 else f"{round(miles, -1):.0f}"
