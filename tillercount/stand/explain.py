"""The chain from counts to verdict, each step with its figure and its reason."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from tillercount.field.double import DoubleSample, in_words
from tillercount.field.estimate import DensityEstimate, FieldEstimate
from tillercount.field.outside import why_outside
from tillercount.field.record import STOP_METHOD, further_record, sampling_record, stop_record
from tillercount.stand.assessment import Step, Verdict
from tillercount.stand.classify import CLEAR, Classified
from tillercount.stand.expect import HEADS_MOST, Expectation
from tillercount.stand.judge import Judged
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.prospect import in_ten
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.settle import offered
from tillercount.stand.shares import class_shares, percents
from tillercount.stand.steptexts import (
    ends_text,
    mean_text,
    reckoned_text,
    spots_text,
    stop_text,
    ways_text,
)
from tillercount.stand.words import join, number_text, percent
from tillercount.units import per_ft2

__all__ = ["explain"]


def explain(
    rules: RuleSet,
    field: FieldEstimate,
    judged: Judged,
    verdict: Verdict,
    heads: Expectation | None,
    yield_: Expectation | None,
    plan: NitrogenPlan | None,
) -> list[Step]:
    """Steps in the order in which they were taken."""
    results = [one for one in (judged.plants, judged.shoots) if one is not None]
    steps = [_spots(field)]
    both = sampling_record(field)["photo_and_hand"]
    steps.extend(_both_ways(found, both[found.what]) for found in field.double)
    for what, estimate, held in (
        ("Plants", field.plants, judged.plants),
        ("Shoots", field.shoots, judged.shoots),
    ):
        if estimate is not None:
            borders = () if held is None else held.borders_per_ft2
            steps.append(_mean(what, estimate, field, borders))
    for result in results:
        assumed = judged.assumed.get(result.rule.measures, ())
        steps.extend(_class(result, rules, assumed))
    steps.append(
        Step(
            "Verdict",
            verdict.headline,
            f"by the count of {results[0].rule.measures} under {rules.title} ({rules.by})",
            {"class": verdict.class_, "clear": verdict.clear},
        )
    )
    for result in results:
        steps.extend(_counting(result))
    shoots = field.shoots
    for kind, expected, start in (
        ("heads", heads, shoots and [per_ft2(shoots.mean)] * 2),
        ("yield", yield_, heads and [heads.low, heads.high]),
    ):
        if expected is not None:
            steps.append(_expected(kind, expected, start))
    if plan is not None:
        steps.extend(_nitrogen(plan, rules))
    return steps


def _spots(field: FieldEstimate) -> Step:
    each = [
        (spot.spot, _per_ft2(spot.plants_per_m2), _per_ft2(spot.shoots_per_m2))
        for spot in field.used
    ]
    values = {
        f"{what}_per_ft2": {
            spot.spot: per_ft2(value)
            for spot in field.entered(what)
            if (value := getattr(spot, f"{what}_per_m2")) is not None
        }
        for what in ("plants", "shoots")
    }
    return Step(
        "Spots",
        spots_text(field, each, "per ft²"),
        "one value per spot, all with the same weight; a hand count stands for its photo",
        values,
        "spots",
    )


def _per_ft2(value: float | None) -> float | None:
    return None if value is None else per_ft2(value)


def _mean(
    what: str, estimate: DensityEstimate, field: FieldEstimate, borders: Sequence[float]
) -> Step:
    ends = {end: per_ft2(getattr(estimate, end)) for end in ("mean", "low", "high")}
    return Step(
        f"{what} per ft²",
        mean_text(ends, estimate, borders),
        estimate.how,
        {
            **ends,
            "level": estimate.level,
            "spots": estimate.n,
            "cv": estimate.cv,
            "shared_rel": estimate.shared_rel,
            "scale": per_ft2(estimate.scale),
            "df": _finite(estimate.df),
            "between_spots": estimate.ratio.record() if estimate.ratio is not None else None,
            "empty_areas_m2": list(estimate.nothing.areas) if estimate.nothing else None,
        },
        "mean",
        what.lower(),
    )


def _finite(df: float) -> float | None:
    """Degrees of freedom; None for a normal distribution, since JSON knows no infinity."""
    return None if math.isinf(df) else df


def _both_ways(found: DoubleSample, figures: dict[str, Any]) -> Step:
    ways = {way: figures[f"{way}_per_ft2"] for way in ("hand", "photo", "combined")}
    done = in_words(found).removeprefix(f"{found.what}: ")  # which the step's name says
    return Step(
        f"{found.what.capitalize()} both ways",
        ways_text({way: ends for way, ends in ways.items() if ends is not None}),
        "; ".join(filter(None, (done, why_outside(found)))),
        figures,
        "both_ways",
        found.what,
    )


def _class(result: Classified, rules: RuleSet, assumed: Sequence[str]) -> Iterator[Step]:
    """The density against each band, then whether one class is likely enough."""
    rule = result.rule
    bands = [
        f"{rule.range_text(index)} “{band.called}” {share}"
        for index, (band, share) in enumerate(
            zip(rule.bands, percents(result.band_probabilities), strict=True)
        )
    ]
    source = "; ".join((*rules.sources_of(rule), *assumed))
    yield Step(
        f"Bands of {rule.measures}",
        f"{number_text(result.mean, rule.borders)} {_unit(result)} against: {'; '.join(bands)}",
        f"borders by {source}; how likely by how much these spots differ and spots usually do, or "
        "by Student's t for pairs of photo and hand count and for zones; none below zero",
        {
            "mean": result.mean,
            "scale": result.scale,
            "df": _finite(result.df),
            "unit": f"per {rule.unit}",
            "borders": list(rule.borders),
            "classes": [band.class_ for band in rule.bands],
            "band_probabilities": list(result.band_probabilities),
        },
        "bands",
        rule.measures,
    )
    ranked = class_shares(result).items()
    shares = join([f"{result.called(name)} {percent(share)}" for name, share in ranked])
    yield Step(
        f"Class by {rule.measures}",
        f"{result.called()}{_not_clear(result)}: {shares}",
        f"clear from {CLEAR:.0%} on (a convention of our own)",
        {"probabilities": dict(result.probabilities), "clear_from": CLEAR, "clear": result.clear},
        "class",
        rule.measures,
    )


def _unit(result: Classified) -> str:
    """ "per ft²" or "per m²", as the rule has it."""
    return f"per {result.rule.unit.replace('2', '²')}"


def _not_clear(result: Classified) -> str:
    if result.held is not None:
        return f", held back because {result.held.why}"
    return "" if result.clear else ", too close to call"


def _counting(result: Classified) -> Iterator[Step]:
    """What more counting would bring, and whether it may stop."""
    what = result.rule.measures
    if not result.clear and result.further:
        options = [
            f"{one.spots if one.spots is not None else 'more than 200'} more by {one.kind}"
            for one in result.further
        ]
        chances = [
            f"{in_ten(one.chance)} after {one.text}" for one in offered(result)
        ]
        yield Step(
            f"More counting of {what}",
            f"to bring the interval clear of {result.border:g} {_unit(result)}: "
            f"{join(options, 'or')}",
            "if mean and scatter stay as they are; looked at once, after that number. Over all "
            f"that they may turn out to be, the chance of a clear verdict: {join(chances)}",
            {
                "border": result.border,
                "further": further_record(result.further),
                "prospects": [one.record() for one in result.prospects],
            },
            "more",
            what,
        )
    if result.stop is not None:
        kept = stop_record(result.stop, result.unit_per_m2)
        assert kept is not None  # None only for no stop rule
        yield Step(
            f"Stopping, {what}",
            stop_text(kept["may_stop"], kept["low"], kept["high"]),
            STOP_METHOD,
            kept,
            "stop",
            what,
        )


def _expected(kind: str, found: Expectation, start: Any) -> Step:
    capped = kind == "heads" and found.high >= HEADS_MOST
    return Step(
        f"{kind.capitalize()} expected",
        f"{ends_text(found.low, found.high)} {found.unit_text}",
        reckoned_text(
            start,
            [(row.factor, (row.low, row.high), row.source) for row in found.by_source],
            HEADS_MOST if capped else None,
        ),
        {
            "from": list(start),
            "low": found.low,
            "high": found.high,
            "sampling": list(found.sampling),
            "at_most": HEADS_MOST if kind == "heads" else None,
            "by_source": [
                {"factor": list(row.factor), "low": row.low, "high": row.high, "source": row.source}
                for row in found.by_source
            ],
        },
        kind,
    )


def _nitrogen(plan: NitrogenPlan, rules: RuleSet) -> Iterator[Step]:
    if plan.arithmetic and not plan.withheld:
        sources = "; ".join(plan.sources)
        yield Step("Nitrogen, worked out", "; ".join(plan.arithmetic), sources, kind="nitrogen")
    yield Step(
        "Nitrogen",
        " ".join(plan.lines),
        rules.by,
        {
            "yield_goal_bu_ac": plan.yield_goal_bu_ac,
            "total": plan.total and list(plan.total),
            "early": plan.early and list(plan.early),
            "before_jointing": plan.main and list(plan.main),
        },
        "nitrogen",
    )
