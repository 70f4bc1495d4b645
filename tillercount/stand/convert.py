"""Shoots as a rule set counts them, where the counts allow it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.stand.bands import Measured
from tillercount.stand.ruleset import Counting, RuleSet

__all__ = ["CantConvert", "counts_by", "photos_do", "shoots_for"]


class CantConvert(ValueError):
    """The counts can't be turned into what the rule set counts; the message says why."""


def shoots_for(
    spots: Sequence[SpotDensity], counting: Counting
) -> tuple[list[SpotDensity], list[str]]:
    """Spots with shoots by the rule set's definition, and what had to be assumed.

    Spots come with the main stem in (`tillercount.hand.as_stems`). A rule set that leaves it out
    gets shoots - plants; a minimum of leaves can neither be added nor taken away afterwards.

    Raises
    ------
    CantConvert
        Leaf minimums differ, or main stems must come out where plants weren't counted.
    """
    counted = next((s.definition for s in spots if s.shoots_per_m2 is not None), None)
    if counted is None:
        raise CantConvert("no shoots were counted")
    flags: list[str] = []
    if counting.min_leaves == "not stated":
        flags.append(
            "the rules don't say how many leaves a tiller needs; the counts were taken as they are"
        )
    elif counting.min_leaves != counted.min_leaves:
        wanted = (
            f"shoots with {counting.min_leaves} leaves or more"
            if counting.min_leaves
            else "every shoot, however small"
        )
        have = (
            f"only shoots with {counted.min_leaves} leaves or more"
            if counted.min_leaves
            else "every shoot (photos always do)"
        )
        raise CantConvert(
            f"the rules count {wanted}, the counts hold {have}, and the one can't be worked out "
            "from the other"
        )
    if counting.main_stem == "not stated":
        flags.append("the rules don't say whether the main stem counts; it was taken to be in")
    if counting.main_stem != "out":
        return list(spots), flags
    out = []
    for spot in spots:
        if spot.shoots_per_m2 is None:
            out.append(spot)
            continue
        if spot.plants_per_m2 is None:
            raise CantConvert(
                f"the rules leave the main stem out, and {spot_text(spot.spot)} has no plants to "
                "take off"
            )
        tillers = max(0.0, spot.shoots_per_m2 - spot.plants_per_m2)
        out.append(replace(spot, shoots_per_m2=tillers))
    flags.append("shoots - plants = tillers, as the rules leave the main stem out")
    return out, flags


def photos_do(rules: RuleSet, what: Measured) -> bool:
    """Whether counts of photos can be held against the rule for plants or shoots of a set.

    Photos count every shoot, so a rule that leaves small ones out needs a count by hand.
    """
    if what == "plants":
        return True
    photo = SpotDensity("", "photo", 1.0, 2.0)
    try:
        shoots_for([photo], rules.counting)
    except CantConvert:
        return False
    return True


def counts_by(rules: RuleSet) -> list[str]:
    """By what the rules of a set can be fed, ``photo`` (or by hand as well) or ``hand``, with what
    is judged where that differs; nothing where a set judges no density."""
    by = {
        rule.measures: "photo" if photos_do(rules, rule.measures) else "hand"
        for rule in rules.rules
    }
    if len(set(by.values())) < 2:
        return list(by.values())[:1]
    return [f"{what} {how}" for what, how in by.items()]
