"""Nitrogen for the stand: the whole by yield goal, and what goes on early."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tillercount.stand.country import for_us
from tillercount.stand.late import late_lines, late_undecided, past_use
from tillercount.stand.limits import over_half
from tillercount.stand.onalready import EarlyOn, nothing_due
from tillercount.stand.onepass import in_passes, left_of
from tillercount.stand.planlines import (
    BEFORE_JOINTING,
    ONCE_GROWING,
    Likely,
    main_when,
    plan_lines,
    unsure_lines,
    whole_lines,
)
from tillercount.stand.ruleset import Band, RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.whole import Range, Whole, whole_nitrogen
from tillercount.stand.words import rate_text, span
from tillercount.twoforms import as_sentence

__all__ = ["MAIN_LINE", "NitrogenPlan", "plan_nitrogen", "rest_of"]

MAIN_LINE = "just before jointing: "
"""How the arithmetic of the larger part begins."""


@dataclass(frozen=True)
class NitrogenPlan:
    """Pounds of nitrogen per acre, as ranges; None where nothing can be said.

    Attributes
    ----------
    advice : {"push", "some", "hold", "keep first", "jointed", "not said", "undecided"}
        What the early dose should be; "undecided" where the class isn't known well enough for any
        rate.
    total, early, main : (float, float) or None
        lb N/ac in all (credits taken off), at green-up, and just before jointing.
    lines : tuple of str
        The plan in words, in the order to do it.
    arithmetic : tuple of str
        How the pounds came about.
    sources : tuple of str
    cautions : tuple of str
    early_when, main_when : str
        When either goes on: the publisher's own words where there are any.
    unsure : tuple of str
        What has to be read before any pounds: what speaks against the yield goal, and what the
        plan would be for other classes that may be true.
    whole : Whole or None
        What the pounds come from.
    likely : (float, (float, float)) or None
        bu/ac that the stand makes likely at most, and lb N/ac in all for it, where the yield goal
        is above that.
    may_go : bool
        Whether a class that may be true wants it decided first that the stand stays.
    on : EarlyOn or None
        What is on already this spring beside the early part; without any, where a part or the
        whole is too little for a pass (`tillercount.stand.onepass`), which the pounds heed.
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
    main_when: str = BEFORE_JOINTING
    unsure: tuple[str, ...] = ()
    whole: Whole | None = None
    likely: Likely | None = None
    may_go: bool = False
    on: EarlyOn | None = None

    @property
    def withheld(self) -> bool:
        """Whether no pounds are to be shown: it isn't decided that the stand stays, or what it is.

        Even the whole would read as a rate to put on.
        """
        return self.advice in {"keep first", "undecided"}


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
    undecided: str = "",
    share: float | None = None,
    names: Mapping[str, str] | None = None,
    likely: Likely | None = None,
    doubts: Sequence[str] = (),
    counts_doubted: bool = False,
    nothing: str = "",
) -> NitrogenPlan:
    """Nitrogen under the band that the stand fell into; ``others`` may be true as well.

    ``before_spreading`` says what to do about that (`tillercount.stand.settle.before_spreading`),
    ``share`` is the probability of the band's class, ``names`` what classes are called where that
    isn't just the band's name. ``undecided`` says why no rate can be given at all; it is
    empty where one can. ``likely``: see `NitrogenPlan`. ``doubts``: sentences that speak against
    the yield goal. ``counts_doubted``: it is undecided because counts were probably
    mistyped, so that nothing is said of giving the stand up either. ``nothing`` says why no more
    goes on, whatever class it is, where what is on already leaves nothing that is worth a pass.

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
    past_tillers = stage is not None and stage.past_tillers
    may_go = any(one.early == "keep first" for one in (band, *others))
    left = left_of(total, 0.0)
    nothing = nothing or nothing_due(total, 0.0)
    if past_tillers or nothing:
        # early nitrogen is no choice any more, but whether the stand is worth any still is
        others = [one for one in others if one.early == "keep first"]
    unsure = unsure_lines(band, others, before_spreading, share, names)
    undue = (as_sentence(nothing),) if nothing and past_tillers else ()
    if undecided and (past_tillers or band.early != "keep first" or counts_doubted):
        late = undue or (late_undecided(stage) if stage is not None else ())
        # past the last useful stage none are to follow
        none = "No rates" if past_use(stage) else "No rates yet"
        lines = (f"{none}: {undecided}. {before_spreading}", *late)
        # a tissue test gives pounds all the same, and those need the sentence
        if_pounds = tuple(unsure) if may_go else ()
        return _no_split("undecided", goal_bu_ac, whole, lines, likely, if_pounds, may_go)
    if stage is not None and stage.past_tillers and band.early == "keep first":
        # no pounds before it is decided that the stand stays, however late; but that it is late
        first = plan_lines(band, rules, None, None, whole, likely, goal_bu_ac)
        return _no_split(
            "keep first",
            goal_bu_ac,
            whole,
            (*first, *(undue or late_undecided(stage))),
            likely,
            may_go=may_go,
        )
    if stage is not None and stage.past_tillers:
        # so late the whole isn't a rate to put on any more
        pounds = () if past_use(stage) else whole_lines(rules, whole, likely)
        before = (*doubts, *unsure)
        if left is not None:
            due = EarlyOn(0.0, None, left=left, whole=total)
            told = (*before, due.step, *pounds)
            plan = _no_split("jointed", goal_bu_ac, whole, told, likely, before, may_go)
            return replace(plan, main=(0.0, 0.0), on=due)
        late = (*before, *late_lines(stage, may_go=may_go), *pounds)
        return _no_split("jointed", goal_bu_ac, whole, late, likely, before, may_go)
    early = _early(band, rules, trade, total, arithmetic)
    if early is not None and total is not None and early[1] > total[1]:
        doubts = (*doubts, _more_than(total, early))
        early = min(early[0], total[0]), total[1]
        arithmetic.append(f"early, no more than the whole: {rate_text(early)} lb N/ac")
    if band.early_n_lb_ac is not None or (band.early_share is not None and total is not None):
        sources.insert(0, f"{rules.by}: {band.printed or band.name}")
    main = None
    if total is not None and early is not None:
        main = rest_of(total, early, band.early_share)
        arithmetic.append(
            f"{MAIN_LINE}{rate_text(total)} lb N/ac less {_zero(early)} lb N/ac = "
            f"{rate_text(main)} lb N/ac"
        )
    on: EarlyOn | None = None
    if left is not None and band.early != "keep first":
        on = EarlyOn(0.0, early, later=main, left=left, whole=total)
        early, main = early and (0.0, 0.0), main and (0.0, 0.0)
    elif total is not None and early is not None and main is not None:
        parts = in_passes(early, main, total)
        if parts.moved:
            on = EarlyOn(0.0, early, parts=parts, later=main)
            early, main = parts.early, parts.main
            arithmetic.append(parts.why)
    if band.early == "keep first":
        doubts = ()  # no pounds to stand before, so they stay among the cautions
    cautions = [flag for flag in whole.flags if as_sentence(flag) not in doubts]
    cautions.extend(over_half(early, total, us=for_us(rules)))
    before = (*doubts, *unsure)
    return NitrogenPlan(
        advice=band.early,
        yield_goal_bu_ac=goal_bu_ac,
        total=total,
        early=early,
        main=main,
        lines=(*before, *plan_lines(band, rules, early, main, whole, likely, goal_bu_ac, on)),
        arithmetic=tuple(arithmetic),
        sources=tuple(sources),
        cautions=tuple(cautions),
        early_when=band.early_when or ONCE_GROWING,
        main_when=main_when(band, early),
        unsure=before,
        whole=whole,
        likely=likely,
        may_go=may_go,
        on=on,
    )


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
            f"{rate_text(total)} lb N/ac = {rate_text(early)} lb N/ac"
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


def _more_than(total: Range, early: Range) -> str:
    return (
        f"The early {rate_text(early)} lb N/ac are more than the whole of {rate_text(total)} lb "
        "N/ac for this yield goal, so no more than that is planned: is the goal right?"
    )


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


def _no_split(
    advice: str,
    goal: float | None,
    whole: Whole,
    lines: tuple[str, ...],
    likely: Likely | None,
    unsure: tuple[str, ...] = (),
    may_go: bool = False,
) -> NitrogenPlan:
    return NitrogenPlan(
        advice=advice,
        yield_goal_bu_ac=goal,
        total=whole.net,
        early=None,
        main=whole.net if advice == "jointed" else None,
        lines=lines,
        arithmetic=whole.arithmetic,
        sources=whole.sources,
        cautions=tuple(flag for flag in whole.flags if as_sentence(flag) not in unsure),
        unsure=unsure,
        whole=whole,
        likely=likely,
        may_go=may_go,
    )
