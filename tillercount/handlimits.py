"""Whether a hand count and the size that was typed beside it can be true of a young stand.

The same limits as for photos (`tillercount.plausible`): a size in a wrong unit leaves the count as
it is and multiplies the density, 6.5 times for 12 cm in place of 12 in. More than anybody has
printed is refused with its row; an odd density in an area of an odd size is only flagged, since a
stand may truly be all but gone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from tillercount.area import Area, RowArea, StatedArea, WholePhoto, parse_counted_area
from tillercount.drillrows import ROW_WORDS, drill_doubt
from tillercount.errors import InputError
from tillercount.plausible import (
    MANY_PLANTS_PER_M2,
    MANY_SHOOTS_PER_M2,
    MOST_PLANTS_PER_M2,
    MOST_SHOOTS_PER_M2,
)
from tillercount.rounding import figure
from tillercount.units import M2_PER_FT2, MM_PER_IN, per_ft2

if TYPE_CHECKING:
    from tillercount.hand import HandCount

__all__ = ["SIZE_WORDS", "USUAL_M2", "doubts_size", "hand_flags", "meant", "refuse_too_dense"]

USUAL_M2 = (math.pi * (3 * MM_PER_IN / 1000) ** 2, 1.0)
"""Areas that people count by hand in: from a 6-in hoop to a square metre (common practice)."""
FEW_PLANTS_PER_M2, FEW_SHOOTS_PER_M2 = 2 / M2_PER_FT2, 4 / M2_PER_FT2
"""Fewer are odd: the lowest limit per ft² at which a publisher in ``stand/rules`` gives a stand up
is 5. The project's own judgement."""
SIZE_WORDS = "are odd together"
"""In every flag that doubts the size of an area."""
_LENGTH_UNIT = re.compile(
    r"(?<=\d)(\s*)(?:inches|inch|in|\"|cm|mm|m|feet|foot|ft)(?=$|[\s/x×])", re.IGNORECASE
)
_UNITS = ("in", "cm", "ft", "mm", "m")
_LIMITS = (
    ("plants", FEW_PLANTS_PER_M2, MANY_PLANTS_PER_M2, MOST_PLANTS_PER_M2),
    ("shoots", FEW_SHOOTS_PER_M2, MANY_SHOOTS_PER_M2, MOST_SHOOTS_PER_M2),
)


def refuse_too_dense(
    area: Area | StatedArea, plants: float | None, shoots: float | None
) -> None:
    """Nothing, where the densities can be.

    Raises
    ------
    InputError
        More plants or shoots than a young stand can have, with the unit that was likely meant.
    """
    counted = {"plants": plants, "shoots": shoots}
    for what, _few, _many, most in _LIMITS:
        number = counted[what]
        if number is not None and number > most * _size(area):
            each = figure(per_ft2(number / _size(area)), what)
            other = meant(area, plants, shoots)
            raise InputError(
                f"area {area.label!r}: {each} {what} per ft² can't be young wheat or another "
                f"small grain (limit {per_ft2(most):.0f}){_ask(other)}; check the number of "
                f"{what} and the area with its unit"
            )


def hand_flags(count: HandCount) -> tuple[str, ...]:
    """What is odd about a hand count: its density, in an area of a size that nobody marks."""
    low, high = USUAL_M2
    usual = low * 0.999 <= count.area_m2 <= high * 1.001
    odd = []
    for what, few, many, most in _LIMITS:
        density = getattr(count, f"{what}_per_m2")
        if density is not None and (density > most or not (usual or few <= density <= many)):
            odd.append(_said(count, what))
    said = []
    if odd:
        other = meant(_area(count), count.plants, count.shoots)
        said.append(
            f"{' and '.join(odd)} in an area of {count.area_m2 / M2_PER_FT2:.3g} ft² {SIZE_WORDS}: "
            f"check the count, the area {count.area.label!r} and its unit{_ask(other)}"
        )
    if isinstance(count.area, RowArea):
        said.extend(filter(None, [drill_doubt(count.area)]))
    return tuple(said)


def doubts_size(flags: Iterable[str]) -> bool:
    """Whether one of a hand count's flags doubts the size of its area."""
    return any(SIZE_WORDS in flag or ROW_WORDS in flag for flag in flags)


def meant(
    area: Area | StatedArea, plants: float | None, shoots: float | None
) -> str | None:
    """The area as typed but in another unit, where that gives a usual size and density."""
    typed = area.label
    for unit in _UNITS:
        text = _LENGTH_UNIT.sub(rf"\g<1>{unit}", typed)
        if text == typed:
            continue
        try:
            other = parse_counted_area(text)
        except InputError:
            continue
        if _fits({"plants": plants, "shoots": shoots}, other):
            return text
    return None


def _fits(counted: Mapping[str, float | None], area: Area | StatedArea) -> bool:
    size = _size(area)
    if not USUAL_M2[0] * 0.999 <= size <= USUAL_M2[1] * 1.001:
        return False
    return all(
        few <= number / size <= many
        for what, few, many, _most in _LIMITS
        if (number := counted[what]) is not None
    )


def _area(count: HandCount) -> Area | StatedArea:
    assert not isinstance(count.area, WholePhoto)  # HandCount refuses it
    return count.area


def _size(area: Area | StatedArea) -> float:
    assert not isinstance(area, WholePhoto)  # parse_counted_area refuses it
    return area.area_m2


def _said(count: HandCount, what: str) -> str:
    return f"{figure(per_ft2(getattr(count, f'{what}_per_m2')), what)} {what} per ft²"


def _ask(other: str | None) -> str:
    return f"; was {other} meant?" if other else ""
