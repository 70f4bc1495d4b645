"""What speaks against a yield goal: it has to be read before the pounds that rest on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tillercount.stand.expect import Expectation
from tillercount.twoforms import as_sentence

if TYPE_CHECKING:
    from tillercount.stand.nitrogen import NitrogenPlan
    from tillercount.stand.whole import Whole

__all__ = ["before_pounds", "beyond_most", "goal_off"]

HIGH_WHEAT_BU_AC = 150.0
"""bu/ac that hardly a field of wheat brings without irrigation (from memory); printed tables of
nitrogen by yield goal end at 90 to 100 (Tri-State, editions of 1995 and 2020)."""

HIGH_ABROAD_BU_AC = 225.0
"""The same where summers are long and mild, as in north-west Europe: 15 t/ha, with records of 17 to
18 (from memory)."""

LOW_WHEAT_BU_AC = 15.0
"""bu/ac below which hardly anybody sets a goal, since harvest would hardly pay (from memory)."""


def beyond_most(goal_bu_ac: float | None, crop: str, *, abroad: bool = False) -> str:
    """A goal that hardly any field reaches or anybody sets, whatever stands on it; else empty.

    ``abroad``: not in North America, of whose yields the lower limit is; no other is known.
    """
    most = HIGH_ABROAD_BU_AC if abroad else HIGH_WHEAT_BU_AC
    least = 0.0 if abroad else LOW_WHEAT_BU_AC
    if crop != "wheat" or goal_bu_ac is None or least <= goal_bu_ac <= most:
        return ""
    if goal_bu_ac < least:
        return (
            f"a yield goal of {goal_bu_ac:.3g} bu/ac is less than nearly anybody sets for wheat "
            f"(under {LOW_WHEAT_BU_AC:.0f} harvest hardly pays; from memory): check the number and "
            f"its unit (was ten times that meant?)"
        )
    who = "comes near the world's records" if abroad else "is for irrigated land and yield contests"
    return (
        f"a yield goal of {goal_bu_ac:.0f} bu/ac is more than nearly any wheat field brings (over "
        f"{most:.0f} {who}; from memory): check the number and its unit"
    )


def goal_off(goal_bu_ac: float | None, expected: Expectation | None) -> list[str]:
    """A yield goal above what figures in print give the stand, or below all of it.

    Figures from elsewhere speak against none; that is said where the goal lies beyond them.
    """
    if goal_bu_ac is None or expected is None:
        return []
    if expected.abroad:
        within = expected.low <= goal_bu_ac <= expected.high
        return [] if within else [_left_to_you(goal_bu_ac, expected)]
    if LOW_WHEAT_BU_AC <= goal_bu_ac < expected.low:
        return [
            f"the yield goal of {goal_bu_ac:.0f} bu/ac is below the {expected.low:.0f}-"
            f"{expected.high:.0f} bu/ac that figures in print give this stand: is that what was "
            "meant? Nitrogen for it would be too little for what stands there"
        ]
    if goal_bu_ac <= expected.high:
        return []
    return [
        f"the yield goal of {goal_bu_ac:.0f} bu/ac is above the {expected.low:.0f}-"
        f"{expected.high:.0f} bu/ac that figures in print give this stand; nitrogen for it "
        "would be too much"
    ]


def _left_to_you(goal_bu_ac: float, expected: Expectation) -> str:
    return (
        f"the {expected.low:.0f}-{expected.high:.0f} bu/ac reckoned for this stand rest on "
        f"{expected.whose}, so they say nothing against the yield goal of {goal_bu_ac:.0f} bu/ac: "
        "set it by what your own fields have brought, with a local adviser"
    )


def before_pounds(
    whole: Whole, plan: NitrogenPlan | None, high: Sequence[str], *, pounds: bool
) -> tuple[str, ...]:
    """What has to be read before any pounds: what speaks against the goal, then the plan's doubts.

    A plan that splits nothing has no doubts of its own; a tissue test gives pounds all the same.

    Parameters
    ----------
    high : sequence of str
        What `goal_off` says of this stand.
    pounds : bool
        Whether there are any; a plan without them keeps what it says in its own order.
    """
    if plan is not None and not pounds:
        return () if plan.advice == "undecided" else plan.unsure
    against = [*whole.doubts, *(high if whole.net is not None else ())]
    return tuple(dict.fromkeys((*map(as_sentence, against), *(plan.unsure if plan else ()))))
