"""A density in both of the units that a page may be set in."""

from __future__ import annotations

from typing import Any

from tillercount.units import per_ft2

__all__ = ["ends_in_both", "in_both"]


def in_both(per_m2: float) -> dict[str, float]:
    """One density, given per m²."""
    return {"per_ft2": per_ft2(per_m2), "per_m2": per_m2}


def ends_in_both(found: Any) -> dict[str, dict[str, float]]:
    """Mean, low and high of something that has them per m²."""
    ends = {end: getattr(found, end) for end in ("mean", "low", "high")}
    return {"per_ft2": {end: per_ft2(value) for end, value in ends.items()}, "per_m2": ends}
