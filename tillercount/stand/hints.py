"""What to mind about a field beside its verdict: stage, tillers per plant, heads, goal."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.classify import Classified
from tillercount.stand.expect import Expectation
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage

__all__ = ["few_tillers", "goal_too_high", "stage_hints", "thin_heads"]


def stage_hints(rules: RuleSet, stage: Stage | None) -> list[str]:
    """Where the growth stage isn't one that the rules were made for."""
    if stage is None:
        return []
    window = f"{rules.stage.from_} to {rules.stage.to}"
    if stage.jointed:
        return [
            f"{stage.words} is after jointing: the early-nitrogen rule doesn't apply any more, and "
            f"stand rules for {window} only roughly"
        ]
    place = rules.stage.place(stage)
    if place == "within":
        return []
    late = "later" if place == "after" else "earlier"
    return [
        f"{stage.words} is {late} than the stages these rules were made for ({window}); "
        f"take the verdict with care. Look for: {stage.feature}"
    ]


def thin_heads(heads: Expectation, rules: RuleSet, trade: RuleSet) -> list[str]:
    """Where even the best survival in print leaves too few heads."""
    goal, by = (rules.heads, rules.by) if rules.heads else (trade.heads, trade.by)
    if goal is None or heads.high >= goal.wanted:
        return []
    return [
        f"even at the best survival in print these shoots make fewer than {goal.wanted:g} heads "
        f"per square foot ({by} wants at least that many)"
    ]


def few_tillers(rules: RuleSet, field: FieldEstimate, plants: Classified | None) -> list[str]:
    """Common practice wants 3 to 5 tillers on each plant of a stand on target."""
    if rules.name != "common-practice" or not (field.plants and field.shoots):
        return []
    if field.definition.min_leaves or not field.plants.mean:
        return []
    each = field.shoots.mean / field.plants.mean
    if each >= 3:
        return []
    return [
        f"plants have only {each:.1f} shoots each, main stem included; common practice wants 3 to "
        f"5 tillers, so treat the field as thinner than its plants say{_below(plants)}"
    ]


def _below(plants: Classified | None) -> str:
    """What thinner means, and what the probability leaves out."""
    if plants is None:
        return ""
    alone = f"how likely {plants.class_!r} is, is reckoned by plants alone"
    classes = list(plants.probabilities)
    place = classes.index(plants.class_)
    if place == 0:
        return f"; {alone}"
    under = classes[place - 1]
    name = next(band.name for band in plants.rule.bands if band.class_ == under)
    return f": weigh what the class below, {under!r} ({name}), asks for; {alone}"


def goal_too_high(goal_bu_ac: float | None, expected: Expectation) -> list[str]:
    """A yield goal above what the stand makes likely."""
    if goal_bu_ac is None or goal_bu_ac <= expected.high:
        return []
    return [
        f"the yield goal of {goal_bu_ac:.0f} bu/ac is above the {expected.low:.0f}-"
        f"{expected.high:.0f} bu/ac that this stand makes likely; nitrogen for it would "
        "be too much"
    ]
