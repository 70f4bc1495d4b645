"""Numbers in words, the same way everywhere."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["join", "number_text", "percent", "span"]


def number_text(value: float) -> str:
    """A density or amount without false digits: 8.4, 23, 104."""
    return f"{value:.1f}" if abs(value) < 9.95 else f"{value:.0f}"


def span(ends: Sequence[float], digits: int = 6) -> str:
    """A range: "40-50", or one number where both ends are the same."""
    low, high = (f"{end:.{digits}g}" for end in ends)
    if low == high:
        return low
    return f"up to {high}" if low == "0" else f"{low}-{high}"


def percent(share: float) -> str:
    """A probability in whole percent, never 0 or 100 unless it is exactly that."""
    if 0 < share < 0.01:
        return "under 1\u00a0%"
    if 0.99 < share < 1:
        return "over 99\u00a0%"
    return f"{100 * share:.0f}\u00a0%"


def join(items: Sequence[str], word: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"
