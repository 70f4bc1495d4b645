"""Distances and areas of the ground in words, US units first."""

from __future__ import annotations

import re

from tillercount.errors import InputError
from tillercount.units import M2_PER_ACRE, MM_PER_FT, length_mm

__all__ = ["acres", "distance_m", "feet", "share", "spots_text"]

_M_PER_FT = MM_PER_FT / 1000
_FT_PER_MILE = 5280


def distance_m(text: str, *, what: str) -> float:
    """Metres of a distance as typed (``30 ft``, ``10 m``); ``0`` stands for none.

    Raises
    ------
    InputError
        See `tillercount.units.length_mm`; or more than 10 miles.
    """
    if re.fullmatch(r"\s*0+([.,]0*)?\s*[A-Za-z']*\s*", text):
        return 0.0
    metres = length_mm(text, what=what, over_ground=True) / 1000
    if metres > 16_000:
        raise InputError(f"{what} {text.strip()!r} is more than 10 miles; check the unit")
    return metres


def feet(metres: float, *, metric: bool = False) -> str:
    """``30 ft``, ``1,240 ft``, ``1.6 mi``; with the metric figure in brackets on request."""
    ft = metres / _M_PER_FT
    if ft < 10:
        text = f"{ft:.1f}".removesuffix(".0") + " ft"
    else:
        text = f"{ft:,.0f} ft" if ft < _FT_PER_MILE / 2 else f"{ft / _FT_PER_MILE:,.1f} mi"
    if not metric:
        return text
    small = f"{metres:.1f} m" if metres < 10 else f"{metres:,.0f} m"
    return f"{text} ({small if metres < 1000 else f'{metres / 1000:.1f} km'})"


def acres(m2: float, *, metric: bool = False) -> str:
    """``62 ac``, ``4.1 ac``, ``0.08 ac``; with hectares in brackets on request."""
    text = f"{_three(m2 / M2_PER_ACRE)} ac"
    return f"{text} ({_three(m2 / 10_000)} ha)" if metric else text


def _three(value: float) -> str:
    if value >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if value >= 1 else f"{value:.2g}"


def spots_text(n: int) -> str:
    """``1 spot``, ``12 spots``."""
    return f"{n} spot{'' if n == 1 else 's'}"


def share(part: float) -> str:
    """``7 %``, ``under 1 %``."""
    return "under 1 %" if 0 < part < 0.01 else f"{part * 100:.0f} %"
