"""Hand counts of which one doesn't go with the others: a slip of the pen or of the keyboard.

Three things are held against the other records of the field, which have to be alike among
themselves: how many shoots come to a plant, how far apart the drill's rows are (one drill sowed
the field), and the area that was marked. A thin or thick spot by itself is none of them: a stand
may truly be so (`tillercount.field.dispersion` says where one doesn't fit). How far off is odd is a
convention of our own.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.area import RowArea, parse_counted_area
from tillercount.drillrows import drill_doubt, row_meant
from tillercount.errors import InputError
from tillercount.field.spots import SpotDensity
from tillercount.handlimits import doubts_size
from tillercount.names import first_few, spot_text
from tillercount.rounding import figure
from tillercount.units import M2_PER_FT2, MM_PER_IN, per_ft2

__all__ = ["OddRecord", "areas_line", "odd_records", "record_text"]

FEWEST_OTHERS = 3
"""Records beside the odd one, below which nobody knows which of them is odd."""
ALIKE = 1.6
"""The others' largest is at most so many times their smallest, or they say nothing."""
OFF = 2.0
"""So many times the others' median, or that part of it, is odd."""
SAME_ROWS = 0.1
"""Row spacings that differ by less may be one drill's, measured twice."""


@dataclass(frozen=True)
class OddRecord:
    """One record, what is odd about it, and what to look at, as half sentences each."""

    spot: str
    row: int
    why: str
    check: str

    @property
    def name(self) -> str:
        """``spot 2 (row 3)``."""
        return spot_text(self.spot) + (f" (row {self.row})" if self.row else "")

    @property
    def line(self) -> str:
        """Which record, its figures, what is odd, and what to look at."""
        return f"{self.name}: {self.why}; {self.check}"


def record_text(spot: SpotDensity) -> str:
    """A record in a sentence: ``spot 2 (row 3)``, by the row that a spreadsheet shows."""
    return spot_text(spot.spot) + (f" (row {spot.row})" if spot.row else "")


def odd_records(spots: Sequence[SpotDensity]) -> list[OddRecord]:
    """Records that don't go with the others, each once, in the order of the file.

    Those whose size is doubted anyway (`tillercount.handlimits.hand_flags`) are left out.
    """
    hands = [
        spot
        for spot in spots
        if spot.source == "hand" and not spot.photo and not doubts_size(spot.flags)
    ]
    found = {id(one): _rows(one, hands) or _pair(one, hands) or _area(one, hands) for one in hands}
    return [odd for one in hands if (odd := found[id(one)]) is not None]


def areas_line(spots: Sequence[SpotDensity]) -> str:
    """That hand counts of a field were made in areas of different size; empty where in one."""
    sizes: dict[str, list[SpotDensity]] = {}
    for spot in spots:
        if spot.source == "hand" and not spot.photo and spot.area_said:
            sizes.setdefault(spot.area_said, []).append(spot)
    alike = [one[0].area_m2 for one in sizes.values()]
    if not alike or max(alike) <= 1.01 * min(alike):
        return ""
    groups = [
        f"{said} at {spot_text(first_few(one.spot for one in some))}"
        for said, some in sorted(sizes.items(), key=lambda item: -len(item[1]))
    ]
    return (
        f"hand counts were made in areas of different size ({first_few(groups, 4, between='; ')}): "
        "right if that is what was laid down there"
    )


def _rows(one: SpotDensity, hands: Sequence[SpotDensity]) -> OddRecord | None:
    """A row spacing unlike the others', where it is not said anyway that no drill has it."""
    area = _row_area(one)
    if area is None or drill_doubt(area):
        return None
    others = [o.spacing_mm for s in hands if s is not one and (o := _row_area(s)) is not None]
    middle = _middle(others, 1 + SAME_ROWS)
    if middle is None or abs(area.spacing_mm / middle - 1) <= SAME_ROWS:
        return None
    hint = row_meant(area)
    return OddRecord(
        one.spot,
        one.row,
        f"by {one.area_said} the rows are {area.spacing_mm / MM_PER_IN:.3g} in "
        f"apart, at the other spots {middle / MM_PER_IN:.3g} in",
        "one drill sows alike, so check the row spacing there"
        + (f"; was {hint} meant?" if hint else ""),
    )


def _pair(one: SpotDensity, hands: Sequence[SpotDensity]) -> OddRecord | None:
    """Shoots to a plant unlike the others': one of the two numbers is probably a slip."""
    if not (one.plants_per_m2 and one.shoots_per_m2):
        return None
    both = [s for s in hands if s is not one and s.plants_per_m2 and s.shoots_per_m2]
    each = [_each(s) for s in both]
    middle = _middle(each, ALIKE)
    if middle is None or 1 / OFF < _each(one) / middle < OFF:
        return None
    off = {
        what: abs(math.log(_value(one, what) / statistics.median(_value(s, what) for s in both)))
        for what in ("plants", "shoots")
    }
    what = max(off, key=lambda name: off[name])
    counted = [_value(s, what) * s.area_m2 for s in both]
    where = f" in {one.area_said}" if one.area_said else ""
    return OddRecord(
        one.spot,
        one.row,
        f"{_number(one, 'plants')} plants and {_number(one, 'shoots')} shoots"
        f"{where} are {_each(one):.1f} shoots to a plant, and the other spots have "
        f"{min(each):.1f} to {max(each):.1f}",
        f"check the number of {what} ({min(counted):.3g} to {max(counted):.3g} at the others), "
        "then the other number",
    )


def _area(one: SpotDensity, hands: Sequence[SpotDensity]) -> OddRecord | None:
    """A number like the others' in an area unlike theirs: the area is probably a slip."""
    others = [s for s in hands if s is not one]
    size = _middle([s.area_m2 for s in others], 1.01)
    if size is None or 1 / OFF < one.area_m2 / size < OFF:
        return None
    for what in ("plants", "shoots"):
        if getattr(one, f"{what}_per_m2") is None:
            continue
        have = [s for s in others if getattr(s, f"{what}_per_m2") is not None]
        middle = _middle([_value(s, what) for s in have], 2 * ALIKE)
        density = _value(one, what)
        if middle is None or 1 / OFF < density / middle < OFF:
            return None
        # the number by itself, in the others' area, would fit them
        if not 1 / OFF < density * one.area_m2 / size / middle < OFF:
            return None
        low, high = (end(_value(s, what) for s in have) for end in (min, max))
        return OddRecord(
            one.spot,
            one.row,
            f"{_number(one, what)} {what} in {one.area_said or 'its area'} "
            f"({one.area_m2 / M2_PER_FT2:.3g} ft²) are {figure(per_ft2(density), what)} per ft², "
            f"and the other spots, in {size / M2_PER_FT2:.3g} ft² each, have "
            f"{figure(per_ft2(low), what)} to {figure(per_ft2(high), what)}",
            "the number fits theirs and the area doesn't, so check the area there",
        )
    return None


def _row_area(spot: SpotDensity) -> RowArea | None:
    if not spot.area_said.lower().startswith("row"):
        return None
    try:
        area = parse_counted_area(spot.area_said)
    except InputError:  # typed elsewhere, in words of its own
        return None
    return area if isinstance(area, RowArea) else None


def _middle(values: Sequence[float], alike: float) -> float | None:
    """Median of the others; None where they are few, or not alike among themselves."""
    if len(values) < FEWEST_OTHERS or min(values) <= 0 or max(values) > alike * min(values):
        return None
    return statistics.median(values)


def _value(spot: SpotDensity, what: str) -> float:
    return float(getattr(spot, f"{what}_per_m2"))


def _each(spot: SpotDensity) -> float:
    return _value(spot, "shoots") / _value(spot, "plants")


def _number(spot: SpotDensity, what: str) -> str:
    return f"{_value(spot, what) * spot.area_m2:.4g}"
