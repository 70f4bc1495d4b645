"""A nitrogen plan in words, in the order to do it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tillercount.rounding import whole_pounds
from tillercount.stand.onalready import EarlyOn
from tillercount.stand.onepass import NONE_LEFT, spread_when
from tillercount.stand.ruleset import Band, RuleSet
from tillercount.stand.whole import Range, Whole
from tillercount.stand.words import percent, rate_text

__all__ = [
    "BEFORE_JOINTING",
    "ONCE_GROWING",
    "Likely",
    "likely_text",
    "main_when",
    "plan_lines",
    "unsure_lines",
    "whole_lines",
]

Likely = tuple[float, Range]
"""bu/ac that a stand makes likely at most, and lb N/ac in all for it."""

ONCE_GROWING = "once growth has started and not before"
"""When early nitrogen goes on where the publisher doesn't say (common practice)."""

BEFORE_JOINTING = "just before jointing (Feekes 5: split a stem, no node above the ground yet)"
"""When the larger part goes on, by what can be seen in the field (`tillercount.stand.stage`)."""


def main_when(band: Band, early: Range | None) -> str:
    """When the larger part goes on under this band."""
    when = BEFORE_JOINTING
    # With nothing early, the publisher's own date is for the rest.
    own = band.early_when if early is not None and early[1] == 0 else ""
    return f"{when}; by these rules {own}" if own else when


_SHORT = {
    "push": "some early nitrogen, once growth has started",
    "some": "some early nitrogen, once growth has started",
    "hold": "no early nitrogen",
    "keep first": "no nitrogen until it is decided that the stand stays",
    "not said": "what its tillers ask for",
}


def unsure_lines(
    band: Band,
    others: Sequence[Band],
    before_spreading: str,
    share: float | None,
    names: Mapping[str, str] | None = None,
) -> list[str]:
    """What the plan would be for the other classes that may be true.

    ``share`` is the class's, as it is shown; ``names``: see `plan_nitrogen`.
    """

    def called(one: Band) -> str:
        return (names or {}).get(one.class_, one.called)

    differ = [other for other in others if _instead(other) != _instead(band)]
    if not differ:
        return []
    sure = "" if share is None else f" ({percent(share)})"
    else_ = "; ".join(f"for “{called(other)}” {_instead(other)}" for other in differ)
    return [
        f"This plan is for “{called(band)}”, the likelier case{sure}, which isn't sure: {else_}. "
        f"{before_spreading}"
    ]


def _instead(other: Band) -> str:
    if other.early_n_lb_ac is None or other.early_n_lb_ac[1] == 0:
        return _SHORT[other.early]
    return f"{rate_text(other.early_n_lb_ac)} lb N/ac early"


def likely_text(likely: Likely | None) -> str:
    """The rate at the yield that the stand makes likely; empty where the goal isn't above that."""
    if likely is None:
        return ""
    bushels, ends = likely
    return (
        f"at the {bushels:.0f} bu/ac that this stand makes likely at most: {rate_text(ends)} lb "
        "N/ac in all"
    )


def whole_lines(rules: RuleSet, whole: Whole, likely: Likely | None) -> list[str]:
    """The whole with what came off it, and whose figure it is where it isn't the chosen rules'."""
    if whole.net is None:
        return []
    lines = [f"The whole: {whole.balance}."]
    if whole.by != rules.by:
        lines.append(
            f"These pounds are by {whole.by} (a figure for {whole.region}), not by "
            f"{rules.publisher}."
        )
    text = likely_text(likely)
    if text:
        lines.append(f"{text[0].upper()}{text[1:]}.")
    return lines


def plan_lines(
    band: Band,
    rules: RuleSet,
    early: Range | None,
    main: Range | None,
    whole: Whole,
    likely: Likely | None,
    goal: float | None,
    on: EarlyOn | None = None,
) -> list[str]:
    """What to do early, what just before jointing, and the whole.

    No pounds while it isn't decided that the stand stays. ``on``: see `NitrogenPlan`.
    """
    if band.early == "keep first":
        return ["Spend no nitrogen on this field until it is decided that the stand stays."]
    if on is not None and on.left is not None:
        return [on.step, *whole_lines(rules, whole, likely)]
    lines = []
    if on is not None and early is not None and early[1] == 0:
        lines.append(f"Now: none. {on.step}")
    elif early is not None and early[1] == 0:
        lines.append("Now: none. Hold it.")
    elif early is not None:
        when = spread_when("", early, "later")
        lines.append(f"Early, {band.early_when or ONCE_GROWING}: {rate_text(early)} lb N/ac{when}.")
    elif band.early == "push":
        lines.append(f"Early, {band.early_when or ONCE_GROWING}: the smaller part.")
    elif band.early == "some":
        lines.append(
            f"Early, {band.early_when or ONCE_GROWING}: some nitrogen; the rules name no pounds."
        )
    else:
        lines.append("Early: these rules don't say; decide by the tillers.")
    if on is not None and on.beside:
        lines.append(on.beside)
    elif main is not None and early is not None:
        part = "all of it" if early[1] == 0 else "the rest"
        part = "the larger part" if 0 < early[1] <= main[0] else part
        when = main_when(band, early)
        small = spread_when("", main, "")
        rate = f"{rate_text(main)} lb N/ac, {part}{small}"
        rate = rate if whole_pounds(main[1]) else f"none; {NONE_LEFT}"
        lines.append(f"{when[0].upper()}{when[1:]}: {rate}.")
    else:
        lines.append(f"{BEFORE_JOINTING[0].upper()}{BEFORE_JOINTING[1:]}: the larger part.")
    lines.extend(whole_lines(rules, whole, likely))
    if whole.net is None and goal is None:
        lines.append("Give a yield goal to get pounds per acre.")
    return lines
