"""Nitrogen for the stand: the whole by yield goal, and what goes on early."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.stand.ruleset import Band, Nitrogen, RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.words import number_text, span

__all__ = ["NitrogenPlan", "plan_nitrogen"]

Range = tuple[float, float]


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


def plan_nitrogen(
    band: Band,
    rules: RuleSet,
    trade: RuleSet,
    *,
    goal_bu_ac: float | None,
    stage: Stage | None,
    others: Sequence[Band] = (),
) -> NitrogenPlan:
    """Nitrogen under the band that the stand fell into; ``others`` may be true as well.

    The whole is yield goal × lb per bushel. The larger part goes on just before jointing, because
    70-75 % is taken up between Feekes 6 and 10 (common practice); what isn't, 25-30 %, is the
    early part where the rules want one and name no pounds of their own.
    """
    own = rules if rules.nitrogen else trade
    figures = own.nitrogen
    assert figures is not None  # common practice always has them
    sources = [figures.source or own.by]
    arithmetic: list[str] = []
    total = _total(goal_bu_ac, figures, arithmetic)
    if stage is not None and stage.jointed:
        return _after_jointing(goal_bu_ac, total, tuple(arithmetic), tuple(sources))
    early = _early(band, figures, total, arithmetic)
    if band.early_n_lb_ac is not None:
        sources.insert(0, f"{rules.by}: {band.printed or band.name}")
    main = None
    if total is not None and early is not None:
        main = (max(0.0, total[0] - early[0]), max(0.0, total[1] - early[1]))
        arithmetic.append(
            f"just before jointing: {span(total, 3)} less {_zero(early)} = {span(main, 3)} lb N/ac"
        )
    cautions = []
    if total is not None and early is not None and early[1] > total[1] / 2:
        cautions.append(
            "The early dose is more than half of the whole; Maryland, for one, allowed no more "
            "than half of the spring nitrogen at green-up (state notice, 2013 wording)."
        )
    return NitrogenPlan(
        advice=band.early,
        yield_goal_bu_ac=goal_bu_ac,
        total=total,
        early=early,
        main=main,
        lines=(*_unsure(band, others), *_lines(band, total, early, main)),
        arithmetic=tuple(arithmetic),
        sources=tuple(sources),
        cautions=tuple(cautions),
    )


_SHORT = {
    "push": "some early nitrogen, once growth has started",
    "some": "some early nitrogen, once growth has started",
    "hold": "no early nitrogen",
    "keep first": "no nitrogen until it is decided that the stand stays",
    "not said": "what its tillers ask for",
}


def _unsure(band: Band, others: Sequence[Band]) -> list[str]:
    """What the plan would be for the other classes that may be true."""
    differ = [other for other in others if other.early != band.early]
    if not differ:
        return []
    else_ = "; ".join(f"for {other.class_!r} {_instead(other)}" for other in differ)
    return [
        f"This plan is for {band.class_!r}, the likelier case, which isn't sure: {else_}. "
        "Count more spots before spreading."
    ]


def _instead(other: Band) -> str:
    if other.early_n_lb_ac is None or other.early_n_lb_ac[1] == 0:
        return _SHORT[other.early]
    return f"{span(other.early_n_lb_ac, 3)} lb N/ac early"


def _total(goal: float | None, figures: Nitrogen, arithmetic: list[str]) -> Range | None:
    if goal is None:
        return None
    low, high = (goal * rate for rate in figures.lb_per_bu)
    arithmetic.append(
        f"whole: {number_text(goal)} bu/ac x {span(figures.lb_per_bu)} lb N per bushel = "
        f"{number_text(low)}-{number_text(high)} lb N/ac, less credits"
    )
    return low, high


def _early(
    band: Band, figures: Nitrogen, total: Range | None, arithmetic: list[str]
) -> Range | None:
    if band.early_n_lb_ac is not None:
        arithmetic.append(f"early, as printed: {_zero(band.early_n_lb_ac)} lb N/ac")
        return band.early_n_lb_ac
    if band.early == "hold":
        return 0.0, 0.0
    if band.early != "push" or total is None:
        return None
    least, most = figures.uptake_share_f6_f10
    early = (total[0] * (1 - most), total[1] * (1 - least))
    arithmetic.append(
        f"early: the {100 * (1 - most):.0f}-{100 * (1 - least):.0f} % that isn't taken up between "
        f"Feekes 6 and 10 = {number_text(early[0])}-{number_text(early[1])} lb N/ac"
    )
    return early


def _zero(ends: Range) -> str:
    return "0" if ends[1] == 0 else span(ends, 3)


def _after_jointing(
    goal: float | None, total: Range | None, arithmetic: tuple[str, ...], sources: tuple[str, ...]
) -> NitrogenPlan:
    lines = [
        "The crop has jointed: early nitrogen to make tillers comes too late and is no longer "
        "part of the plan.",
        "Put on what is still due at once where the ground carries you; the last useful time is "
        "about Feekes 6 (University of Delaware).",
    ]
    return NitrogenPlan("jointed", goal, total, None, total, tuple(lines), arithmetic, sources)


def _lines(band: Band, total: Range | None, early: Range | None, main: Range | None) -> list[str]:
    if band.early == "keep first":
        return [
            "Spend no nitrogen on this field until it is decided that the stand stays.",
            *(
                [f"If it stays, the whole would be {span(total, 3)} lb N/ac, less credits."]
                if total
                else []
            ),
        ]
    lines = []
    if early is not None and early[1] == 0:
        lines.append("Now: none. Hold it.")
    elif early is not None:
        lines.append(f"Early, once growth has started and not before: {span(early, 3)} lb N/ac.")
    elif band.early == "push":
        lines.append("Early, once growth has started and not before: the smaller part.")
    elif band.early == "some":
        lines.append("Early, once growth has started: some nitrogen; the rules name no pounds.")
    else:
        lines.append("Early: these rules don't say; decide by the tillers.")
    if main is not None:
        part = "all of it" if early is not None and early[1] == 0 else "the larger part"
        lines.append(f"Just before jointing (Feekes 5): {span(main, 3)} lb N/ac, {part}.")
    else:
        lines.append("Just before jointing (Feekes 5): the larger part.")
    if total is not None:
        lines.append("Take off what is already there: fall nitrogen, manure, the crop before.")
    else:
        lines.append("Give a yield goal to get pounds per acre.")
    return lines
