"""Quantities as people type them.

Inside the program there is one system (mm, m², per m²); everything a person types is turned into
it here, once. The conversions (`tillercount.conversions`) can be had from here too.
"""

from __future__ import annotations

import functools
import math
import re
from typing import Any

from tillercount.conversions import (
    FT2_PER_ACRE,
    KG_PER_HA_PER_LB_PER_ACRE,
    KG_PER_LB,
    M2_PER_ACRE,
    M2_PER_FT2,
    MM_PER_FT,
    MM_PER_IN,
    TEST_WEIGHT_LB,
    acre_to_per_m2,
    bu_per_ac_to_t_per_ha,
    kg_per_ha,
    lb_per_ac,
    per_acre,
    per_ft2,
    per_m2,
    t_per_ha_to_bu_per_ac,
    test_weight_lb,
)
from tillercount.errors import InputError
from tillercount.typed import ask_of_pair, number, quantity, range_typed

__all__ = [
    "FT2_PER_ACRE",
    "KG_PER_HA_PER_LB_PER_ACRE",
    "KG_PER_LB",
    "M2_PER_ACRE",
    "M2_PER_FT2",
    "MM_PER_FT",
    "MM_PER_IN",
    "TEST_WEIGHT_LB",
    "acre_to_per_m2",
    "area_m2",
    "bu_per_ac",
    "bu_per_ac_to_t_per_ha",
    "density_per_m2",
    "kg_per_ha",
    "lb_per_ac",
    "length_mm",
    "number",
    "per_acre",
    "per_ft2",
    "per_m2",
    "t_per_ha_to_bu_per_ac",
]

# Everyday units, so that a frame's size needs no unit library; rarer ones (yd, dm, ...) go to pint.
_LENGTH_MM = {
    **dict.fromkeys(("mm", "millimeter", "millimetre", "millimeters", "millimetres"), 1.0),
    **dict.fromkeys(("cm", "centimeter", "centimetre", "centimeters", "centimetres"), 10.0),
    **dict.fromkeys(("m", "meter", "metre", "meters", "metres"), 1000.0),
    **dict.fromkeys(("in", "inch", "inches", '"'), MM_PER_IN),
    **dict.fromkeys(("ft", "foot", "feet", "'"), MM_PER_FT),
}
_AREA_M2 = {
    **dict.fromkeys(("m2", "sqm", "sqmeter", "sqmetre", "squaremeter", "squaremetre"), 1.0),
    **dict.fromkeys(("cm2", "sqcm"), 1e-4),
    **dict.fromkeys(("ft2", "sqft", "sf", "squarefoot", "squarefeet"), M2_PER_FT2),
    **dict.fromkeys(("in2", "sqin", "squareinch", "squareinches"), (MM_PER_IN / 1000) ** 2),
    **dict.fromkeys(("yd2", "sqyd", "sqyard", "squareyard", "squareyards"), 9 * M2_PER_FT2),
    **dict.fromkeys(("ac", "acre", "acres"), M2_PER_ACRE),
    **dict.fromkeys(("ha", "hectare", "hectares"), 10_000.0),
}


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def length_mm(text: str, *, what: str = "length", over_ground: bool = False) -> float:
    """Millimetres of a length as a person types it: ``12 in``, ``1ft``, ``30cm``, ``7 1/2"``.

    Feet and inches together (``1 ft 6 in``, ``1'6"``) are read too. ``over_ground``: a distance
    that nobody has in inches, so that the message on a missing unit offers feet and metres.

    Raises
    ------
    InputError
        No number, no unit, an unknown unit, not a length, or not above zero.
    """
    shown = text.strip()
    try:
        value, unit = quantity(text, what)
    except InputError as error:
        if "isn't a number" not in str(error):
            raise
        raise InputError(
            f"{what} {shown!r} isn't a number with a unit; write it like 12in or 30cm"
        ) from None
    feet_and_inches = re.fullmatch(r"(ft|foot|feet|')\s*[, ]?\s*(\d.*)", unit, re.IGNORECASE)
    if feet_and_inches:
        inches, inch_unit = quantity(feet_and_inches[2], what)
        if inch_unit.rstrip(".").lower() not in {"in", "inch", "inches", '"', "''"}:
            raise InputError(f"{what} {shown!r} can't be read; write it like 1ft 6in or 18in")
        total = value * MM_PER_FT + inches * MM_PER_IN
    else:
        total = value * _factor(shown, unit, what, over_ground)
    if not (total > 0 and math.isfinite(total)):
        raise InputError(f"{what} {shown!r} must be above zero")
    # Rounded far below anything measurable, so that 12 in is 304.8 mm and not 304.79999999999995.
    return round(float(total), 8)


def _factor(shown: str, unit: str, what: str, over_ground: bool) -> float:
    if not unit:
        if over_ground:
            raise InputError(
                f"{what} {shown!r} has no unit; write '{shown} ft' if feet, '{shown} m' if metres"
            )
        raise InputError(
            f"{what} {shown!r} has no unit; add the one that your tape or frame shows: {shown}in "
            f"if inches, {shown}cm only if centimetres"
        )
    known = _LENGTH_MM.get(unit.rstrip(".").lower())
    if known is not None:
        return known
    hint = "isn't a unit of length; use in, ft, mm, cm or m"
    if not re.fullmatch(r"[A-Za-zµ]+", unit):
        raise InputError(f"{what} {shown!r}: {unit!r} {hint}")
    try:
        return float(_registry().Quantity(1.0, unit).to("millimeter").magnitude)
    except Exception as error:  # pint raises several unrelated types
        raise InputError(f"{what} {shown!r}: {unit!r} {hint}") from error


def _area_unit(unit: str) -> float | None:
    key = re.sub(r"[\s.^]|\*\*", "", unit.lower())
    return _AREA_M2.get(key)


def area_m2(text: str, *, what: str = "area") -> float:
    """Square metres of an area as a person types it: ``1 ft2``, ``0.25 m2``, ``1 sq ft``.

    Raises
    ------
    InputError
        No number, no unit, not a unit of area, or not above zero.
    """
    value, unit = quantity(text, what)
    if not unit:
        raise InputError(
            f"{what} {text.strip()!r} has no unit, and a bare number isn't taken for square feet; "
            "write it like 1 ft2, 0.25 m2 or square:12in"
        )
    factor = _area_unit(unit)
    if factor is None:
        raise InputError(
            f"{what} {text.strip()!r}: {unit!r} isn't a unit of area; use ft2, m2, in2, cm2 or yd2"
        )
    if not value > 0:
        raise InputError(f"{what} {text.strip()!r} must be above zero")
    return value * factor


def density_per_m2(text: str, *, what: str = "density") -> float:
    """Things per square metre from a density as typed: ``25/ft2``, ``260 per m2``, ``1.1M/ac``.

    Raises
    ------
    InputError
        No number, a comma that may part two, no unit of area, or below zero.
    """
    ask_of_pair(text, what=what)
    value, rest = quantity(text, what)
    things = r"(?:plants|shoots|stems|tillers|heads)?"
    match = re.fullmatch(rf"(M|million)?\s*{things}\s*(?:/|per)\s*(.+)", rest)
    factor = _area_unit(match[2]) if match else None
    if match is None or factor is None:
        raise InputError(
            f"{what} {text.strip()!r} can't be read; write it like 25/ft2, 270/m2 or 1100000/ac"
        )
    if value < 0:
        raise InputError(f"{what} {text.strip()!r} must not be below zero")
    return value * (1e6 if match[1] else 1.0) / factor


_MOST_WHEAT_BU_AC, _MOST_BU_AC = 270.0, 350.0
"""The highest wheat yields on record are near 17 t/ha (250 bu/ac); light bushels are more of them
(both from memory)."""


_YIELD_UNITS = {
    "bpa": "bu/ac", "bu/a": "bu/ac", "bu": "bu/ac", "lbs/ac": "lb/ac", "mt/ha": "t/ha",
}  # fmt: skip
"""Nobody means bushels of a whole field by a yield goal."""


def bu_per_ac(text: str, *, crop: str = "wheat", what: str = "yield goal") -> float:
    """Bushels per acre from a yield as typed: ``80 bu/ac``, ``5.4 t/ha``, ``4800 lb/ac``.

    Parameters
    ----------
    text : str
        Number and unit; bu/ac, t/ha, kg/ha or lb/ac.
    crop : str
        Decides the weight of a bushel: wheat 60, barley 48, oats 32, rye 56 lb.

    Raises
    ------
    InputError
        Can't be read, a comma that may part two numbers, no unit, not above zero, or more than any
        field has yielded.
    """
    if ends := range_typed(text):
        unit = ends.string[ends.end() :].strip()
        like = f"{ends['low']} {unit}" if unit else "80 bu/ac"
        raise InputError(
            f"{what} {text.strip()!r} is a range; give the one yield that nitrogen is to be for, "
            f"like '{like}'"
        )
    ask_of_pair(text, what=what)
    value, rest = quantity(text, what)
    unit = re.sub(r"\s|\.", "", rest.lower()).replace("per", "/")
    unit = unit.replace("bushels", "bu").replace("bushel", "bu").replace("acre", "ac")
    unit = _YIELD_UNITS.get(unit, unit)
    if unit == "bu/ac":
        result = value
    elif unit in {"t/ha", "kg/ha"}:
        tonnes = value if unit == "t/ha" else value / 1000.0
        result = t_per_ha_to_bu_per_ac(tonnes, crop)
    elif unit == "lb/ac":
        result = value / test_weight_lb(crop)
    else:
        problem = f": {rest!r} isn't a unit of yield" if rest else " has no unit"
        raise InputError(
            f"{what} {text.strip()!r}{problem}; write it like '80 bu/ac' or '5.4 t/ha'"
        )
    if not result > 0:
        raise InputError(f"{what} {text.strip()!r} must be above zero")
    wheat = crop == "wheat"
    if result > (_MOST_WHEAT_BU_AC if wheat else _MOST_BU_AC):
        turned = "" if unit == "bu/ac" else f"{result:.0f} bu/ac, "
        most = " (the highest wheat yields on record are near 250 bu/ac, 17 t/ha)" if wheat else ""
        raise InputError(
            f"{what} {text.strip()!r} is {turned}more than any field has yielded{most}; check the "
            "number and its unit"
        )
    return result
