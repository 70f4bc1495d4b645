"""The chain from counts to verdict, each step with its figure and its reason."""

from __future__ import annotations

from tillercount.field.double import DoubleSample, in_words
from tillercount.field.estimate import DensityEstimate, FieldEstimate
from tillercount.stand.assessment import Step
from tillercount.stand.classify import Classified
from tillercount.stand.expect import Expectation
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.words import join, number_text, percent
from tillercount.units import per_ft2

__all__ = ["explain"]


def explain(
    rules: RuleSet,
    field: FieldEstimate,
    plants: Classified | None,
    shoots: Classified | None,
    heads: Expectation | None,
    yield_: Expectation | None,
    plan: NitrogenPlan | None,
) -> list[Step]:
    """Steps in the order in which they were taken."""
    by_hand = sum(spot.source == "hand" for spot in field.used)
    steps = [
        Step(
            "Spots",
            f"{field.spots}: {by_hand} by hand, {field.spots - by_hand} by photo",
            "one value per spot, all with the same weight; a hand count stands for its photo",
        )
    ]
    for what, estimate in (("Plants", field.plants), ("Shoots", field.shoots)):
        if estimate is not None:
            steps.append(_mean(what, estimate))
    steps.extend(_both_ways(found) for found in field.double)
    for result in (plants, shoots):
        if result is not None:
            steps.append(_class(result, rules))
    for label, expectation in (("Heads expected", heads), ("Yield expected", yield_)):
        if expectation is not None:
            steps.append(
                Step(
                    label,
                    f"{expectation.low:.0f}-{expectation.high:.0f} {expectation.unit}",
                    "; ".join(
                        f"{row.low:.0f}-{row.high:.0f} by {row.source}"
                        for row in expectation.by_source
                    ),
                )
            )
    if plan is not None:
        why = "; ".join((*plan.arithmetic, *plan.sources))
        steps.append(Step("Nitrogen", " ".join(plan.lines), why))
    return steps


def _mean(what: str, estimate: DensityEstimate) -> Step:
    cv = "" if estimate.cv is None else f", spot-to-spot CV {estimate.cv:.0%}"
    return Step(
        f"{what} per ft²",
        f"{number_text(per_ft2(estimate.mean))} ({number_text(per_ft2(estimate.low))}-"
        f"{number_text(per_ft2(estimate.high))} at {estimate.level:.0%}){cv}",
        estimate.how,
    )


def _both_ways(found: DoubleSample) -> Step:
    answers = [
        f"{name} {number_text(per_ft2(e.mean))} ({number_text(per_ft2(e.low))}-"
        f"{number_text(per_ft2(e.high))})"
        for name, e in (
            ("by hand alone", found.hand),
            ("by photo alone", found.photo),
            ("together", found.combined),
        )
        if e is not None
    ]
    return Step(f"{found.what.capitalize()} both ways", "; ".join(answers), in_words(found))


def _class(result: Classified, rules: RuleSet) -> Step:
    rule = result.rule
    shares = join([f"{name} {percent(share)}" for name, share in result.probabilities.items()])
    index = rule.bands.index(result.band)
    return Step(
        f"Class by {rule.measures}",
        f"{result.class_}{'' if result.clear else ', too close to call'}: {shares}",
        f"band {rule.range_text(index)} per {rule.unit}; {'; '.join(rules.sources_of(rule))}",
    )
