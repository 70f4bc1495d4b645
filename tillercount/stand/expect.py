"""Heads and yield that the stand may still bring: ranges by source, never one number.

Figures in print are taken at the mean of the shoots, so that the range is what publishers and
seasons differ by. How far the mean may be off stands apart (``Expectation.sampling``): the
outermost survival times the outermost factor times the outermost end of an interval is a yield that
no field made, and nobody could say how probable it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tillercount.field.estimate import DensityEstimate
from tillercount.stand.country import YIELDS_FROM, yields_from_elsewhere
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.settle import FIRST_ROUND
from tillercount.units import per_ft2

__all__ = ["BySource", "Expectation", "cant_tell", "expected_heads", "expected_yield"]


@dataclass(frozen=True)
class BySource:
    """A range under one source's figures."""

    low: float
    high: float
    factor: tuple[float, float]
    source: str


@dataclass(frozen=True)
class Expectation:
    """A range over all sources at the mean of the shoots, with each of them.

    ``unit`` is "heads/ft2" or "bu/ac". ``sampling`` are the ends of the shoots' interval over their
    mean: times these the range would be at either end. ``abroad``: where the rules are for,
    if these figures come from elsewhere (`tillercount.stand.country`); they then speak against no
    goal.
    """

    low: float
    high: float
    unit: str
    by_source: tuple[BySource, ...]
    sampling: tuple[float, float] = (1.0, 1.0)
    abroad: str = ""

    @property
    def whose(self) -> str:
        """Where these figures are from, where that isn't where the rules are for; else empty."""
        if not self.abroad:
            return ""
        return f"figures from {YIELDS_FROM}, not from the region of these rules ({self.abroad})"

    @property
    def unit_text(self) -> str:
        """The unit for people."""
        return self.unit.replace("ft2", "ft²")


TOO_WIDE = 3.0
"""Where the ends of the shoots' interval lie further apart, no yield is told: a convention of our
own."""

HEADS_MOST = per_ft2(870.0)
HEADS_MOST_BY = (
    "870 heads per m² in the top fifth of growers, Great Lakes 2023, RealAgriculture 2024"
)
"""The most heads in print; print has no survival of shoots for more (the figure was read)."""

# Share of shoots in early spring that carry a head at harvest.
SURVIVAL: tuple[tuple[float, float, str], ...] = (
    (0.60, 0.75, "Georgia 2011: 80-100 tillers make 50-70 heads"),
    (0.72, 0.78, "farm-centre agronomy note: about 90 tillers make 65-70 heads"),
    (0.45, 0.45, "UK planning chain: 45 % of tillers survive"),
)

# Bushels per acre for each head per square foot, by other publishers than the rule set's own.
BU_PER_HEAD: tuple[tuple[float, float, str], ...] = (
    (1.0, 1.0, "press 2011, attributed to Kansas State: about 1 bu per head"),
    (0.65, 0.99, "Kansas State, Rawlins County: 0.65 in poor, 0.99 in good years"),
)


def cant_tell(shoots: DensityEstimate) -> str:
    """Why no heads and no yield are told for these shoots; empty where they can be."""
    spots = f"{shoots.n} spot{'s' if shoots.n > 1 else ''}"
    then = f"after {FIRST_ROUND} spots" if shoots.n < FIRST_ROUND else "with more spots"
    if shoots.mean <= 0:
        return f"no yield can be told where {spots} had no shoots"
    if shoots.n == 1:
        return f"yield can't be told from {spots}; {then} it can be narrowed"
    if shoots.high > TOO_WIDE * shoots.low:
        ends = f"{per_ft2(shoots.low):.0f} to {per_ft2(shoots.high):.0f}"
        return (
            f"yield can't be told from these {spots}, which leave {ends} shoots per square foot "
            f"open; {then} it can be narrowed"
        )
    if min(low for low, _, _ in SURVIVAL) * per_ft2(shoots.mean) > HEADS_MOST:
        return (
            "as much yield as the season allows: with any survival in print so many shoots make "
            f"more heads than the most in print ({HEADS_MOST_BY})"
        )
    return ""


def expected_heads(shoots: DensityEstimate) -> Expectation:
    """Heads per ft² at harvest from the shoots now, as a range by source.

    Each source's range runs from its lowest to its highest survival of the mean, and no further
    than the most heads in print: thick stands lose more tillers than thin ones. See `cant_tell`
    first.
    """
    mean = per_ft2(shoots.mean)
    rows = tuple(
        BySource(min(mean * a, HEADS_MOST), min(mean * b, HEADS_MOST), (a, b), text)
        for a, b, text in SURVIVAL
    )
    return _spanning(rows, "heads/ft2", (shoots.low / shoots.mean, shoots.high / shoots.mean))


def expected_yield(heads: Expectation, rules: RuleSet, trade: RuleSet) -> Expectation:
    """Bushels per acre from the heads expected, by rules of thumb, as a range by source.

    What a command shows is `tillercount.stand.potential.yield_potential`, which adds components.

    The rule set's own bushels per head come first, else those of common practice, with other
    publishers' lower ones beside.
    """
    own = rules if rules.yield_per_head else trade
    figures: list[tuple[float, float, str]] = []
    if own.yield_per_head:
        low, high = own.yield_per_head.bu_per_head
        figures.append((low, high, own.yield_per_head.source or own.by))
    figures.extend(BU_PER_HEAD)
    rows = tuple(BySource(heads.low * a, heads.high * b, (a, b), text) for a, b, text in figures)
    found = _spanning(rows, "bu/ac", heads.sampling)
    return replace(found, abroad=yields_from_elsewhere(rules))


def _spanning(rows: tuple[BySource, ...], unit: str, sampling: tuple[float, float]) -> Expectation:
    low, high = min(r.low for r in rows), max(r.high for r in rows)
    return Expectation(low, high, unit, rows, sampling)
