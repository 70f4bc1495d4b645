"""Heads and yield that the stand may still bring: ranges by source, never one number."""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.field.estimate import DensityEstimate
from tillercount.stand.ruleset import RuleSet
from tillercount.units import per_ft2

__all__ = ["BySource", "Expectation", "expected_heads", "expected_yield"]


@dataclass(frozen=True)
class BySource:
    """A range under one source's figures."""

    low: float
    high: float
    factor: tuple[float, float]
    source: str


@dataclass(frozen=True)
class Expectation:
    """A range over all sources, with each of them.

    ``unit`` is "heads/ft2" or "bu/ac".
    """

    low: float
    high: float
    unit: str
    by_source: tuple[BySource, ...]


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


def expected_heads(shoots: DensityEstimate) -> Expectation:
    """Heads per ft² at harvest from the shoots now, as a range by source.

    Each source's range runs from the interval's low end at its lowest survival to the high end at
    its highest. The whole range spans all of them; thick stands lose more tillers than thin ones.
    """
    low, high = per_ft2(shoots.low), per_ft2(shoots.high)
    rows = tuple(BySource(low * a, high * b, (a, b), text) for a, b, text in SURVIVAL)
    return _spanning(rows, "heads/ft2")


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
    return _spanning(rows, "bu/ac")


def _spanning(rows: tuple[BySource, ...], unit: str) -> Expectation:
    return Expectation(min(r.low for r in rows), max(r.high for r in rows), unit, rows)
