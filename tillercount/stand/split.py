"""Nitrogen split by the stand: by its tillers where the rules have them, else by its plants."""

from __future__ import annotations

from collections.abc import Callable

from tillercount.stand.actions import nitrogen_by
from tillercount.stand.alike import same_done
from tillercount.stand.classify import Classified
from tillercount.stand.expect import Expectation
from tillercount.stand.goal import goal_off
from tillercount.stand.nitrogen import NitrogenPlan, plan_nitrogen
from tillercount.stand.planlines import Likely
from tillercount.stand.ruleset import Band, RuleSet
from tillercount.stand.settle import before_spreading, what_first
from tillercount.stand.shares import class_percent, class_shares
from tillercount.stand.stage import Stage
from tillercount.stand.whole import Whole, whole_nitrogen
from tillercount.twoforms import as_sentence

__all__ = ["SURE_ENOUGH", "split_by_stand"]

SURE_ENOUGH = 0.5
"""No rate is split by a class that is less probable than this: a convention of our own."""

WholeAt = Callable[[float | None], Whole]


def split_by_stand(
    plants: Classified | None,
    shoots: Classified | None,
    rules: RuleSet,
    trade: RuleSet,
    *,
    goal_bu_ac: float | None,
    stage: Stage | None,
    expected: Expectation | None = None,
    whole_at: WholeAt | None = None,
    told: bool = False,
    nothing: str = "",
) -> NitrogenPlan | None:
    """The plan of `plan_nitrogen` for a judged field; None where neither density was judged.

    Parameters
    ----------
    expected : Expectation, optional
        Bushels per acre that the stand makes likely; a goal above them gets the rate at their
        high end beside its own.
    whole_at : callable, optional
        The whole at a yield goal (with credits, or by another publisher); by default that of
        `whole_nitrogen` under these rules.
    told : bool
        What to do first, where no rate can be given, is told elsewhere at length.
    nothing : str
        Why nothing more goes on, where what is on already leaves nothing that is worth a pass.
    """
    by = nitrogen_by(plants, shoots)
    if by is None:
        return None
    if whole_at is None:

        def whole_at(goal: float | None) -> Whole:
            return whole_nitrogen(rules, trade, goal)

    whole = whole_at(goal_bu_ac)
    why = _undecided(by)
    return plan_nitrogen(
        _planned(by),
        rules,
        trade,
        goal_bu_ac=goal_bu_ac,
        stage=stage,
        others=_others(by),
        whole=whole,
        before_spreading=_first(by) if why and not told else before_spreading(by),
        undecided=why,
        counts_doubted=by.held is not None and by.held.counts,
        share=class_shares(by)[by.class_],
        names={one.class_: by.called(one.class_) for one in by.likely},
        likely=_likely(goal_bu_ac, expected, whole, whole_at),
        nothing=nothing,
        doubts=[
            as_sentence(one) for one in (*whole.doubts, *goal_off(goal_bu_ac, expected))
        ]
        if whole.net is not None
        else [],
    )


def _planned(by: Classified) -> Band:
    """The band to plan for: without the early nitrogen that its shoots speak against."""
    if not (by.no_early and by.band.asks_early):
        return by.band
    none = {"early": "hold", "early_n_lb_ac": None, "early_share": None, "early_when": ""}
    return by.band.model_copy(update=none)


def _others(by: Classified) -> list[Band]:
    """Bands of other classes that may be true, less early nitrogen where shoots forbid it."""
    if by.clear:
        return []
    others = (band for band in by.likely if band is not by.band)
    return [band for band in others if not (by.no_early and band.asks_early)]


def _first(by: Classified) -> str:
    text = what_first(by)
    return f"First: {text}" if text.startswith("Count") else text


def _undecided(by: Classified) -> str:
    """Why no rate can be split by this class; empty where one can.

    A verdict that is held back has no class to split by. One spot says nothing of how the field
    scatters. And the class that is open above is the widest, so that it may lead only because
    nothing is known.
    """
    if by.held is not None:
        return by.held.why
    if by.n < 2:
        return "one spot can't stand for a field"
    if class_shares(by)[by.class_] < SURE_ENOUGH and not same_done(by):  # as it is shown
        return f"no class is even half likely (“{by.called()}” leads with {class_percent(by)})"
    return ""


def _likely(
    goal: float | None, expected: Expectation | None, whole: Whole, whole_at: WholeAt
) -> Likely | None:
    if goal is None or expected is None or goal <= expected.high or whole.net is None:
        return None
    if expected.abroad:
        return None
    net = whole_at(expected.high).net
    return None if net is None or net == whole.net else (expected.high, net)
