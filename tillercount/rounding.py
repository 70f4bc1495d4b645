"""How fine a figure is shown: no finer than a count from a photo can be.

Three significant digits at most; shoots over 20 whole. Files keep more. `figure` is for what was
counted at one spot, `number_text` for means and limits of a field, on screens and pages alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["figure", "kept", "number_text", "whole_pounds"]

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


def number_text(value: float, borders: Sequence[float] = ()) -> str:
    """A density or amount without false digits: 8.4, 23, 104; halves go up.

    Beside the ``borders`` of a rule it gets the decimals that keep it on its side of them: 18.42
    beside 18 is "18.4". A border itself stands as printed, or with one decimal where it was
    printed in another unit.
    """
    for border in borders:
        if math.isclose(value, border, rel_tol=1e-9):
            whole = math.isclose(value, round(value), rel_tol=1e-9)
            return _rounded(value, 0 if whole else 1)
    digits = 1 if abs(value) < 9.95 else 0
    shown = [float(number_text(border, [border])) for border in borders]
    while digits < 3 and any(
        (float(_rounded(value, digits)) - side) * (value - border) <= 0
        for border, by_text in zip(borders, shown, strict=True)
        for side in (border, by_text)
    ):
        digits += 1
    return _rounded(value, digits)


def _rounded(value: float, digits: int) -> str:
    """Half up, as people round; 1e-9 so that 2.675 in floats is still a half."""
    power = 10**digits
    up = math.copysign(math.floor(abs(value) * power + 0.5 + 1e-9) / power, value)
    return f"{up + 0.0:.{digits}f}"


def whole_pounds(value: float) -> int:
    """A rate in whole pounds or kilograms, as a spreader can be set; limits are held against it."""
    return math.floor(value + 0.5)
