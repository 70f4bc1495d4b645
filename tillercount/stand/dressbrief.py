"""A field's spring nitrogen on one screen: rates, amounts and dates, then what to mind, each once.

What is left out here (sources, other publishers' figures one by one, how to judge survival) is in
`tillercount.stand.dressing.sections`.
"""

from __future__ import annotations

from collections.abc import Iterator

from tillercount.stand.dressing import headline
from tillercount.stand.dresslines import (
    advice_while_spreading,
    cautions_left,
    ceilings_kept,
    ceilings_shown,
    dose_line,
    dose_lines,
    on_already_line,
    total_lines,
)
from tillercount.stand.growth import Jointing
from tillercount.stand.setting import amount_text, field_text
from tillercount.stand.stage import parse_stage
from tillercount.stand.topdress import Topdress
from tillercount.stand.windows import windows_in_short
from tillercount.stand.words import join, rate_text
from tillercount.units import M2_PER_ACRE

__all__ = ["brief_sections"]


def brief_sections(made: Topdress, *, metric: bool = False) -> Iterator[tuple[str, list[str]]]:
    """Headings with their lines, in the order to show them; none is empty, no line comes twice.

    ``metric``: with what can't be told from a text alone, such as bare pounds, in metric as well.
    """
    told = {headline(made)}  # it stands above
    for title, lines in (
        ("Rates", _rates(made, metric)),
        ("How it was worked out", _worked_out(made)),
        ("Field and season", _field(made, metric)),
        ("While it goes on", (advice.brief for advice in advice_while_spreading(made))),
        ("Mind", (*made.flags, *(advice.brief for advice in cautions_left(made)))),
    ):
        new = [line for line in dict.fromkeys(lines) if line not in told]
        told.update(new)
        if new:
            yield title, new


def _rates(made: Topdress, metric: bool) -> Iterator[str]:
    if made.doses:
        yield from made.first
        yield from on_already_line(made)
    for dose in made.doses:
        yield dose_line(dose)
        for amounts in dose.amounts:
            each = amount_text(amounts, all_metric=metric)
            name = f"{dose.name}, {amounts[0].product.name}"
            yield f"{name} an acre{dose.pass_text}: {each}"
            load = field_text(amounts, one_unit=True, metric=metric)
            if load:
                yield f"{name} for the field{dose.pass_text}: {load}"
    if not made.doses:
        yield from dose_lines(made)
        return
    yield from total_lines(made)


def _worked_out(made: Topdress) -> Iterator[str]:
    if made.withheld:
        return
    yield from made.arithmetic
    if not made.doses or made.nothing:
        return
    for one in made.products:
        text = f"{one.name}: lb N / {one.n:g} = lb"
        if one.lb_per_gal is not None:
            text += f"; lb / {one.lb_per_gal:g} lb per gallon = gal"
        if made.area_m2 is not None:
            text += f"; times {made.area_m2 / M2_PER_ACRE:.4g} ac"
        yield text


def _field(made: Topdress, metric: bool) -> Iterator[str]:
    yield from _ceilings(made, metric)
    found = made.overlap
    if found is not None:
        once, each = ("", " lb N/ac") if metric else (" lb N/ac", "")
        rates = [rate_text([found.doubled(lb) for lb in dose.lb_ac]) for dose in made.doses]
        doubled = join([f"{rate}{each}" for rate in rates], "then")
        rate = f": {doubled}{once} there" if doubled else ""
        yield f"{100 * found.twice_share:.1f} % of the field is dosed twice{rate}"
        if found.missed_share > 0.0005:
            yield f"{100 * found.missed_share:.1f} % gets nothing: passes are too far apart"
    yield from (advice.text for advice in made.lodging)
    if made.yield_ is not None:
        yield (
            f"yield by figures in print for the mean of the shoots: {made.yield_.low:.0f} to "
            f"{made.yield_.high:.0f} bu/ac{f'; {made.yield_.whose}' if made.yield_.abroad else ''}"
        )
    if made.stage is not None and not made.stage.jointed:
        joint = parse_stage("jointing")
        yield f"now {made.stage.words}; jointing is {joint.words}: {joint.feature}"
    yield from _season(made)
    if made.weed_notice:
        yield made.weed_notice
    for one in made.weeds:
        yield one.words
    if made.weed_notice or made.weeds:
        yield windows_in_short(made.stage).text
    if made.again is not None:
        yield f"look again between {made.again.first} and {made.again.last}"


def _ceilings(made: Topdress, metric: bool) -> Iterator[str]:
    """Each that is passed in its own line, those kept to in one."""
    yield from (held.line for held in ceilings_shown(made) if held.over)
    if kept := ceilings_kept(made, unit_each=metric):
        yield kept


def _season(made: Topdress) -> Iterator[str]:
    season = made.season
    if season is None:
        return
    if season.growing is False:
        yield "no growth in the last week on file"
    if not made.jointed:
        if season.green_up is not None:
            yield f"green-up by the weather: {season.green_up}"
        if isinstance(season.jointing, Jointing):
            yield season.jointing.words
        else:
            yield f"jointing: no date; {season.jointing.reason}"
    if season.hint:
        yield f"the count is off: {season.hint}"
