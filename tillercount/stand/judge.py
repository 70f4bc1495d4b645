"""A field's densities held against the rules of one set, where their definitions allow it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.bands import Measured
from tillercount.stand.classify import Classified, classify
from tillercount.stand.convert import CantConvert, shoots_for
from tillercount.stand.heading import heading_hold
from tillercount.stand.holdback import against_early, hold_back
from tillercount.stand.late import lateness
from tillercount.stand.local import Local, NeedsLocal, per_area
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.words import join

__all__ = ["Judged", "judge", "nothing_to_judge", "with_example"]

_EXAMPLES = {"ft of row": "7.5in", "percent of normal": "25/ft2"}
"""What rules that need something known of the field look like with it."""


@dataclass(frozen=True)
class Judged:
    """What came of a rule set's two possible rules.

    Attributes
    ----------
    plants, shoots : Classified or None
        None where the set has no such rule, or where it can't be used.
    why_not : dict
        For each rule of the set that can't be used ("plants", "shoots"): why.
    assumed : dict
        For each of the others: what had to be taken for granted, or turned into another unit.
    """

    plants: Classified | None = None
    shoots: Classified | None = None
    why_not: dict[Measured, str] = field(default_factory=dict)
    assumed: dict[Measured, tuple[str, ...]] = field(default_factory=dict)


def judge(
    rules: RuleSet,
    estimate: FieldEstimate,
    local: Local | None = None,
    stage: Stage | None = None,
) -> Judged:
    """Hold a field against each rule of a set.

    Parameters
    ----------
    rules : RuleSet
    estimate : FieldEstimate
        Its level is that of the intervals.
    local : Local, optional
        Row spacing or normal stand, for rules that need one.
    stage : Stage, optional
        Photos of a heading crop settle nothing.
    """
    found: dict[str, Classified] = {}
    why_not: dict[Measured, str] = {}
    assumed: dict[Measured, tuple[str, ...]] = {}
    for printed in rules.rules:
        what = printed.measures
        try:
            rule = per_area(printed, local)
            turned = rule.note.removeprefix(printed.note).strip()
            flags = [turned] if turned else []
            if what == "plants":
                if estimate.plants is None:
                    raise CantConvert("no plants were counted")
                found[what] = classify(estimate.plants, rule)
            else:
                spots, flags = shoots_for(estimate.to_convert, rules.counting)
                density = estimate.again(spots).shoots
                assert density is not None  # shoots_for refuses where no shoots were counted
                found[what] = classify(density, rule)
            held = heading_hold(rules, stage, estimate, what) or hold_back(estimate, found[what])
            found[what] = replace(found[what], held=held, late=lateness(stage))
            assumed[what] = tuple(flags)
        except (CantConvert, NeedsLocal) as error:
            why_not[what] = str(error)
    if "plants" in found:
        alone = "shoots" not in found
        found["plants"] = against_early(estimate, found["plants"], alone=alone)
    return Judged(found.get("plants"), found.get("shoots"), why_not, assumed)


def with_example(rules: RuleSet, measures: str) -> str:
    """A set's name with what its rule needs of the field; empty where it needs nothing."""
    rule = rules.rule(measures)
    example = "" if rule is None else _EXAMPLES.get(rule.unit, "")
    return f"{rules.name}@{example}" if example else ""


def nothing_to_judge(rules: RuleSet, estimate: FieldEstimate, judged: Judged) -> str:
    """Why a rule set says nothing about these counts, and what to do."""
    if not rules.rules:
        return (
            f"rules {rules.name!r} give the whole nitrogen by yield goal and judge no density; "
            "choose other rules"
        )
    for what, why in judged.why_not.items():
        example = with_example(rules, what)
        if example:
            return f"rules {rules.name!r}: {why}, like --rules {example}"
        if what == "shoots" and estimate.shoots is not None:
            return (
                f"rules {rules.name!r} can't judge these counts: {why}; "
                f"count by hand as the rules do ({rules.counting.words}), or choose other rules"
            )
    measured = join([rule.measures for rule in rules.rules])
    return (
        f"rules {rules.name!r} judge {measured}, which weren't counted; "
        f"count {measured} too, or choose other rules"
    )
