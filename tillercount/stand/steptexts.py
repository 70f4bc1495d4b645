"""What the steps from counts to verdict say of densities, in whichever unit these are given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from tillercount.field.estimate import DensityEstimate, FieldEstimate
from tillercount.stand.expect import HEADS_MOST_BY
from tillercount.stand.words import number_text

__all__ = ["ends_text", "mean_text", "reckoned_text", "spots_text", "stop_text", "ways_text"]

Ends = Mapping[str, float]
"""Mean, low and high."""


def spots_text(
    field: FieldEstimate, values: Iterable[tuple[str, float | None, float | None]], unit: str
) -> str:
    """How many spots, and what each of ``field.used`` had: name, plants, shoots."""
    by_hand = sum(set(spot.ways.values()) == {"hand"} for spot in field.used)
    mixed = sum(_differ(spot.ways) for spot in field.used)
    each = "; ".join(
        f"{spot} "
        + " and ".join(
            f"{number_text(value)} {what}" + (f" by {ways[what]}" if _differ(ways) else "")
            for what, value in (("plants", plants), ("shoots", shoots))
            if value is not None
        )
        for (spot, plants, shoots), ways in zip(
            values, (one.ways for one in field.used), strict=True
        )
    )
    numbers = {
        "by hand": by_hand, "by photo": field.spots - by_hand - mixed, "partly by each": mixed,
    }  # fmt: skip
    parts = ", ".join(f"{n} {way}" for way, n in numbers.items() if n)
    return f"{field.spots}: {parts}; {unit}: {each}"


def _differ(ways: Mapping[str, str]) -> bool:
    return len(set(ways.values())) > 1


def mean_text(ends: Ends, estimate: DensityEstimate, borders: Sequence[float]) -> str:
    """A mean with its interval, as fine as the rule's ``borders`` ask for."""
    cv = "" if estimate.cv is None else f", spot-to-spot CV {estimate.cv:.0%}"
    return f"{number_text(ends['mean'], borders)} ({_interval(ends)} at {estimate.level:.0%}){cv}"


def ways_text(ways: Mapping[str, Ends]) -> str:
    """Hand alone, photo alone, both together; each where it is known."""
    names = {"hand": "by hand alone", "photo": "by photo alone", "combined": "together"}
    return "; ".join(
        f"{name} {number_text(ways[way]['mean'])} ({_interval(ways[way])})"
        for way, name in names.items()
        if way in ways
    )


def stop_text(may_stop: bool, low: float | None, high: float | None) -> str:
    """Whether counting may stop; ``low`` and ``high`` only where the stop rule has them."""
    lies = "" if low is None or high is None else f" ({low:.1f}-{high:.1f})"
    return f"{'may stop' if may_stop else 'not yet'} if looked at after every spot{lies}"


def reckoned_text(
    start: Sequence[float],
    rows: Iterable[tuple[Sequence[float], Sequence[float], str]],
    most: float | None = None,
) -> str:
    """From ``start`` by each source's factor to its ends: (factor, ends, source); ``most`` is the
    number of heads that cut them short."""
    cut = [] if most is None else [f"at most {most:.0f}: {HEADS_MOST_BY}"]
    by = [f"{_times(start, one)} = {ends_text(*ends)} by {source}" for one, ends, source in rows]
    return "; ".join((*by, *cut))


def ends_text(low: float, high: float) -> str:
    """A range in whole numbers; one of them where both ends are the same."""
    a, b = f"{low:.0f}", f"{high:.0f}"
    return a if a == b else f"{a}-{b}"


def _interval(ends: Ends) -> str:
    return f"{number_text(ends['low'])}-{number_text(ends['high'])}"


def _times(start: Sequence[float], factor: Sequence[float]) -> str:
    low, high = (f"{a:.0f} x {b:.3g}" for a, b in zip(start, factor, strict=True))
    return low if low == high else f"{low} to {high}"
