"""Which country a rule set is for: whose cautions go with it, and whether figures of yield hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from tillercount.stand.places import Country, country_of_place

if TYPE_CHECKING:
    from tillercount.stand.ruleset import RuleSet

__all__ = ["YIELDS_FROM", "country_of", "for_us", "pounds_from_elsewhere", "yields_from_elsewhere"]

YIELDS_FROM = "the United States and Canada"
"""Where figures of bushels per head come from (`tillercount.stand.potential`, `expect`)."""

_AMERICA_LON, _AMERICA_LAT = (-170.0, -50.0), 20.0
"""North America north of Mexico's middle, roughly: whole degrees, from memory."""


def country_of(rules: RuleSet) -> Country | Literal[""]:
    """By its boxes, then by the names in its region and places; "" where neither says."""
    for box in rules.where:
        lat, lon = sum(box.lat) / 2, sum(box.lon) / 2
        if not (_AMERICA_LON[0] < lon < _AMERICA_LON[1] and lat > _AMERICA_LAT):
            return "elsewhere"
    names = (*(box.name for box in rules.where), rules.region, *rules.places)
    found = [country for name in names if (country := country_of_place(name))]
    return found[0] if found else ""


def for_us(rules: RuleSet) -> bool:
    """Whether cautions of US states and US crop insurance go with it; where nobody knows, too."""
    return country_of(rules) in ("US", "")


def yields_from_elsewhere(rules: RuleSet) -> str:
    """Where the rules hold, if figures of yield per head weren't published for there; else ""."""
    return rules.region if country_of(rules) == "elsewhere" else ""


def pounds_from_elsewhere(rules: RuleSet, giver: RuleSet, figure: str) -> str:
    """What to read before pounds of North America's rules on a field elsewhere; else empty.

    Parameters
    ----------
    giver : RuleSet
        Whose ``figure`` ("figure of nitrogen per bushel") the pounds rest on.
    """
    whose = {"US": "a US", "Canada": "a Canadian"}.get(country_of(giver))
    if whose is None or not yields_from_elsewhere(rules):
        return ""
    return (
        f"these amounts rest on {whose} {figure}; your country's legal maximum may be lower: ask "
        "a local adviser before anything is spread"
    )
