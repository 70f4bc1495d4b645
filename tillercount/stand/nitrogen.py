"""Nitrogen for the stand: the whole by yield goal, and what goes on early."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.stand.ruleset import Band, RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.whole import Range, Whole, whole_nitrogen
from tillercount.stand.words import rate_text, span

__all__ = ["ONCE_GROWING", "NitrogenPlan", "plan_nitrogen", "rest_of"]

ONCE_GROWING = "once growth has started and not before"
"""When early nitrogen goes on where the publisher doesn't say (common practice)."""


@dataclass(frozen=True)
class NitrogenPlan:
    """Pounds of nitrogen per acre, as ranges; None where nothing can be said.

    Attributes
    ----------
    advice : {"push", "some", "hold", "keep first", "jointed", "not said"}
        What the early dose should be.
    total, early, main : (float, float) or None
        lb N/ac in all, at green-up, and just before jointing.
    lines : tuple of str
        The plan in words, in the order to do it.
    arithmetic : tuple of str
        How the pounds came about.
    sources : tuple of str
    cautions : tuple of str
    early_when, main_when : str
        When either goes on: the publisher's own words where there are any.
    """

    advice: str
    yield_goal_bu_ac: float | None
    total: Range | None
    early: Range | None
    main: Range | None
    lines: tuple[str, ...]
    arithmetic: tuple[str, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    early_when: str = ONCE_GROWING
    main_when: str = "just before jointing (Feekes 5)"


def plan_nitrogen(
    band: Band,
    rules: RuleSet,
    trade: RuleSet,
    *,
    goal_bu_ac: float | None,
    stage: Stage | None,
    others: Sequence[Band] = (),
    whole: Whole | None = None,
    before_spreading: str = "Count more spots before spreading.",
) -> NitrogenPlan:
    """Nitrogen under the band that the stand fell into; ``others`` may be true as well.

    ``before_spreading`` says what to do about that (`tillercount.stand.settle.before_spreading`).

    ``whole`` is the whole nitrogen (see `whole_nitrogen`, which is asked where none is given). The
    larger part goes on just before jointing, because 70-75 % is taken up between Feekes 6 and 10
    (common practice); what isn't, 25-30 %, is the early part where the rules want one and name no
    pounds of their own.
    """
    if whole is None:
        whole = whole_nitrogen(rules, trade, goal_bu_ac)
    sources = list(whole.sources)
    arithmetic = list(whole.arithmetic)
    total = whole.net
    if stage is not None and stage.jointed:
        return _after_jointing(goal_bu_ac, total, whole)
    early = _early(band, rules, trade, total, arithmetic)
    if band.early_n_lb_ac is not None or (band.early_share is not None and total is not None):
        sources.insert(0, f"{rules.by}: {band.printed or band.name}")
    main = None
    if total is not None and early is not None:
        main = rest_of(total, early, band.early_share)
        arithmetic.append(
            f"just before jointing: {rate_text(total)} less {_zero(early)} = {rate_text(main)} "
            "lb N/ac"
        )
    cautions = list(whole.flags)
    if total is not None and early is not None and early[1] > total[0] / 2:
        surely = "is" if early[1] > total[1] / 2 else "may be"
        cautions.append(
            f"The early dose {surely} more than half of the whole; Maryland, for one, allowed no "
            "more than half of the spring nitrogen at green-up (state notice, 2013 wording)."
        )
    return NitrogenPlan(
        advice=band.early,
        yield_goal_bu_ac=goal_bu_ac,
        total=total,
        early=early,
        main=main,
        lines=(
            *_unsure(band, others, before_spreading),
            *_lines(band, total, early, main, whole, goal_bu_ac),
        ),
        arithmetic=tuple(arithmetic),
        sources=tuple(sources),
        cautions=tuple(cautions),
        early_when=band.early_when or ONCE_GROWING,
        main_when=_main_when(band, early),
    )


def _main_when(band: Band, early: Range | None) -> str:
    when = "just before jointing (Feekes 5)"
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


def _unsure(band: Band, others: Sequence[Band], before_spreading: str) -> list[str]:
    """What the plan would be for the other classes that may be true."""
    differ = [other for other in others if other.early != band.early]
    if not differ:
        return []
    else_ = "; ".join(f"for {other.class_!r} {_instead(other)}" for other in differ)
    return [
        f"This plan is for {band.class_!r}, the likelier case, which isn't sure: {else_}. "
        f"{before_spreading}"
    ]


def _instead(other: Band) -> str:
    if other.early_n_lb_ac is None or other.early_n_lb_ac[1] == 0:
        return _SHORT[other.early]
    return f"{rate_text(other.early_n_lb_ac)} lb N/ac early"


def _early(
    band: Band, rules: RuleSet, trade: RuleSet, total: Range | None, arithmetic: list[str]
) -> Range | None:
    if band.early_n_lb_ac is not None:
        arithmetic.append(f"early, as printed: {_zero(band.early_n_lb_ac)} lb N/ac")
        return band.early_n_lb_ac
    if band.early == "hold":
        return 0.0, 0.0
    if band.early_share is not None and total is not None:
        low, high = band.early_share
        early = (total[0] * low, total[1] * high)
        arithmetic.append(
            f"early, as printed ({rules.by}): {span((100 * low, 100 * high))} % of "
            f"{rate_text(total)} = {rate_text(early)} lb N/ac"
        )
        return early
    if band.early != "push" or total is None:
        return None
    figures = rules.nitrogen or trade.nitrogen
    assert figures is not None  # common practice always has them
    by = "" if rules.nitrogen else " (common practice; these rules name no pounds)"
    least, most = figures.uptake_share_f6_f10
    early = (total[0] * (1 - most), total[1] * (1 - least))
    arithmetic.append(
        f"early: the {100 * (1 - most):.0f}-{100 * (1 - least):.0f} % that isn't taken up between "
        f"Feekes 6 and 10{by} = {rate_text(early)} lb N/ac"
    )
    return early


def rest_of(total: Range, early: Range, share: Range | None = None) -> Range:
    """What is left of the whole after the early part.

    Low end goes with low end and high with high; where that would turn the range round, all that
    may be left. ``share`` is the early part's share of the whole, where it is one.
    """
    if share is not None:
        return total[0] * (1.0 - share[1]), total[1] * (1.0 - share[0])
    low, high = max(0.0, total[0] - early[0]), max(0.0, total[1] - early[1])
    if low <= high:
        return low, high
    return max(0.0, total[0] - early[1]), max(0.0, total[1] - early[0])


def _zero(ends: Range) -> str:
    return "0" if ends[1] == 0 else rate_text(ends)


def _after_jointing(goal: float | None, total: Range | None, whole: Whole) -> NitrogenPlan:
    lines = [
        "The crop has jointed: early nitrogen to make tillers comes too late and is no longer "
        "part of the plan.",
        "Put on what is still due at once where the ground carries you; the last useful time is "
        "about Feekes 6 (University of Delaware).",
    ]
    return NitrogenPlan(
        "jointed",
        goal,
        total,
        None,
        total,
        tuple(lines),
        whole.arithmetic,
        whole.sources,
        whole.flags,
    )


def _lines(
    band: Band,
    total: Range | None,
    early: Range | None,
    main: Range | None,
    whole: Whole,
    goal: float | None,
) -> list[str]:
    if band.early == "keep first":
        return [
            "Spend no nitrogen on this field until it is decided that the stand stays.",
            *(
                [f"If it stays, the whole would be {rate_text(total)} lb N/ac, less credits."]
                if total
                else []
            ),
        ]
    lines = []
    if early is not None and early[1] == 0:
        lines.append("Now: none. Hold it.")
    elif early is not None:
        lines.append(f"Early, {band.early_when or ONCE_GROWING}: {rate_text(early)} lb N/ac.")
    elif band.early == "push":
        lines.append(f"Early, {band.early_when or ONCE_GROWING}: the smaller part.")
    elif band.early == "some":
        lines.append(
            f"Early, {band.early_when or ONCE_GROWING}: some nitrogen; the rules name no pounds."
        )
    else:
        lines.append("Early: these rules don't say; decide by the tillers.")
    if main is not None and early is not None:
        part = "all of it" if early[1] == 0 else "the rest"
        part = "the larger part" if 0 < early[1] <= main[0] else part
        when = _main_when(band, early)
        lines.append(f"{when[0].upper()}{when[1:]}: {rate_text(main)} lb N/ac, {part}.")
    else:
        lines.append("Just before jointing (Feekes 5): the larger part.")
    if total is not None and whole.credits:
        off = ", ".join(f"{c.what} {span(c.lb_ac, 3)} lb" for c in whole.credits)
        lines.append(f"Credits are taken off already: {off}.")
    elif total is not None:
        lines.append("Take off what is already there: fall nitrogen, manure, the crop before.")
    elif goal is None:
        lines.append("Give a yield goal to get pounds per acre.")
    return lines
