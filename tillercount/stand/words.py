"""Numbers in words, the same way everywhere."""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.rounding import number_text, whole_pounds

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
    low, high = (f"{whole_pounds(end):,d}" for end in ends)
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
