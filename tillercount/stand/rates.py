"""A rate of nitrogen as people type it."""

from __future__ import annotations

import re

from tillercount.errors import InputError
from tillercount.typed import ask_of_pair, is_bare_fraction, range_typed
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE, number

__all__ = ["MOST_KG_HA", "MOST_LB_AC", "names_no_area", "rate_lb_ac"]

MOST_LB_AC, MOST_KG_HA = 400.0, 450.0
"""Nitrogen from one source above which a rate is taken for a slip, the same in round figures of
either unit: a limit of this program, several times what any rule here gives for a whole spring."""
_RATE = re.compile(
    r"(?P<value>.*?)\s*(?:(?P<kg>kg\s*n?\s*(?:/|per)\s*ha)|lbs?(?:\s*n?\s*(?:/|per)\s*ac(?:re)?)?)",
    re.IGNORECASE,
)
"""A number with a unit: of pounds alone those per acre are meant."""


def names_no_area(text: str) -> bool:
    """Whether a rate that `rate_lb_ac` takes says pounds, and not per what."""
    return re.fullmatch(r"[^/]*?lbs?\s*", text, re.IGNORECASE) is not None


def rate_lb_ac(text: str | float, *, what: str = "nitrogen") -> float:
    """Pounds per acre from a rate as typed: ``30 lb/ac``, ``34 kg/ha``; a number is lb/ac.

    A text needs its unit: 30 in kg/ha is 27 in lb/ac, and nobody can tell which was meant.

    Raises
    ------
    InputError
        Not a rate, a range, a fraction or a comma that may be two rates, without a unit, below
        zero, or above `MOST_LB_AC` or `MOST_KG_HA`.
    """
    shown = str(text).strip()
    if ends := range_typed(shown):
        raise InputError(
            f"{what} {shown!r} is a range, {ends['low']} to {ends['high']}; give the one rate that "
            "is meant, like '30 lb/ac'"
        )
    bare = isinstance(text, str)
    found = _RATE.fullmatch(shown)
    head, metric = (found["value"], found["kg"] is not None) if found else (shown, False)
    factor = 1 / KG_PER_HA_PER_LB_PER_ACRE if metric else 1.0
    if is_bare_fraction(head):
        raise InputError(
            f"{what} {shown!r} may be a fraction, two doses or a range; give the one rate that is "
            "meant, in decimals, like '30 lb/ac'"
        )
    ask_of_pair(shown, what=what)
    try:
        value = number(head, what=what)
    except InputError as error:
        if "isn't a number" not in str(error):
            raise
        raise InputError(
            f"{what} {shown!r} isn't a rate; write it like '30 lb/ac' or '34 kg/ha'"
        ) from error
    if value < 0:
        raise InputError(f"{what} {shown!r} must not be below zero")
    if bare and found is None and value > 0:
        raise InputError(f"{what} {shown!r} has no unit; write '{shown} lb/ac' or '{shown} kg/ha'")
    if value > (MOST_KG_HA if metric else MOST_LB_AC):
        most = f"{MOST_KG_HA:g} kg/ha" if metric else f"{MOST_LB_AC:g} lb/ac"
        raise InputError(
            f"{what} {shown!r} can't be right: no more than {most} is taken; check the number and "
            "its unit"
        )
    return value * factor
