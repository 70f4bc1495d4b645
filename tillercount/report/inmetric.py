"""Texts in US units with the same in metric behind: "22-36 lb N/ac (25-40 kg N/ha)".

What rule sets, publishers and cautions say stays as they wrote it; a quantity is known by its unit
alone, and one whose unit doesn't say what it is (``120 lb``) is left. What is quoted, or stands
behind an option of a command, is somebody's own words or there to be typed, and is left too. A
figure of the field, or a line of its rules, becomes what the rest of the page shows for it
(`own_figures`), not its rounded text converted.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tillercount.stand.overcount import OVERCOUNT
from tillercount.stand.products import L_PER_GAL
from tillercount.stand.words import number_text, rate_text
from tillercount.units import (
    KG_PER_LB,
    M2_PER_ACRE,
    MM_PER_FT,
    bu_per_ac_to_t_per_ha,
    kg_per_ha,
    per_m2,
)

if TYPE_CHECKING:
    from tillercount.stand.nitrogen import NitrogenPlan
    from tillercount.stand.topdressed import Topdress

__all__ = ["beside", "in_metric", "own_figures", "own_rates", "rates_of"]

_NUMBER = r"\d[\d,]*(?:\.\d+)?"
_RANGE = rf"(?P<low>{_NUMBER})(?:(?P<sep>-| to | and )(?P<high>{_NUMBER}))?"
_FT2 = r"(?:ft²|ft2|square foot)"
_THINGS = r"(?: (?:of them|plants|shoots|tillers|heads|stems|main stems))?"

_FT_PER_MILE = 5280
_L_PER_FT3 = (MM_PER_FT / 100) ** 3

_LEFT = re.compile(
    r"""(?<!\w)'[^']*'(?!\w)|"[^"]*"|“[^”]*”"""
    r"""|(?<![\w-])--[a-z](?:'[^']*'|"[^"]*"|[^;,()'".]|\.(?=\S))*"""
)
"""Quoted, or an option up to the end of its part of the sentence."""

_LESS = "less the overcount: "
"""Before the text of a figure that is the mean less what photos count too many."""
_ALONE = (
    ("", re.compile(rf"\bat {_RANGE}(?= the mean\b)")),
    (_LESS, re.compile(rf"\bwould be {_RANGE}(?=, across or near the border)")),
    ("", re.compile(rf"\bacross or near the borders? of {_RANGE}")),
)
"""Where our own sentences name the mean, or a line beside it, without the unit."""

_OTHERS_POUNDS = frozenset({"ceilings", "ceilings_kept", "products"})
"""Parts of a nitrogen plan whose pounds are a publisher's."""

Way = tuple[re.Pattern[str], str, Callable[[float], float]]


def _ways(crop: str) -> Iterator[Way]:
    """Pattern, metric unit and conversion, the longer units first."""

    def way(pattern: str, unit: str, convert: Callable[[float], float]) -> Way:
        return re.compile(pattern), unit, convert

    try:
        t_per_bu = bu_per_ac_to_t_per_ha(1.0, crop) * M2_PER_ACRE / 10_000
    except ValueError:
        t_per_bu = 0.0  # no bushel weight is known for this crop
    yield way(rf"{_RANGE} lb N/ac\b", "kg N/ha", kg_per_ha)
    of_product = r"lb of [\w -]+? per acre"
    yield way(rf"{_RANGE} (?:lb/ac|pounds per acre|lb per acre|{of_product})\b", "kg/ha", kg_per_ha)
    yield way(rf"{_RANGE} lb for the field\b", "kg", lambda v: v * KG_PER_LB)
    yield way(rf"(?<![\d/]){_RANGE} ac\b", "ha", lambda v: v * M2_PER_ACRE / 10_000)
    if t_per_bu:
        bushels = r"(?:lb N|lb of N|pounds of nitrogen) (?:per bushel|/bu\b)"
        yield way(rf"{_RANGE} {bushels}", "kg N/t", lambda v: v * KG_PER_LB / t_per_bu)
        yield way(
            rf"{_RANGE} (?:bu/ac|bushels per acre)\b",
            "t/ha",
            lambda v: v * t_per_bu / M2_PER_ACRE * 10_000,
        )
    yield way(rf"{_RANGE}{_THINGS} ?(?:per |/){_FT2}", "per m²", per_m2)
    yield way(rf"per {_FT2},(?: borders)? {_RANGE}", "per m²", per_m2)
    yield way(
        rf"{_RANGE} (?:gal/ac|gal per acre|gallons per acre)\b",
        "L/ha",
        lambda v: v * L_PER_GAL / M2_PER_ACRE * 10_000,
    )
    yield way(rf"{_RANGE} lb per gallon\b", "kg/L", lambda v: v * KG_PER_LB / L_PER_GAL)
    yield way(rf"{_RANGE} lb N per gallon\b", "kg N/L", lambda v: v * KG_PER_LB / L_PER_GAL)
    yield way(rf"{_RANGE} lb per cubic foot\b", "kg/L", lambda v: v * KG_PER_LB / _L_PER_FT3)
    yield way(rf"{_RANGE} miles?\b", "km", lambda v: v * _FT_PER_MILE * MM_PER_FT / 1e6)
    yield way(rf"{_RANGE} °F(?!-)", "°C", lambda v: (v - 32) / 1.8)
    yield way(rf"{_RANGE} (?:ft|feet)\b(?! of row)", "m", lambda v: v * MM_PER_FT / 1000)


def beside(text: str, crop: str = "wheat", figures: Mapping[str, str] | None = None) -> str:
    """The text with metric figures in brackets, where it has quantities in US units.

    Parameters
    ----------
    figures : mapping of str to str, optional
        Densities per square foot as they stand in the text, with the same per m² as the page
        shows them; and rates (`own_rates`).
    """
    known = figures or {}
    parts, at = [], 0
    for left in _LEFT.finditer(text):
        parts += [_converted(text[at : left.start()], crop, known), left[0]]
        at = left.end()
    return "".join([*parts, _converted(text[at:], crop, known)])


def _converted(text: str, crop: str, figures: Mapping[str, str]) -> str:
    for pattern, unit, convert in _ways(crop):

        def put(found: re.Match[str], unit: str = unit, to: Any = convert) -> str:
            before, after = found.string[: found.start()], found.string[found.end() :]
            if re.match(r" \([^)]*" + re.escape(unit), after) or before.endswith(f"{unit} ("):
                return found[0]  # its author did so already
            ends = [found[end] for end in ("low", "high") if found[end]]
            shown = figures if unit == "per m²" else {}
            said = figures.get(found[0]) or (found["sep"] or "").join(
                shown.get(end) or _said(to(float(end.replace(",", ""))), unit) for end in ends
            )
            return f"{found[0]} ({said} {unit})"

        text = pattern.sub(put, text)
    for what, alone in _ALONE:
        text = alone.sub(functools.partial(_own, figures, what), text)
    return text


def _own(figures: Mapping[str, str], what: str, found: re.Match[str]) -> str:
    ends = [figures.get(what + found[end]) for end in ("low", "high") if found[end]]
    if None in ends:
        return found[0]
    return f"{found[0]} ({(found['sep'] or '').join(map(str, ends))} per m²)"


def _said(value: float, unit: str) -> str:
    if unit == "ha" or unit.endswith("/L"):  # as fine as fields and densities are told
        return f"{value:.4g}" if unit == "ha" else f"{value:.3g}"
    return f"{value:.0f}" if unit == "°C" else number_text(value)


def own_figures(evidence: Sequence[Mapping[str, Any]], *, means: bool = True) -> dict[str, str]:
    """Texts of the rules' lines and the field's means per ft², with those per m² on the page.

    ``means`` is False for sentences of others, whose 28 is 28 and not the field's 28.24. A text
    that stands for two figures is converted as any other.
    """
    found: dict[str, set[str]] = {}
    for one in evidence:
        lines = [band["to"] for band in one["bands"] if band["to"] is not None]
        borders = {per: [line[per] for line in lines] for per in ("per_ft2", "per_m2")}
        names = ("mean", "low", "high") if means else ()
        own = [{per: one[per][end] for per in borders} for end in names]
        own, ends = own[:1], own[1:]
        less = [{per: both[per] / times for per in both} for both in own for times in OVERCOUNT]
        for both in (*lines, *own):
            us, metric = (number_text(both[per], borders[per]) for per in ("per_ft2", "per_m2"))
            found.setdefault(us, set()).add(metric)
        # said without minding the lines
        for sign, both in (*(("", both) for both in ends), *((_LESS, both) for both in less)):
            us, metric = (number_text(both[per]) for per in ("per_ft2", "per_m2"))
            found.setdefault(sign + us, set()).add(metric)
    return {us: metric.pop() for us, metric in found.items() if len(metric) == 1}


def own_rates(lb_ac: Iterable[Sequence[float] | None]) -> dict[str, str]:
    """Texts of a field's own rates, "22-36 lb N/ac", with the kilograms that its doses are told in.

    A text that stands for two rates is converted as any other.
    """
    found: dict[str, set[str]] = {}
    for ends in lb_ac:
        if ends is not None:
            us, metric = (
                rate_text(one).removeprefix("up to ")
                for one in (ends, [kg_per_ha(end) for end in ends])
            )
            found.setdefault(f"{us} lb N/ac", set()).add(metric)
    return {us: metric.pop() for us, metric in found.items() if len(metric) == 1}


def rates_of(
    plan: NitrogenPlan | None, made: Topdress | None = None
) -> list[Sequence[float] | None]:
    """A field's own, lb N/ac: each dose, what is on already or taken off, and the whole."""
    found: list[Sequence[float] | None] = []
    if made is not None:
        found += [*(dose.lb_ac for dose in made.doses), [made.given_lb_ac] * 2]
        found += [made.total, made.comes_to]
    elif plan is not None:
        found += [plan.early, plan.main, plan.total]
    whole = made.whole if made is not None else (plan.whole if plan is not None else None)
    if whole is not None:
        found += [*(credit.lb_ac for credit in whole.credits), whole.net, whole.gross]
    return [*found, plan.likely[1]] if plan is not None and plan.likely is not None else found


def in_metric(
    record: Mapping[str, Any], crop: str, lb_ac: Iterable[Sequence[float] | None] = ()
) -> dict[str, str]:
    """Each text of a record that holds US quantities, with the same text for metric pages.

    ``lb_ac`` are the field's own rates of nitrogen.
    """
    shown = {key: value for key, value in record.items() if key != "assessment"}
    ours = set(_texts(record["verdict"]))  # said of this field
    rates, plan = own_rates(lb_ac), record.get("nitrogen") or {}
    of_plan = set(_texts({key: one for key, one in plan.items() if key not in _OTHERS_POUNDS}))
    of_plan |= set(_texts([record.get("steps", ()), record.get("actions", ())]))
    judged = {one["what"] for one in record["evidence"]}
    others = [{"bands": [], **one} for one in record["densities"] if one["what"] not in judged]
    figures = {
        said: own_figures([*record["evidence"], *others], means=said) for said in (True, False)
    }
    found = {}
    for text in _texts(shown):
        own = rates if text in ours or text in of_plan else {}
        other = beside(text, crop, figures[text in ours] | own)
        if other != text:
            found[text] = other
    return found


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            if key != "all":  # the whole of `tillercount nitrogen`, which no page shows
                yield from _texts(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _texts(one)
