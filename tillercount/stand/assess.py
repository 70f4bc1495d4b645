"""From counts to a verdict under one rule set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.field.estimate import FieldEstimate, estimate_field
from tillercount.field.sources import Collected, collect
from tillercount.stand.assessment import Assessment, Verdict
from tillercount.stand.cautions import CALL_AGENT, Advice, cautions_for
from tillercount.stand.classify import Classified, classify
from tillercount.stand.convert import CantConvert, shoots_for
from tillercount.stand.expect import Expectation, expected_heads, expected_yield
from tillercount.stand.explain import explain
from tillercount.stand.library import list_rules, load_rules
from tillercount.stand.nitrogen import NitrogenPlan, plan_nitrogen
from tillercount.stand.ruleset import Band, RuleSet
from tillercount.stand.settle import headline, settle
from tillercount.stand.stage import Stage, parse_stage
from tillercount.stand.words import join, span
from tillercount.units import bu_per_ac

__all__ = ["assess"]

# Names of the same crop; spring wheat and forage crops are other crops to these rules.
_CROPS = {
    "winter wheat": "wheat",
    "soft wheat": "wheat",
    "soft winter wheat": "wheat",
    "soft red winter wheat": "wheat",
    "hard red winter wheat": "wheat",
    "winter barley": "barley",
    "oat": "oats",
    "winter rye": "rye",
    "cereal rye": "rye",
}


def assess(
    counts: Any,
    rules: str | Path | RuleSet = "common-practice",
    *,
    yield_goal: str | float | None = None,
    crop: str = "wheat",
    stage: str | Stage | None = None,
    level: float = 0.9,
    model: Mapping[str, Any] | None = None,
    name: str = "",
) -> Assessment:
    """Hold a field's counts against a rule set.

    Parameters
    ----------
    counts
        What `tillercount.field.collect` reads: spots, hand counts, photo counts, a counts file as
        dict or path, a CSV of hand counts, or a list of these.
    rules : str, path or RuleSet
        Name of a rule set, or a user's own file.
    yield_goal : str or float, optional
        Like "80 bu/ac" or "5.4 t/ha"; a bare number is bu/ac. Without it no pounds of nitrogen.
    crop : str
    stage : str, optional
        Like "Feekes 3" or "GS25".
    level : float
        Level of the intervals.
    model : mapping, optional
        What is known of the counting model (see `tillercount.field.collect`).
    name : str
        Name of the field, for the page.

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        Unknown rules, a crop they don't cover, a stage or yield goal that can't be read, counts
        that can't be used, or counts of a kind that the rules can't judge.
    """
    rule_set = load_rules(rules)
    crop = _covered(rule_set, crop)
    if isinstance(stage, str):
        stage = parse_stage(stage)
    goal = _goal(yield_goal, crop)
    collected = collect(counts, model=model)
    field = estimate_field(collected.spots, level=level)
    flags = [*field.flags, *_stage_flags(rule_set, stage)]
    if collected.refused:
        names = join([photo for photo, _ in collected.refused])
        flags.append(f"refused and not in the mean: {names}")
    plants = _plants(rule_set, field, flags)
    shoots, why_not = _shoots(rule_set, field, level, flags)
    decided = plants or shoots
    if decided is None:
        raise InputError(_nothing_to_judge(rule_set, field, why_not))
    if why_not:
        flags.append(f"tillers not judged: {why_not}")

    trade = load_rules("common-practice")
    heads = expected = None
    if crop == "wheat" and field.shoots is not None and not field.definition.min_leaves:
        heads = expected_heads(field.shoots)
        expected = expected_yield(heads, rule_set, trade)
        flags.extend(_thin_heads(heads, rule_set, trade))
        if goal is not None and goal > expected.high:
            flags.append(
                f"the yield goal of {goal:.0f} bu/ac is above the {expected.low:.0f}-"
                f"{expected.high:.0f} bu/ac that this stand makes likely; nitrogen for it would "
                "be too much"
            )
    flags.extend(_few_tillers(rule_set, field))
    plan = _nitrogen(rule_set, trade, crop, plants, shoots, goal, stage)
    if plan is not None:
        flags.extend(plan.cautions)
    verdict = Verdict(
        class_=decided.class_,
        headline=headline(decided, shoots if decided is plants else None, stage),
        probabilities=decided.probabilities,
        clear=decided.clear,
        actions=tuple(_actions(rule_set, decided, shoots, stage)),
        cautions=tuple(_cautions(rule_set, collected)),
        sources=tuple(_sources(rule_set, plants, shoots, plan)),
        settle=settle(decided),
    )
    return Assessment(
        rules=rule_set,
        field=field,
        verdict=verdict,
        crop=crop,
        stage=stage,
        plants=plants,
        shoots=shoots,
        heads=heads,
        yield_=expected,
        nitrogen=plan,
        steps=tuple(explain(rule_set, field, plants, shoots, heads, expected, plan)),
        flags=tuple(dict.fromkeys(flags)),
        refused=collected.refused,
        model=collected.model,
        name=name,
        version=_version(),
    )


def _version() -> str:
    from importlib import metadata

    try:
        return metadata.version("tillercount")
    except metadata.PackageNotFoundError:
        return ""


def _covered(rules: RuleSet, crop: str) -> str:
    crop = " ".join(crop.lower().split())
    crop = _CROPS.get(crop, crop)
    if not rules.covers(crop):
        others = [r.name for r in list_rules() if r.covers(crop)]
        rules.require(
            crop,
            f"rule sets that cover it: {', '.join(others)}"
            if others
            else "none of the rule sets here covers it; ask a local adviser, or write a rule file",
        )
    return crop


def _goal(yield_goal: str | float | None, crop: str) -> float | None:
    if yield_goal is None:
        return None
    text = f"{yield_goal} bu/ac" if isinstance(yield_goal, int | float) else yield_goal
    return bu_per_ac(text, crop=crop)


def _stage_flags(rules: RuleSet, stage: Stage | None) -> list[str]:
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


def _thin_heads(heads: Expectation, rules: RuleSet, trade: RuleSet) -> list[str]:
    goal, by = (rules.heads, rules.by) if rules.heads else (trade.heads, trade.by)
    if goal is None or heads.high >= goal.wanted:
        return []
    return [
        f"even at the best survival in print these shoots make fewer than {goal.wanted:g} heads "
        f"per square foot ({by} wants at least that many)"
    ]


def _few_tillers(rules: RuleSet, field: FieldEstimate) -> list[str]:
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
        "5 tillers, so treat the field as thinner than its plants say"
    ]


def _plants(rules: RuleSet, field: FieldEstimate, flags: list[str]) -> Classified | None:
    rule = rules.rule("plants")
    if rule is None:
        return None
    if field.plants is None:
        flags.append("plants weren't counted, so the stand itself can't be judged, only tillers")
        return None
    return classify(field.plants, rule)


def _shoots(
    rules: RuleSet, field: FieldEstimate, level: float, flags: list[str]
) -> tuple[Classified | None, str]:
    """The tiller rule's result, or why there is none."""
    rule = rules.rule("shoots")
    if rule is None:
        return None, ""
    try:
        spots, assumed = shoots_for(field.used, rules.counting)
    except CantConvert as error:
        return None, str(error)
    flags.extend(assumed)
    estimate = estimate_field(spots, level=level).shoots
    assert estimate is not None  # shoots_for refuses where no shoots were counted
    return classify(estimate, rule), ""


def _nothing_to_judge(rules: RuleSet, field: FieldEstimate, why_not: str) -> str:
    measured = join([rule.measures for rule in rules.rules])
    if why_not and field.shoots is not None:
        return (
            f"rules {rules.name!r} can't judge these counts: {why_not}; "
            f"count by hand as the rules do ({rules.counting.words}), or choose other rules"
        )
    return (
        f"rules {rules.name!r} judge {measured}, which weren't counted; "
        f"count {measured} too, or choose other rules"
    )


def _nitrogen(
    rules: RuleSet,
    trade: RuleSet,
    crop: str,
    plants: Classified | None,
    shoots: Classified | None,
    goal: float | None,
    stage: Stage | None,
) -> NitrogenPlan | None:
    """Nitrogen by the tillers where the rules have them, else by the plants."""
    if crop != "wheat":
        return None  # pounds per bushel here are wheat's
    by = _nitrogen_by(plants, shoots)
    if by is None:
        return None
    others = [] if by.clear else [band for band in by.likely if band is not by.band]
    return plan_nitrogen(by.band, rules, trade, goal_bu_ac=goal, stage=stage, others=others)


def _nitrogen_by(plants: Classified | None, shoots: Classified | None) -> Classified | None:
    """By tillers, unless the plants say that the stand itself is in question."""
    if plants is None or shoots is None:
        return plants or shoots
    doubtful = any(band.early == "keep first" for band in _named(plants))
    return plants if doubtful else shoots


def _actions(
    rules: RuleSet, decided: Classified, shoots: Classified | None, stage: Stage | None
) -> list[Advice]:
    out: list[Advice] = []
    if not decided.clear:
        out.append(Advice(settle(decided), "from the interval of these counts"))
    if any(band.early == "keep first" for band in _named(decided)):
        out.append(CALL_AGENT)
    out.extend(_band_actions(rules, decided, "it is", stage))
    if rules.name == "common-practice" and 15 <= decided.mean <= 18:
        out.append(
            Advice(
                "Mind that between 15 and 18 plants per square foot the trade draws the line in "
                "different places; how even the stand is should decide.",
                "common practice",
            )
        )
    keeps = not (decided.clear and decided.band.early == "keep first")
    if shoots is None and rules.rule("shoots") is not None and keeps:
        out.append(
            Advice(f"Count tillers too ({rules.counting.words}), to time the nitrogen.", rules.by)
        )
    if shoots is not None and shoots is not decided and keeps:
        out.extend(_band_actions(rules, shoots, "tillers are", stage))
        if not shoots.clear:
            out.append(Advice(settle(shoots), "from the interval of these counts"))
    return out


def _named(result: Classified) -> tuple[Band, ...]:
    return (result.band,) if result.clear else result.likely


def _band_actions(
    rules: RuleSet, result: Classified, lead: str, stage: Stage | None
) -> Iterator[Advice]:
    """What the rules say to do, for each class that may well be true."""
    jointed = stage is not None and stage.jointed
    named = _named(result)
    by_text: dict[str, list[str]] = {}
    for band in named:
        for text in (*band.do, *(() if jointed else band.do_nitrogen)):
            by_text.setdefault(text, []).append(repr(band.class_))
    for text, classes in by_text.items():
        everywhere = len(classes) == len(named)
        start = "" if everywhere else f"If {lead} {join(classes, 'or')}: "
        yield Advice(f"{start}{text}", rules.by)


def _cautions(rules: RuleSet, collected: Collected) -> list[Advice]:
    photos = any(spot.source == "photo" for spot in collected.spots)
    return cautions_for(rules, photos=photos, model=collected.model)


def _sources(
    rules: RuleSet,
    plants: Classified | None,
    shoots: Classified | None,
    plan: NitrogenPlan | None,
) -> list[str]:
    lines: list[str] = []
    for result in (plants, shoots):
        if result is None:
            continue
        borders = span((result.rule.borders[0], result.rule.borders[-1]))
        unit = "ft2" if result.rule.unit == "ft2" else "m2"
        lines.extend(
            f"{result.rule.measures} per {unit}, borders {borders}: {text}"
            for text in rules.sources_of(result.rule)
        )
    if plan is not None:
        lines.extend(f"nitrogen: {text}" for text in plan.sources)
    return list(dict.fromkeys(lines))
