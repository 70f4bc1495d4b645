"""Shoots that a plant can have by its leaves, and leaves by thermal time: a check on a count.

Two figures in print say when the first tiller shows: at 2.5 leaves of the main stem (CIMMYT), and
with the fourth leaf (North Carolina State); each next one follows one leaf later (North Carolina
State). Taking each tiller to branch as the main stem does, they give a range of shoots for each
leaf stage: 2 to 5 by the earlier figure at 3 to 5 leaves, fewer by the later one.
"""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.errors import InputError

__all__ = [
    "EMERGENCE_F",
    "ShootsExpected",
    "count_hint",
    "leaves_from_degree_days",
    "shoots_for_leaves",
    "shoots_from_degree_days",
]

EMERGENCE_F = 270.0
"""°F-days from sowing to emergence (Kansas State handbook)."""

PHYLLOCHRON_C = (80.0, 120.0)
"""°C-days for each leaf of the main stem, by sowing date: from memory. With emergence as above it
gives 4.6 to 6.9 leaves at 700 °C-days, where 11 varieties had 5.3 to 6.4 (Krenzer & Nipp 1991).
"""

SOURCE = (
    "first tiller at 2.5 leaves (CIMMYT) or with the 4th (NC State), each next one a "
    "leaf later (NC State), tillers branching as the main stem does"
)
GDD_SOURCE = (
    "emergence 270 °F-days after sowing (Kansas State handbook), then 80 to 120 °C-days a "
    "leaf (from memory)"
)

_FIRST_TILLER = (2.5, 4.0)
_MOST_LEAVES = 9.0
"""Few new tillers after GS30 (CIMMYT), at which stems have no more leaves than this."""


@dataclass(frozen=True)
class ShootsExpected:
    """Shoots for each plant, main stem included, as a range."""

    leaves: tuple[float, float]
    shoots: tuple[float, float]
    source: str

    @property
    def words(self) -> str:
        """Leaves and shoots in words."""
        leaves = _span(*self.leaves)
        return f"{_span(*self.shoots)} shoots for each plant at {leaves} leaves of the main stem"


def _span(low: float, high: float) -> str:
    a, b = f"{low:.2g}", f"{high:.2g}"
    return a if a == b else f"{a} to {b}"


def _most(leaves: float, first: float) -> int:
    """Shoots of a plant whose main stem has so many leaves, by age of each tiller in leaves."""
    total = 1
    birth = first
    while birth <= leaves + 1e-9:
        total += _most(leaves - birth, first)
        birth += 1.0
    return total


def shoots_for_leaves(leaves: float | tuple[float, float]) -> ShootsExpected:
    """Shoots for each plant at a leaf stage of the main stem (a number, or a range of it).

    Raises
    ------
    InputError
        Fewer than none, or more than a plant has while it tillers.
    """
    low, high = leaves if isinstance(leaves, tuple) else (leaves, leaves)
    if not 0 <= low <= high:
        raise InputError(f"{low:g} to {high:g} leaves can't be; give leaves of the main stem")
    if low > _MOST_LEAVES:
        raise InputError(
            f"{low:g} leaves on the main stem: tillering is over by then; count heads' worth of "
            "shoots at Feekes 5 instead"
        )
    high = min(high, _MOST_LEAVES)
    early, late = _FIRST_TILLER
    return ShootsExpected((low, high), (_most(low, late), _most(high, early)), SOURCE)


def leaves_from_degree_days(since_sowing_f: float) -> tuple[float, float]:
    """Leaves of the main stem, lowest and highest, from °F-days since sowing."""
    grown_c = max(0.0, (since_sowing_f - EMERGENCE_F) / 1.8)
    fast, slow = PHYLLOCHRON_C
    return grown_c / slow, grown_c / fast


def shoots_from_degree_days(since_sowing_f: float) -> ShootsExpected:
    """Shoots for each plant from °F-days since sowing; the source names both steps."""
    expected = shoots_for_leaves(leaves_from_degree_days(since_sowing_f))
    return ShootsExpected(expected.leaves, expected.shoots, f"{GDD_SOURCE}; {SOURCE}")


def count_hint(shoots_per_plant: float, expected: ShootsExpected) -> str:
    """What it may mean that a count is outside the range; empty where it is inside."""
    low, high = expected.shoots
    if shoots_per_plant > high:
        return (
            f"{shoots_per_plant:.1f} shoots for each plant are more than a plant can have by then: "
            "plants counted together, weeds or volunteers among the shoots, or a wrong sowing "
            "date; count some by hand"
        )
    if shoots_per_plant < low:
        return (
            f"{shoots_per_plant:.1f} shoots for each plant are fewer than expected by then: small "
            "tillers overlooked, or a stand short of nitrogen, water or warmth, sown deep, or "
            "hurt; look closer"
        )
    return ""
