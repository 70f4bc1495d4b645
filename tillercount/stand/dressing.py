"""A field's spring nitrogen as lines for a screen or a page, and as plain values."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from tillercount.stand import settle
from tillercount.stand.assessment import Assessment, Step
from tillercount.stand.behind import steps_by_counts
from tillercount.stand.crops import not_validated
from tillercount.stand.dose import Dose
from tillercount.stand.doses import beside
from tillercount.stand.dresslines import (
    advice_while_spreading,
    amount_arithmetic,
    cautions_left,
    ceilings_shown,
    dose_lines,
    look_again_lines,
    on_already_text,
    overlap_lines,
    pounds_text,
    product_lines,
    stage_lines,
    yield_lines,
)
from tillercount.stand.late import past_use
from tillercount.stand.onsteps import steps_with
from tillercount.stand.planlines import likely_text
from tillercount.stand.topdress import Topdress
from tillercount.stand.words import rate_text
from tillercount.twoforms import NO_GOAL, as_sentence
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE

__all__ = ["SCHEMA", "headline", "record", "sections", "with_nitrogen"]

SCHEMA = "tillercount.nitrogen/1"


def headline(made: Topdress) -> str:
    """One sentence: what to do now."""
    if made.stop is not None:
        return made.stop.text
    if made.plan is not None and made.plan.advice == "keep first":
        return "No nitrogen on this field until it is decided that the stand stays."
    if made.plan is not None and made.plan.advice == "undecided" and not made.doses:
        return made.plan.lines[0]
    if not made.doses:
        if made.goal_bu_ac is None:
            return NO_GOAL.screen
        return "No pounds of nitrogen can be said for this field; the reasons are below."
    first = made.doses[0]
    on = on_already_text(made)
    start = f"{pounds_text(first)} {'more ' if on else ''}{first.when}"
    if made.nothing:
        return as_sentence(made.nothing)
    if first.lb_ac[1] == 0:
        return f"Nothing is left to put on{': ' if on else ''}{on}."
    if made.reconciled and made.whole.net is not None and made.total is not None:
        return (
            f"{start}: {rate_text(made.total)} lb N/ac this spring, "
            f"{beside(made.total[1], made.whole.net)} the {rate_text(made.whole.net)} lb N/ac by "
            "the yield goal."
        )
    lower = likely_text(made.plan.likely) if made.plan is not None else ""
    lower = f" {lower[0].upper()}{lower[1:]}." if lower else ""
    if past_use(made.stage) and made.stage is not None and made.tissue is None:
        return (
            f"{made.stage.words} is late for nitrogen: {pounds_text(first)} by the yield goal, if "
            f"any at all, and not without a local adviser.{lower}"
        )
    none_early = made.plan is not None and made.plan.early == (0.0, 0.0)
    if first.name == "main" and none_early and not on:
        return f"Nothing early; {start}.{lower}"
    then = [f"then {pounds_text(dose)} {dose.when}" for dose in made.doses[1:] if dose.lb_ac[1]]
    text = "; ".join((f"{on}: {start}" if on else start, *then))
    return f"{text[0].upper()}{text[1:]}.{lower}"


def with_nitrogen(assessment: Assessment, made: Topdress) -> Assessment:
    """The assessment with this nitrogen in place of its own, which knows nothing of credits."""
    cited = [*made.whole.sources, *(made.plan.sources if made.plan else ())]
    steps = [
        Step("Nitrogen, worked out", "; ".join(made.arithmetic), "; ".join(dict.fromkeys(cited))),
        Step(
            "Nitrogen",
            "; ".join(dose_lines(made, metric=False)),
            made.rules.by,
            {
                "yield_goal_bu_ac": made.goal_bu_ac,
                "gross": made.whole.gross and list(made.whole.gross),
                "total": made.whole.net and list(made.whole.net),
                "doses": {dose.name: list(dose.lb_ac) for dose in made.doses},
            },
        ),
    ]
    if made.withheld:
        steps = steps[1:]
    kept = [step for step in assessment.steps if step.kind != "nitrogen"]
    actions, said = assessment.verdict.actions, assessment.verdict.headline
    own = assessment.nitrogen.on if assessment.nitrogen is not None else None
    on = made.plan.on if made.plan is not None else None
    if own is not None or on is not None:  # its own pounds needn't be these
        judged, stage = (assessment.plants, assessment.shoots), assessment.stage
        todo = steps_by_counts(assessment.rules, assessment.field, *judged, stage)
        first = made.plan is not None and made.plan.advice == "keep first"  # before anything else
        if on is not None and (on.nothing or not first):
            todo = steps_with(todo, judged, made.rules, made.stage, on)
        actions = tuple(todo)
        said = _verdict_where(assessment, on.instead if on is not None and not first else "")
    others = [text for text in assessment.verdict.sources if not text.startswith("nitrogen: ")]
    sources = dict.fromkeys([*others, *(f"nitrogen: {text}" for text in cited)])
    return replace(
        assessment,
        nitrogen=made.plan,
        verdict=replace(assessment.verdict, sources=tuple(sources), actions=actions, headline=said),
        steps=(*kept, *(replace(step, kind="nitrogen") for step in steps if step.value)),
        flags=made.flags,
    )


def _verdict_where(a: Assessment, nothing: str) -> str:
    """The verdict's headline where no nitrogen goes on any more, or none early, and why."""
    shoots = a.shoots if a.decided_by is a.plants else None
    text = settle.headline(a.decided_by, shoots, a.stage, nothing)
    return f"{not_validated(a.rules, a.crop)} {text}".strip()


def sections(made: Topdress, *, metric: bool = False) -> Iterator[tuple[str, list[str]]]:
    """Headings with their lines, in the order to show them; none is empty, no line comes twice.

    ``metric`` as for `tillercount.stand.dressbrief.brief_sections`.
    """
    told: set[str] = set()
    for title, lines in _sections(made, metric):
        new = [line for line in dict.fromkeys(lines) if line not in told]
        told.update(new)
        if new:
            yield title, new


def _sections(made: Topdress, metric: bool) -> Iterator[tuple[str, list[str]]]:
    yield "Nitrogen", [*dose_lines(made)]
    yield "How much of what", [*product_lines(made, metric=metric)]
    yield "Arithmetic", [] if made.withheld else [*made.arithmetic, *amount_arithmetic(made)]
    yield (
        "Ceilings in print",
        [f"{held.line} ({held.ceiling.source})" for held in ceilings_shown(made)],
    )
    yield "Overlap", [*overlap_lines(made)]
    yield "Lodging", [advice.line for advice in made.lodging]
    yield "Yield potential", [*yield_lines(made, metric=metric)]
    season = made.season.lines(jointed=made.jointed) if made.season else ()
    yield "Stage and season", [*stage_lines(made), *season]
    yield "Look again", [*look_again_lines(made)]
    yield "While it goes on", [advice.line for advice in advice_while_spreading(made)]
    noticed = [made.weed_notice] if made.weed_notice else []
    yield "Weeds", [*noticed, *(f"{one.words} ({one.source})" for one in made.weeds)]
    if made.weeds or made.windows:
        yield "Windows by stage", [advice.line for advice in made.windows]
    yield "Mind", [*made.flags, *(advice.line for advice in cautions_left(made))]
    cited = [*made.whole.sources, *(made.plan.sources if made.plan else ())]
    yield "Sources", [] if made.withheld else list(dict.fromkeys(cited))


def record(made: Topdress) -> dict[str, Any]:
    """Everything as plain values, schema ``tillercount.nitrogen/1``; pounds of nitrogen per acre.

    ``overlap.map`` is a GeoJSON collection of headlands, point rows and ground dosed twice.
    """
    whole, plan, found = made.whole, made.plan, made.overlap
    return {
        "schema": SCHEMA,
        "field": made.name or None,
        "rules": made.rules.name,
        "crop": made.crop,
        "validated": made.rules.covers(made.crop),
        "stage": made.stage.words if made.stage else None,
        "feature": made.stage.feature if made.stage else None,
        "headline": headline(made),
        "first": list(made.first),
        "do_not_spread": made.stop.line if made.stop else None,
        "unit": "lb N/ac",
        "yield_goal_bu_ac": made.goal_bu_ac,
        "given": made.given_lb_ac,
        "whole": {
            "by": whole.by,
            "gross": list(whole.gross) if whole.gross else None,
            "net": list(whole.net) if whole.net else None,
            "credits": [
                {"what": one.what, "lb_ac": list(one.lb_ac), "source": one.source}
                for one in whole.credits
            ],
            "cases": list(whole.cases),
            "region": whole.region or None,
            "balance": whole.balance or None,
            "taken_off": bool(whole.credits),
        },
        "at_likely_yield": None
        if plan is None or plan.likely is None
        else {"bu_ac": plan.likely[0], "lb_ac": list(plan.likely[1])},
        "undecided": plan.lines[0] if plan is not None and plan.advice == "undecided" else None,
        "this_spring": list(made.total) if made.total else None,
        "tissue_and_goal": made.reconciled or None,
        "advice": plan.advice if plan else None,
        "tissue": None
        if made.tissue is None
        else {
            "percent_n": made.tissue.percent_n,
            "lb_ac": made.tissue.lb_ac,
            "printed": made.tissue.printed,
            "source": made.tissue.source,
        },
        "doses": [_dose(dose) for dose in made.doses],
        "products": [one.facts for one in made.products],
        "ceilings": [
            {
                "by": one.ceiling.by,
                "part": one.ceiling.part,
                "lb_ac": one.lb_ac,
                "over": one.over,
                "words": one.ceiling.words,
                "source": one.ceiling.source,
            }
            for one in made.ceilings
        ],
        "shoots_per_ft2": made.shoots_ft2,
        "area_m2": made.area_m2,
        "overlap": None
        if found is None
        else {
            "boom_m": found.boom.width_m,
            "swath_m": found.boom.step_m,
            "sections": found.boom.sections,
            "headland_rounds": found.boom.headland_rounds,
            "heading_deg": found.heading_deg,
            "passes": found.passes,
            "twice_share": found.twice_share,
            "point_row_share": found.point_row_share,
            "headland_share": found.headland_share,
            "missed_share": found.missed_share,
            "notes": list(found.notes),
            "map": found.to_geojson(),
        },
        "season": made.season.to_json() if made.season else None,
        "look_again": None
        if made.again is None
        else {"first": str(made.again.first), "last": str(made.again.last)},
        "yield": None
        if made.yield_ is None
        else {
            "unit": made.yield_.unit,
            "low": made.yield_.low,
            "high": made.yield_.high,
            "by_source": [
                {"low": one.low, "high": one.high, "source": one.source}
                for one in made.yield_.by_source
            ],
        },
        "weeds": [one.to_json() for one in made.weeds],
        "weed_notice": made.weed_notice or None,
        "lodging": [advice.line for advice in made.lodging],
        "sections": [{"title": title, "lines": lines} for title, lines in sections(made)],
    }


def _dose(dose: Dose) -> dict[str, Any]:
    return {
        "name": dose.name,
        "when": dose.when,
        "before": None if dose.before is None else str(dose.before),
        "doubt": dose.doubt or None,
        "lb_ac": list(dose.lb_ac),
        "pass_from_lb_ac": dose.pass_from,
        "kg_ha": [lb * KG_PER_HA_PER_LB_PER_ACRE for lb in dose.lb_ac],
        "amounts": [
            {
                "product": one.product.key,
                "lb_n_ac": one.lb_n_ac,
                "lb_ac": one.lb_ac,
                "kg_ha": one.kg_ha,
                "gal_ac": one.gal_ac,
                "l_ha": one.l_ha,
                "lb_s_ac": one.lb_s_ac,
                "cost_ac": one.cost_ac,
                "cost_ha": one.cost_ha,
                "field_lb": one.field_lb,
                "field_gal": one.field_gal,
                "field_cost": one.field_cost,
            }
            for amounts in dose.amounts
            for one in amounts
        ],
    }
