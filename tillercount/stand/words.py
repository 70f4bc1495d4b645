"""Numbers in words, the same way everywhere."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = [
    "MARK_WORDS",
    "beyond",
    "file_names",
    "join",
    "number_text",
    "percent",
    "rate_text",
    "refused_line",
    "span",
    "time_text",
]

MARK_WORDS = {
    "seen": "read in the source named",
    "common practice": "common practice, no published source",
    "from memory": "from memory, not checked against a source",
}
"""What a rule file's mark means, for people."""


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


def span(ends: Sequence[float], digits: int = 6) -> str:
    """A range: "40-50", or one number where both ends are the same."""
    low, high = (f"{end:.{digits}g}" for end in ends)
    if low == high:
        return low
    return f"up to {high}" if low == "0" else f"{low}-{high}"


def file_names(paths: Sequence[str]) -> list[str]:
    """Names without their folders, where that leaves no two alike."""
    short = [path.replace("\\", "/").rsplit("/", 1)[-1] for path in paths]
    return short if len(set(short)) == len(short) else list(paths)


def refused_line(refused: Sequence[tuple[str, str]]) -> str:
    """Photos left out, from (photo, reason)."""
    return f"refused and not in the mean: {join(file_names([photo for photo, _ in refused]))}"


def rate_text(ends: Sequence[float]) -> str:
    """Pounds or kilograms per acre or hectare in whole ones, as a spreader can be set: "22-36"."""
    low, high = (f"{math.floor(end + 0.5):,d}" for end in ends)
    if low == high:
        return low
    return f"up to {high}" if low == "0" else f"{low}-{high}"


def time_text(minutes: float) -> str:
    """ "27 min", or hours where it is two or more: "2.5 h", "42 h"."""
    if minutes < 120:
        return f"{minutes:.0f} min"
    hours = minutes / 60
    return f"{f'{hours:.1f}'.removesuffix('.0') if hours < 10 else f'{hours:.0f}'} h"


def percent(share: float) -> str:
    """A probability in whole percent, never 0 or 100: counts never make anything certain."""
    side = beyond(share)
    if side:
        return "under 1\u00a0%" if side < 0 else "over 99\u00a0%"
    return f"{100 * share:.0f}\u00a0%"


def beyond(share: float) -> int:
    """-1 for a probability under 1 %, 1 for one over 99 %, else 0; floats reach 0 and 1."""
    return -1 if share < 0.01 else 1 if share > 0.99 else 0


def join(items: Sequence[str], word: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"
