"""The nitrogen part of the record: doses with dates, pounds, kilograms, product and cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tillercount.stand.dressing import headline, record
from tillercount.stand.dresslines import ceilings_kept, ceilings_shown
from tillercount.stand.growth import FIRST_N_SOURCE, Jointing
from tillercount.stand.late import late_lines, late_undecided, past_use
from tillercount.stand.onalready import on_text
from tillercount.stand.setting import cost_as_set
from tillercount.twoforms import as_sentence
from tillercount.units import (
    KG_PER_HA_PER_LB_PER_ACRE,
    M2_PER_ACRE,
    bu_per_ac_to_t_per_ha,
)

if TYPE_CHECKING:
    from tillercount.stand.dose import Dose
    from tillercount.stand.planlines import Likely
    from tillercount.stand.products import Amount
    from tillercount.stand.topdress import Topdress

__all__ = ["nitrogen_record"]

_LONGEST_NAME = 40
"""Letters of what may stand as a name before a line of arithmetic."""


def nitrogen_record(made: Topdress) -> dict[str, Any]:
    """What the page says of nitrogen; ``all`` is the whole record of `tillercount nitrogen`.

    Where rates are withheld only ``all`` keeps the whole and how it was worked out.
    """
    season, whole, hidden = made.season, made.whole, made.withheld
    joint = season.jointing if season is not None and not made.jointed else None
    jointing = isinstance(joint, Jointing) and joint.years > 0
    # past the last useful stage the whole isn't a rate to go on with
    gone = past_use(made.stage) and made.tissue is None
    net = None if hidden or gone else whole.net
    by_tissue = made.tissue is not None and bool(made.doses)
    # beside a tissue test's rate the goal's isn't put on, so neither is a lower goal's
    kept = made.plan is not None and not (hidden or by_tissue or gone)
    likely = made.plan.likely if made.plan is not None and kept else None
    worked_out = [] if hidden else list(made.arithmetic)
    first_n = season.first_n if season is not None and isinstance(season.first_n, tuple) else ()
    return {
        "headline": headline(made),
        "why_none": None if made.doses else headline(made),
        "goal": None
        if made.goal_bu_ac is None
        else {"bu_ac": made.goal_bu_ac, "t_ha": _tonnes(made.goal_bu_ac, made.crop)},
        "whole_by": None if net is None else _whose(made),
        # a tissue test's rate goes before the whole by the goal
        "total": None if net is None or made.comes_to is None else _rate(made.comes_to),
        "by_tissue": by_tissue,
        "balance": None if net is None else made.reconciled or whole.balance,
        "taken_off": bool(whole.credits),
        "likely": None if likely is None else _likely(likely, made.crop),
        # What must be read before the pounds.
        "first": [
            *([made.stop.text] if made.stop is not None else []),
            *made.first,
            *(
                late_lines(made.stage)
                if gone and made.stage is not None and not (hidden or made.nothing)
                else ()
            ),
            # no pounds, but that time is short, or that nothing is due
            *(_withheld(made) if hidden else []),
        ],
        # a row of the table, so that the doses add up to the whole
        "on_already": _rate([made.given_lb_ac] * 2) if made.given_lb_ac and made.doses else None,
        "doses": [_dose(dose, first_n) for dose in made.doses],
        # Those that are passed, each with its source; the others in one sentence.
        "ceilings": [
            {"text": as_sentence(held.line), "source": held.ceiling.source}
            for held in ceilings_shown(made)
            if held.over and made.doses
        ],
        "ceilings_kept": as_sentence(ceilings_kept(made, unit_each=True)) if made.doses else "",
        "products": [
            {
                "name": one.name,
                "facts": one.facts,
                "figures": one.facts.removeprefix(f"{one.name}: "),
                "liquid": one.lb_per_gal is not None,
            }
            for one in made.products
        ],
        "area": None
        if made.area_m2 is None
        else {"ac": made.area_m2 / M2_PER_ACRE, "ha": made.area_m2 / 10_000},
        "twice": [_rate([made.overlap.doubled(lb) for lb in dose.lb_ac]) for dose in made.doses]
        if made.overlap is not None and made.overlap.twice_share > 0
        else [],
        "season": season is not None,
        "jointed": made.jointed,
        "late": gone,
        "green_up": None
        if season is None or season.green_up is None or made.jointed
        else str(season.green_up),
        "first_n_source": FIRST_N_SOURCE if any(first_n) else None,
        # a date by a sum of warmth may be weeks late, and a sheet is read for months
        "jointing_by_eye": jointing,
        "again": None
        if made.again is None
        else {"first": str(made.again.first), "last": str(made.again.last)},
        "arithmetic": worked_out,
        "working": [_working(line) for line in worked_out],
        "all": record(made),
    }


def _withheld(made: Topdress) -> list[str]:
    """What to know of nitrogen where no pounds are shown: what is on already, and the time."""
    if made.nothing:
        return [as_sentence(made.nothing)]
    on = [as_sentence(on_text(made.given_lb_ac))] if made.given_lb_ac else []
    return [*on, *(late_undecided(made.stage) if made.stage is not None else ())]


def _working(line: str) -> dict[str, str | None]:
    """A line of arithmetic with its name apart: "early" and "the 25-30 % …"."""
    what, sign, text = line.partition(": ")
    named = bool(sign) and len(what) <= _LONGEST_NAME and not any(c.isdigit() for c in what)
    return {"what": what, "text": text} if named else {"what": None, "text": line}


def _whose(made: Topdress) -> str:
    """Whose the whole is, and that it isn't the chosen rules' where they give none."""
    whole = made.whole
    if whole.by == made.rules.by:
        return whole.by
    return f"{whole.by} ({whole.region}), not by {made.rules.publisher}"


def _likely(likely: Likely, crop: str) -> dict[str, Any]:
    """The rate at the yield that the stand makes likely at most, where the goal is above it."""
    bushels, ends = likely
    return {"bu_ac": bushels, "t_ha": _tonnes(bushels, crop), "rate": _rate(ends)}


def _tonnes(bu_ac: float, crop: str) -> float | None:
    try:
        return bu_per_ac_to_t_per_ha(bu_ac, crop)
    except ValueError:
        return None  # no bushel weight is known for this crop


def _rate(lb_ac: Sequence[float]) -> dict[str, list[float]]:
    return {"us": list(lb_ac), "metric": [lb * KG_PER_HA_PER_LB_PER_ACRE for lb in lb_ac]}


def _dose(dose: Dose, first_n: Sequence[Any]) -> dict[str, Any]:
    days = [day for day in first_n if day is not None]
    early = dose.name == "early" and not (dose.now or dose.had_started)
    return {
        "name": dose.name,
        "when": dose.when,
        "rate": _rate(dose.lb_ac),
        "pass_from": None if dose.pass_from is None else _rate([dose.pass_from] * 2),
        "from": [str(days[0]), str(days[-1])] if early and days else None,
        "now": dose.now,
        "started": None if dose.started is None else str(dose.started),
        "had_started": None if dose.had_started is None else str(dose.had_started),
        "before": None if dose.before is None else str(dose.before),
        "doubt": dose.doubt or None,
        "products": [_product(amounts) for amounts in dose.amounts],
    }


def _product(amounts: Sequence[Amount]) -> dict[str, Any]:
    """Low and high end of each measure; None where it isn't known."""

    def ends(name: str) -> list[float] | None:
        values = [getattr(amounts[i], name) for i in (0, -1)]
        return None if None in values else values

    names = (
        "lb_ac", "kg_ha", "gal_ac", "l_ha", "cost_ac", "cost_ha", "field_lb", "field_gal",
        "field_cost", "field_kg", "field_l",
    )  # fmt: skip
    found = {name: ends(name) for name in names}
    for name, metric in (("cost_ac", False), ("cost_ha", True)):
        if found[name] is not None:  # of the amounts as the page has them
            found[name] = [cost_as_set(amounts[i], metric=metric) or 0.0 for i in (0, -1)]
    return {"name": amounts[0].product.name, **found}
