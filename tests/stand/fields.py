"""Fields with known densities."""

from __future__ import annotations

from tillercount.area import SquareArea
from tillercount.definition import Definition
from tillercount.field import SpotDensity
from tillercount.hand import HandCount
from tillercount.units import per_m2

FOOT = SquareArea(304.8)


def field(plants: list[float], each: float | None = 3.0) -> list[SpotDensity]:
    """Spots with these plants per ft² and so many shoots to a plant."""
    return [
        SpotDensity(
            spot=str(i),
            source="hand",
            plants_per_m2=per_m2(p),
            shoots_per_m2=None if each is None else per_m2(p * each),
        )
        for i, p in enumerate(plants)
    ]


def shoots_only(shoots: list[float], definition: Definition = Definition.STEMS) -> list[HandCount]:
    """Spots with these shoots per ft², plants not counted."""
    return [HandCount(str(i), "a", None, s, FOOT, definition) for i, s in enumerate(shoots)]
