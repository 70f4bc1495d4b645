"""A field's spring nitrogen as lines for a screen or a page, and as plain values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tillercount.stand.checks import GREEN_UP, WINTER_SURVIVAL
from tillercount.stand.doses import Dose
from tillercount.stand.products import Amount
from tillercount.stand.stage import parse_stage
from tillercount.stand.topdress import Topdress
from tillercount.stand.words import span
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE

__all__ = ["SCHEMA", "headline", "record", "sections"]

SCHEMA = "tillercount.nitrogen/1"


def headline(made: Topdress) -> str:
    """One sentence: what to do now."""
    if made.stop is not None:
        return made.stop.text
    if made.plan is not None and made.plan.advice == "keep first":
        return "No nitrogen on this field until it is decided that the stand stays."
    if not made.doses:
        if made.goal_bu_ac is None:
            return "No pounds without a yield goal; give one like --yield-goal '80 bu/ac'."
        return "No pounds of nitrogen can be said for this field; the reasons are below."
    first = made.doses[0]
    start = f"{_pounds(first)} {first.when}"
    if first.lb_ac[1] == 0:
        return "Nothing is left to put on."
    if first.name == "main" and made.plan is not None and made.plan.early == (0.0, 0.0):
        return f"Nothing early; {start}."
    return f"{start[0].upper()}{start[1:]}."


def _pounds(dose: Dose) -> str:
    return f"{span(dose.lb_ac, 3)} lb N/ac"


def sections(made: Topdress) -> Iterator[tuple[str, list[str]]]:
    """Headings with their lines, in the order to show them; none is empty."""
    for title, lines in _sections(made):
        if lines:
            yield title, lines


def _sections(made: Topdress) -> Iterator[tuple[str, list[str]]]:
    yield "Nitrogen", [*_dose_lines(made)]
    yield "How much of what", [*_product_lines(made)]
    yield "Arithmetic", [*made.arithmetic, *_amount_arithmetic(made)]
    yield "Ceilings in print", [f"{held.line} ({held.ceiling.source})" for held in made.ceilings]
    yield "Overlap", [*_overlap_lines(made)]
    yield "Lodging", [advice.line for advice in made.lodging]
    yield "Yield potential", [*_yield_lines(made)]
    yield "Stage and season", [*_stage_lines(made), *(made.season.lines() if made.season else ())]
    yield "Look again", [*_look_again(made)]
    yield "While it goes on", [advice.line for advice in made.spreading]
    yield "Weeds", [*(f"{one.words} ({one.source})" for one in made.weeds)]
    if made.weeds or made.windows:
        yield "Windows by stage", [advice.line for advice in made.windows]
    yield "Mind", [*made.flags, *(advice.line for advice in made.cautions)]
    cited = [*made.whole.sources, *(made.plan.sources if made.plan else ())]
    yield "Sources", list(dict.fromkeys(cited))


def _yield_lines(made: Topdress) -> Iterator[str]:
    if made.yield_ is None or made.heads is None:
        return
    yield (
        f"about {made.yield_.low:.0f} to {made.yield_.high:.0f} bu/ac from {made.heads.low:.0f} to "
        f"{made.heads.high:.0f} heads per ft², side by side:"
    )
    for row in made.yield_.by_source:
        yield f"{row.low:.0f} to {row.high:.0f} bu/ac by {row.source}"


def _stage_lines(made: Topdress) -> Iterator[str]:
    if made.stage is None:
        return
    yield f"{made.stage.words}: {made.stage.feature}."
    if not made.stage.jointed:
        joint = parse_stage("jointing")
        yield f"Jointing is {joint.words}: {joint.feature}."


def _look_again(made: Topdress) -> Iterator[str]:
    if made.again is not None:
        yield made.again.line
    if made.stage is None or made.stage.feekes[1] < 5:
        yield from (advice.line for advice in (*GREEN_UP, *WINTER_SURVIVAL))


def _dose_lines(made: Topdress) -> Iterator[str]:
    for dose in made.doses:
        metric = tuple(lb * KG_PER_HA_PER_LB_PER_ACRE for lb in dose.lb_ac)
        yield f"{dose.name}: {_pounds(dose)} ({span(metric, 3)} kg N/ha), {dose.when}"
    if made.plan is not None and not made.doses:
        yield from made.plan.lines
    elif made.plan is not None:
        yield from (line for line in made.plan.lines if "isn't sure" in line)
    if made.whole.net is not None:
        yield f"in all: {span(made.whole.net, 4)} lb N/ac ({made.whole.by})"


def _product_lines(made: Topdress) -> Iterator[str]:
    for one in made.products:
        yield one.facts
    for dose in made.doses:
        for amounts in dose.amounts:
            yield f"{dose.name}: {_amount(amounts)}"


def _amount(amounts: tuple[Amount, ...]) -> str:
    name = amounts[0].product.name
    parts = [f"{_ends([a.lb_ac for a in amounts])} lb ({_ends([a.kg_ha for a in amounts])} kg/ha)"]
    gallons = [a.gal_ac for a in amounts if a.gal_ac is not None]
    litres = [a.l_ha for a in amounts if a.l_ha is not None]
    if gallons:
        parts.append(f"{_ends(gallons)} gal ({_ends(litres)} L/ha)")
    sulphur = [a.lb_s_ac for a in amounts]
    text = f"{name}, per acre {' or '.join(parts)}"
    if max(sulphur):
        text += f", with {_ends(sulphur)} lb sulphur"
    costs = [a.cost_ac for a in amounts if a.cost_ac is not None]
    if costs:
        low, high = f"{costs[0]:.2f}", f"{costs[-1]:.2f}"
        text += f"; costs {low}" + (f"-{high}" if low != high else "") + " per acre"
    loads = [a.field_lb for a in amounts if a.field_lb is not None]
    if loads:
        text += f"; for the field {_ends(loads, 4)} lb"
        tanks = [a.field_gal for a in amounts if a.field_gal is not None]
        text += f" or {_ends(tanks, 4)} gal" if tanks else ""
        whole = [a.field_cost for a in amounts if a.field_cost is not None]
        text += f", cost {_ends(whole, 4)}" if whole else ""
    return text


def _ends(values: list[float], digits: int = 3) -> str:
    """The two ends of a list of amounts, so many digits each, thousands with a comma."""
    low, high = (
        f"{v:,.0f}" if v >= 10 ** (digits - 1) else f"{v:.{digits}g}"
        for v in (values[0], values[-1])
    )
    return low if low == high else f"{low}-{high}"


def _amount_arithmetic(made: Topdress) -> Iterator[str]:
    for dose in made.doses:
        for amounts in dose.amounts:
            for one in amounts:
                yield f"{dose.name}: {'; '.join(one.arithmetic)}"


def _overlap_lines(made: Topdress) -> Iterator[str]:
    found = made.overlap
    if found is None:
        return
    yield (
        f"{100 * found.twice_share:.1f} % of the field is dosed twice, "
        f"{100 * found.point_row_share:.1f} % of it over the headlands (point rows); headlands are "
        f"{100 * found.headland_share:.0f} % of the field; {found.passes} straight passes, heading "
        f"{found.heading_deg:.0f}° from north (worked out from the outline)"
    )
    if found.missed_share > 0.0005:
        yield f"{100 * found.missed_share:.1f} % gets nothing: passes are too far apart"
    for dose in made.doses:
        doubled = tuple(found.doubled(lb) for lb in dose.lb_ac)
        yield f"{dose.name}: {span(doubled, 3)} lb N/ac there instead of {_pounds(dose)}"
    if found.twice_share > 0.01 and found.boom.sections == 1:
        yield "Sections that switch off by themselves, or passes laid otherwise, make it less."
    yield from found.notes


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
        },
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
        "weeds": [
            {
                "species": one.species,
                "per_m2": one.per_m2,
                "loss_percent": [one.low, one.high],
                "why": one.why,
                "source": one.source,
            }
            for one in made.weeds
        ],
        "lodging": [advice.line for advice in made.lodging],
        "sections": [{"title": title, "lines": lines} for title, lines in sections(made)],
    }


def _dose(dose: Dose) -> dict[str, Any]:
    return {
        "name": dose.name,
        "when": dose.when,
        "lb_ac": list(dose.lb_ac),
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
