"""The lines of each section of a field's spring nitrogen, in full, with their sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tillercount.stand.cautions import SURVIVAL, Advice
from tillercount.stand.checks import GREEN_UP, WINTER_SURVIVAL
from tillercount.stand.dose import Dose
from tillercount.stand.limits import Held
from tillercount.stand.onalready import check_pounds, on_text
from tillercount.stand.planlines import likely_text
from tillercount.stand.products import Amount
from tillercount.stand.setting import amount_text, field_text
from tillercount.stand.stage import parse_stage
from tillercount.stand.steptexts import ends_text
from tillercount.stand.topdress import Topdress
from tillercount.stand.words import number_text, rate_text
from tillercount.twoforms import CURRENCY
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE, per_m2

__all__ = [
    "advice_while_spreading",
    "amount_arithmetic",
    "cautions_left",
    "ceilings_kept",
    "ceilings_shown",
    "cost_lines",
    "dose_line",
    "dose_lines",
    "look_again_lines",
    "on_already_line",
    "on_already_text",
    "overlap_lines",
    "pounds_text",
    "product_lines",
    "stage_lines",
    "total_line",
    "total_lines",
    "yield_lines",
]


def pounds_text(dose: Dose) -> str:
    """ "22-36 lb N/ac"."""
    return f"{rate_text(dose.lb_ac)} lb N/ac"


def dose_line(dose: Dose, *, metric: bool = True) -> str:
    """One dose with its date; in kilograms as well, where ``metric``."""
    if dose.lb_ac[1] == 0:
        return f"{dose.name}: none; {dose.when}"
    kilograms = rate_text([lb * KG_PER_HA_PER_LB_PER_ACRE for lb in dose.lb_ac])
    beside = f" ({kilograms} kg N/ha)" if metric else ""
    return f"{dose.name}: {pounds_text(dose)}{beside}, {dose.timing}"


def dose_lines(made: Topdress, *, metric: bool = True) -> Iterator[str]:
    """What is on already, each dose with its date, then the whole."""
    if made.plan is not None and not made.doses:
        on = made.plan.on
        if on is not None and on.given and not made.withheld:
            yield on.step
        yield from made.plan.lines
        if made.withheld:
            yield from on_already_line(made, metric=metric)
            yield from filter(None, [check_pounds(made.given_lb_ac, made.whole.net)])
    else:
        yield from made.first
        yield from on_already_line(made, metric=metric)
    yield from (dose_line(dose, metric=metric) for dose in made.doses)
    yield from total_lines(made)


def on_already_text(made: Topdress) -> str:
    """ "20 lb N/ac are on already, which is the early part (17-27 lb)"; empty without any."""
    if not made.given_lb_ac:
        return ""
    how = made.plan.on.words if made.plan is not None and made.plan.on is not None else ""
    return f"{on_text(made.given_lb_ac)}{how}"


def on_already_line(made: Topdress, *, metric: bool = True) -> Iterator[str]:
    """The same as one of the rates, so that they add up to the whole."""
    if made.given_lb_ac:
        on = [made.given_lb_ac] * 2
        kilograms = rate_text([end * KG_PER_HA_PER_LB_PER_ACRE for end in on])
        beside = f" ({kilograms} kg N/ha)" if metric else ""
        yield f"on already: {rate_text(on)} lb N/ac{beside}"


def total_lines(made: Topdress) -> Iterator[str]:
    """The whole of this spring, then the rate at the yield that the stand makes likely."""
    told = made.plan is not None and not made.doses  # by the plan's own lines
    whole = total_line(made)
    if whole and not told:
        yield whole
    lower = likely_text(made.plan.likely) if made.plan is not None else ""
    if lower and not told:
        yield lower


def total_line(made: Topdress) -> str:
    """The whole of this spring; with a tissue test, how that goes with the yield goal's.

    Empty without a whole, and where rates are withheld.
    """
    if made.withheld:
        return ""
    if made.reconciled:
        return f"in all: {made.reconciled}"
    if made.whole.net is None:
        return ""
    by = made.whole.by
    if made.whole.region:
        by += f", {made.whole.region}"
    whole = f"{made.whole.balance} ({by})"
    if made.comes_to is not None and made.given_lb_ac > made.whole.net[0]:
        on = f"{rate_text(made.comes_to)} lb N/ac with what is on already"
        return f"in all: {on}; the whole that is asked for: {whole}"
    return f"in all: {whole}"


def product_lines(made: Topdress, *, metric: bool = False) -> Iterator[str]:
    """What each product is, then how much of it makes each dose; nothing without rates.

    ``metric``: everything of it in metric units as well, not only what goes on.
    """
    if made.withheld or made.nothing:
        return
    yield from cost_lines(made)
    for one in made.products:
        yield one.facts
    for dose in made.doses:
        for amounts in dose.amounts:
            yield f"{dose.name}{dose.pass_text}: {_amount(amounts, metric=metric)}"


def cost_lines(made: Topdress) -> Iterator[str]:
    """What costs are in, where there are any."""
    if any(one.cost_ac is not None for dose in made.doses for all_ in dose.amounts for one in all_):
        yield CURRENCY.screen


def _amount(amounts: Sequence[Amount], *, metric: bool) -> str:
    each = amount_text(amounts, metric=True, all_metric=metric)
    text = f"{amounts[0].product.name}, per acre {each}"
    field = field_text(amounts, metric=metric)
    return f"{text}; for the field {field}" if field else text


def amount_arithmetic(made: Topdress) -> Iterator[str]:
    """How each amount of product came about, in full."""
    for dose in made.doses:
        for amounts in dose.amounts:
            for one in amounts:
                yield f"{dose.name}: {'; '.join(one.arithmetic)}"


def ceilings_shown(made: Topdress) -> list[Held]:
    """Ceilings in print, less the one that the publisher's own printed rate already keeps to.

    Its words speak of one band of tillers, and would contradict the rate printed for another. None
    where rates are withheld.
    """
    if made.withheld:
        return []
    return [one for one in made.ceilings if one.over or one.ceiling.rules != made.rules.name]


def ceilings_kept(made: Topdress, *, unit_each: bool = False) -> str:
    """Those that aren't passed, in one line; empty without any.

    ``unit_each``: where each is to be set in metric beside.
    """
    once, each = ("", " lb N/ac") if unit_each else (", lb N/ac", "")
    within: dict[str, list[str]] = {}
    for held in ceilings_shown(made):
        if not held.over:
            part = "early" if held.ceiling.part == "early" else "in all"
            within.setdefault(part, []).append(
                f"{held.ceiling.by} {number_text(held.lb_ac)}{each}{held.share_text}"
            )
    if not within:
        return ""
    kept = "; ".join(f"{part} {', '.join(names)}" for part, names in within.items())
    return f"within the ceilings in print{once}: {kept}"


def overlap_lines(made: Topdress) -> Iterator[str]:
    """What is dosed twice, and with how much."""
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
        doubled = [found.doubled(lb) for lb in dose.lb_ac]
        yield f"{dose.name}: {rate_text(doubled)} lb N/ac there instead of {pounds_text(dose)}"
    if found.twice_share > 0.01 and found.boom.sections == 1:
        yield "Sections that switch off by themselves, or passes laid otherwise, make it less."
    yield from found.notes


def yield_lines(made: Topdress, *, metric: bool = False) -> Iterator[str]:
    """What the stand may still bring, each source by itself."""
    if made.yield_ is None or made.heads is None:
        return
    heads = ends_text(per_m2(made.heads.low), per_m2(made.heads.high)) if metric else ""
    beside = f" ({heads} per m²)" if metric else ""
    yield (
        f"between {made.yield_.low:.0f} and {made.yield_.high:.0f} bu/ac from "
        f"{made.heads.low:.0f}-{made.heads.high:.0f} heads per ft²{beside} for the mean of the "
        f"shoots, by {made.yield_.whose or 'figures in print'}:"
    )
    for row in made.yield_.by_source:
        yield f"{row.low:.0f} to {row.high:.0f} bu/ac by {row.source}"


def stage_lines(made: Topdress) -> Iterator[str]:
    """How to know the stage, and jointing."""
    if made.stage is None:
        return
    yield f"{made.stage.words}: {made.stage.feature}."
    if not made.stage.jointed:
        joint = parse_stage("jointing")
        yield f"Jointing is {joint.words}: {joint.feature}."


def _before_feekes_5(made: Topdress) -> bool:
    return made.stage is None or not made.stage.past_tillers


def look_again_lines(made: Topdress) -> Iterator[str]:
    """When to come again, and how to tell whether plants live."""
    if made.again is not None:
        yield made.again.line
    if _before_feekes_5(made):
        yield from (advice.line for advice in (*GREEN_UP, *WINTER_SURVIVAL))


def advice_while_spreading(made: Topdress) -> list[Advice]:
    """What to mind at work; the plain no is in the headline already."""
    return [advice for advice in made.spreading if advice != made.stop]


def cautions_left(made: Topdress) -> list[Advice]:
    """Cautions, less the one that "look again" says in full."""
    told = _before_feekes_5(made)
    return [advice for advice in made.cautions if not (told and advice == SURVIVAL)]
