"""Texts in US units with the same in metric behind: "22-36 lb N/ac (25-40 kg N/ha)".

What rule sets, publishers and cautions say stays as they wrote it; a quantity is known by its unit
alone, and one whose unit doesn't say what it is (``120 lb``) is left.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from tillercount.stand.products import L_PER_GAL
from tillercount.stand.words import number_text
from tillercount.units import (
    KG_PER_LB,
    M2_PER_ACRE,
    MM_PER_FT,
    bu_per_ac_to_t_per_ha,
    kg_per_ha,
    per_m2,
)

__all__ = ["beside", "in_metric"]

_NUMBER = r"\d[\d,]*(?:\.\d+)?"
_RANGE = rf"(?P<low>{_NUMBER})(?:(?P<sep>-| to | and )(?P<high>{_NUMBER}))?"
_FT2 = r"(?:ft²|ft2|square foot)"
_THINGS = r"(?: (?:plants|shoots|tillers|heads|stems|main stems))?"

_FT_PER_MILE = 5280

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
    yield way(rf"{_RANGE} (?:lb/ac|pounds per acre|lb per acre)\b", "kg/ha", kg_per_ha)
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
        rf"{_RANGE} (?:gal/ac|gallons per acre)\b",
        "L/ha",
        lambda v: v * L_PER_GAL / M2_PER_ACRE * 10_000,
    )
    yield way(rf"{_RANGE} lb per gallon\b", "kg/L", lambda v: v * KG_PER_LB / L_PER_GAL)
    yield way(rf"{_RANGE} miles?\b", "km", lambda v: v * _FT_PER_MILE * MM_PER_FT / 1e6)
    yield way(rf"{_RANGE} °F(?!-)", "°C", lambda v: (v - 32) / 1.8)
    yield way(rf"{_RANGE} (?:ft|feet)\b(?! of row)", "m", lambda v: v * MM_PER_FT / 1000)


def beside(text: str, crop: str = "wheat") -> str:
    """The text with metric figures in brackets, where it has quantities in US units."""
    for pattern, unit, convert in _ways(crop):

        def put(found: re.Match[str], unit: str = unit, to: Any = convert) -> str:
            if re.match(r" \([^)]*" + re.escape(unit), found.string[found.end() :]):
                return found[0]  # its author did so already
            ends = [float(found[e].replace(",", "")) for e in ("low", "high") if found[e]]
            said = (found["sep"] or "").join(_said(to(v), unit) for v in ends)
            return f"{found[0]} ({said} {unit})"

        text = pattern.sub(put, text)
    return text


def _said(value: float, unit: str) -> str:
    return f"{value:.0f}" if unit == "°C" else number_text(value)


def in_metric(record: Mapping[str, Any], crop: str) -> dict[str, str]:
    """Each text of a record that holds US quantities, with the same text for metric pages."""
    shown = {key: value for key, value in record.items() if key != "assessment"}
    found = {}
    for text in _texts(shown):
        other = beside(text, crop)
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
