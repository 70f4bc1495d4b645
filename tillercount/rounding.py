"""How fine a figure is shown: no finer than a count from a photo can be.

Three significant digits at most; shoots over 20 whole. Files keep more.
"""

from __future__ import annotations

import math

__all__ = ["figure", "kept"]

_SHOOTS_WHOLE_FROM = 20.0


def figure(value: float, what: str = "plants", *, whole: bool = False) -> str:
    """A count or a density for a screen or a picture.

    Parameters
    ----------
    value : in any unit
    what : ``plants`` or ``shoots``
    whole : without decimals, as counts in one marked area are shown
    """
    if not math.isfinite(value):
        return "unknown"
    shown = round(value, 1)
    if abs(shown) >= 1000:  # 1234 becomes 1230
        shown = round(shown, 2 - math.floor(math.log10(abs(shown))))
    if whole or abs(shown) >= 100 or (what == "shoots" and shown >= _SHOOTS_WHOLE_FROM):
        return f"{shown if abs(shown) >= 1000 else value:.0f}"
    return f"{value:.1f}"


def kept(count: float) -> float:
    """A count as counts files keep it.

    What is shown of it is worked out from this everywhere: rounded at two places, one photo would
    have 9.3 plants per ft² in its picture and 9.2 in the table beside it.
    """
    return round(count, 1)
