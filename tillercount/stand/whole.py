"""The whole spring nitrogen as one publisher gives it, and what is taken off for what is there.

Publishers give a straight line over the yield goal, pounds per bushel, or a flat range; some give
credits. Each stays with its publisher. A credit that the chosen publisher doesn't print is taken
off pound for pound where the user knows the pounds (common practice), and else not at all, which
is said.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tillercount.errors import InputError
from tillercount.stand.already import (
    AlreadyThere,
    Credit,
    Range,
    check_credits,
    credits_for,
    pounds,
)
from tillercount.stand.country import pounds_from_elsewhere, yields_from_elsewhere
from tillercount.stand.goal import beyond_most
from tillercount.stand.words import join, number_text, rate_text, span
from tillercount.twoforms import WHICH_CASE

if TYPE_CHECKING:
    from tillercount.stand.ruleset import RuleSet
    from tillercount.stand.wholeparts import WholeNitrogen

__all__ = ["AlreadyThere", "Credit", "Range", "Whole", "whole_nitrogen"]


@dataclass(frozen=True)
class Whole:
    """The whole spring nitrogen, lb N/ac; ``gross`` before and ``net`` after the credits.

    ``cases`` are the publisher's cases that the range spans because none was chosen; ``region`` is
    where the figure of ``by`` is for. ``doubts`` are those of the ``flags`` that speak against the
    yield goal, what is taken off or a figure of another country, so that they are read before the
    pounds.
    """

    gross: Range | None
    net: Range | None
    by: str
    credits: tuple[Credit, ...] = ()
    arithmetic: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    cases: tuple[str, ...] = ()
    region: str = ""
    doubts: tuple[str, ...] = ()

    @property
    def balance(self) -> str:
        """The whole, and what came off it or that nothing did; empty without a whole."""
        if self.gross is None or self.net is None:
            return ""
        if not self.credits:
            return f"{rate_text(self.gross)} lb N/ac; {NOTHING_OFF}"
        off = " ".join(_taken(one) for one in self.credits)
        return (
            f"{rate_text(self.gross)} lb N/ac {off} = {rate_text(self.net)} lb N/ac "
            "(already taken off)"
        )


NOTHING_OFF = "nothing taken off yet for fall nitrogen, manure or the crop before"


def _taken(one: Credit) -> str:
    of = f"for {one.what.removeprefix('after ')} before" if one.what.startswith("after ") else ""
    low, high = one.lb_ac
    sign = "minus"
    if high < 0:  # the publisher adds for this crop
        sign, low, high = "plus", -high, -low
    return f"{sign} {_signed((low, high))} lb N/ac {of or f'of {one.what}'}"


@dataclass
class _Work:
    """What is gathered on the way."""

    arithmetic: list[str] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    cases: tuple[str, ...] = ()
    doubts: list[str] = field(default_factory=list)
    per_bushel: bool = False


def whole_nitrogen(
    rules: RuleSet,
    trade: RuleSet,
    goal_bu_ac: float | None,
    *,
    crop: str = "wheat",
    case: str = "",
    there: AlreadyThere | None = None,
    judged_by: RuleSet | None = None,
) -> Whole:
    """The whole by the chosen publisher, else, for wheat, by common practice, which is then said.

    Parameters
    ----------
    rules, trade : RuleSet
        The chosen publisher's, and common practice.
    goal_bu_ac : float or None
        Flat ranges need none.
    case : str
        One of the publisher's cases ("tilled", "no-till"); without it the range spans all.
    there : AlreadyThere, optional
    judged_by : RuleSet, optional
        The field's own, where ``rules`` only give the whole: those say in which country it lies.

    Raises
    ------
    InputError
        A case that the publisher doesn't have.
    """
    work = _Work()
    gross, giver = _gross(rules, trade, goal_bu_ac, crop, case, work)
    if giver.doubt:
        work.flags.append(giver.doubt)
    own = judged_by or rules
    figure = "figure of nitrogen per bushel" if work.per_bushel else "figure of nitrogen"
    high = beyond_most(goal_bu_ac, crop, abroad=bool(yields_from_elsewhere(own)))
    if gross is not None:
        before = (pounds_from_elsewhere(own, giver, figure), high)
        work.doubts.extend(filter(None, before))
    work.flags[:0] = work.doubts
    if gross is None:
        return Whole(
            None,
            None,
            giver.by,
            flags=tuple(work.flags),
            sources=tuple(work.sources),
            region=giver.region,
        )
    there = there or AlreadyThere()
    doubted = check_credits(there, gross)
    work.doubts.extend(doubted)
    work.flags[:0] = doubted
    credits, lines, flags = credits_for(giver, there)
    work.arithmetic.extend(lines)
    work.flags.extend(flags)
    net = gross
    if credits:
        off = (sum(c.lb_ac[0] for c in credits), sum(c.lb_ac[1] for c in credits))
        net = (max(0.0, gross[0] - off[1]), max(0.0, gross[1] - off[0]))
        work.arithmetic.append(
            f"whole less credits: {span(gross, 4)} lb N/ac less {_signed(off)} lb N/ac = "
            f"{pounds(net)} lb N/ac"
        )
    return Whole(
        gross,
        net,
        giver.by,
        tuple(credits),
        tuple(work.arithmetic),
        tuple(dict.fromkeys(work.sources)),
        tuple(work.flags),
        work.cases,
        giver.region,
        tuple(work.doubts),
    )


def _gross(
    rules: RuleSet, trade: RuleSet, goal: float | None, crop: str, case: str, work: _Work
) -> tuple[Range | None, RuleSet]:
    printed = [row for row in rules.nitrogen_whole if crop in (row.crops or rules.crops)]
    if case and not any(row.case == case for row in printed):
        have = join(list(dict.fromkeys(row.case for row in printed if row.case)), "or")
        hint = f"it has {have}" if have else "it has none; leave the case out"
        raise InputError(f"rules {rules.name!r} have no nitrogen for the case {case!r}; {hint}")
    if rules.nitrogen_by_yield is not None and crop in rules.crops:
        return _by_line(rules, goal, work), rules
    if printed:
        chosen = [row for row in printed if not case or row.case in ("", case)]
        return _by_print(rules, chosen, goal, work), rules
    giver = rules if rules.nitrogen else trade
    if crop != "wheat":
        work.flags.append(
            f"no whole nitrogen for {crop}: {rules.by} gives none, and common practice's pounds "
            "per bushel are wheat's; ask a local adviser"
        )
        return None, rules
    if giver is not rules and goal is not None:
        work.flags.append(
            f"{rules.publisher} gives no whole nitrogen in the part that was read; the whole is "
            "by common practice"
        )
    figures = giver.nitrogen
    assert figures is not None  # common practice always has them
    work.sources.append(figures.source or giver.by)
    if goal is None:
        return None, giver
    return _per_bushel(goal, figures.lb_per_bu, "", work), giver


def _by_line(rules: RuleSet, goal: float | None, work: _Work) -> Range | None:
    line = rules.nitrogen_by_yield
    assert line is not None
    work.sources.extend(source.text for source in rules.sources)
    if goal is None:
        return None
    lb = line.lb_per_ac(goal)
    sign = "+" if line.lb_at >= 0 else "-"
    over = f"({goal:g} - {line.at_bu:g})" if line.at_bu else f"{goal:g}"
    cut = ", so 0" if line.lb_at + line.lb_per_bu * (goal - line.at_bu) < 0 else ""
    work.arithmetic.append(
        f"whole ({rules.publisher}, edition {line.edition}): {line.lb_per_bu:g} x {over} {sign} "
        f"{abs(line.lb_at):g} = {lb:.1f} lb N/ac{cut}"
    )
    for bushels, by_line, in_table in line.clashes:
        if bushels == goal:
            work.flags.append(
                f"at {goal:g} bu/ac the publisher's table has {in_table:g} lb N/ac where its "
                f"equation gives {by_line:.4g} lb N/ac; the equation is used"
            )
    goals = [bushels for bushels, _ in line.table]
    if goals and not min(goals) <= goal <= max(goals):
        work.doubts.append(
            f"the yield goal of {goal:g} bu/ac is outside the {min(goals):g}-{max(goals):g} bu/ac "
            f"of the table printed beside the equation{'. ' + line.note if line.note else ''}"
        )
    return lb, lb


def _by_print(
    rules: RuleSet, rows: list[WholeNitrogen], goal: float | None, work: _Work
) -> Range | None:
    found: list[Range] = []
    by_id = {source.id: source.text for source in rules.sources}
    for row in rows:
        if not row.holds_for(goal):
            continue
        name = f", {row.case}" if row.case else ""
        if row.lb_ac is not None:
            lb = row.lb_ac
            work.arithmetic.append(
                f"whole ({rules.by}{name}{row.goal_text}): {span(lb, 4)} lb N/ac, as printed"
            )
        else:
            assert row.lb_per_bu is not None
            if goal is None:
                continue
            lb = _per_bushel(goal, row.lb_per_bu, f" ({rules.by}{name})", work)
        if row.at_most_lb is not None and lb[1] > row.at_most_lb:
            lb = (min(lb[0], row.at_most_lb), row.at_most_lb)
            work.arithmetic.append(f"at most {row.at_most_lb:g} lb N/ac (same publisher)")
        if row.note:
            work.flags.append(row.note)
        found.append(lb)
    work.sources.extend(by_id[one] for row in rows for one in row.sources if one in by_id)
    if not found:
        windows = join([row.goal_text.removeprefix(", ") for row in rows if row.goal_text], "or")
        if goal is not None and windows:
            work.flags.append(
                f"a yield goal of {goal:g} bu/ac isn't in print at {rules.publisher} "
                f"({windows}); no whole nitrogen by these rules"
            )
        return None
    work.cases = tuple(dict.fromkeys(row.case for row in rows if row.case))
    if len(work.cases) > 1:
        work.flags.append(
            f"the whole spans the publisher's cases {join(list(work.cases))}; {WHICH_CASE.screen}"
        )
    return min(lb[0] for lb in found), max(lb[1] for lb in found)


def _per_bushel(goal: float, rate: Range, by: str, work: _Work) -> Range:
    work.per_bushel = True
    low, high = (goal * each for each in rate)
    ends = pounds((low, high))
    work.arithmetic.append(
        f"whole{by}: {number_text(goal)} bu/ac x {span(rate)} lb N per bushel = {ends} lb N/ac"
    )
    return low, high


def _signed(off: Range) -> str:
    if off[0] >= 0:
        return pounds(off)
    return f"({off[0]:g})" if off[0] == off[1] else f"({off[0]:g} to {off[1]:g})"
