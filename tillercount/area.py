"""What was marked on the ground, as people write it.

The kinds of it (`tillercount.markedarea`) can be had from here too.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TypeVar

from tillercount.errors import InputError
from tillercount.markedarea import (
    Area,
    HoopArea,
    RectArea,
    RowArea,
    SquareArea,
    StatedArea,
    WholePhoto,
)
from tillercount.typed import decimal_points
from tillercount.units import MM_PER_FT, MM_PER_IN, area_m2, length_mm

__all__ = [
    "Area",
    "HoopArea",
    "RectArea",
    "RowArea",
    "SquareArea",
    "StatedArea",
    "WholePhoto",
    "parse_area",
    "parse_counted_area",
]

SMALLEST_MM = 50.0
LARGEST_MM = 5_000.0

_HELP = "write it like square:12in, rect:10inx20in, hoop:13.54in, row:19.2in/7.5in or whole:0.4mm"


_Any = TypeVar("_Any", SquareArea, RectArea, HoopArea, RowArea, WholePhoto, StatedArea)


def _as_typed(area: _Any, text: str) -> _Any:
    return replace(area, typed=" ".join(text.split()))


def parse_area(text: str) -> Area:
    """Read the text of a marked area, such as ``square:12in``.

    The area remembers the text as its `typed`, which takes no part in comparing areas.

    Parameters
    ----------
    text : str
        ``square:SIDE``, ``rect:WIDTHxLENGTH``, ``hoop:INSIDE_DIAMETER``,
        ``row:LENGTH/ROW_SPACING`` or ``whole:WIDTH_OF_ONE_PIXEL``; every length with its unit.
        A comma may stand for the point where it can't be a mark of thousands: ``square:30,5cm``.

    Raises
    ------
    InputError
        The text isn't one of these, a length can't be read, or a size makes no sense.
    """
    kind, colon, rest = text.strip().partition(":")
    kind, rest = kind.strip().lower(), rest.strip()
    if not colon or not rest:
        raise InputError(f"area {text!r} can't be read: {_HELP}")
    if kind == "square":
        if re.search(r"\d[^\d]*[x×]\s*\d", rest):
            raise InputError(
                f"area {text!r}: a square has one side, as in square:12in; write a rectangle as in "
                "rect:10inx20in"
            )
        return _as_typed(SquareArea(_size(text, rest, "side")), text)
    if kind == "hoop":
        return _as_typed(HoopArea(_size(text, rest, "inside diameter")), text)
    if kind == "rect":
        width, length = _two(text, rest, r"\s*[x×]\s*", "rect:10inx20in")
        rectangle = RectArea(_size(text, width, "width"), _size(text, length, "length"))
        return _as_typed(rectangle, text)
    if kind == "row":
        length, spacing = _two(text, rest, r"\s*/\s*", "row:19.2in/7.5in")
        row = RowArea(_size(text, length, "length"), _size(text, spacing, "row spacing"))
        return _as_typed(row, text)
    if kind == "whole":
        scale = length_mm(rest, what=f"area {text!r}: width of one pixel")
        if not 0.02 <= scale <= 5.0:
            raise InputError(
                f"area {text!r}: one pixel {rest} wide is outside 0.02 to 5 mm; "
                "give the width on the ground of one pixel, as in whole:0.4mm"
            )
        return _as_typed(WholePhoto(scale), text)
    raise InputError(f"area {text!r}: unknown kind {kind!r}; {_HELP}")


def parse_counted_area(text: str) -> Area | StatedArea:
    """Read the area of a hand count: as `parse_area`, a plain size such as ``1 ft2``, or two sides
    such as ``12 in x 12 in``.

    Raises
    ------
    InputError
        Can't be read, no unit, a size outside 0.0025 to 25 m², or a whole photo (nobody counts
        by hand in one).
    """
    if ":" in text:
        area = parse_area(text)
        if isinstance(area, WholePhoto):
            raise InputError(
                f"area {text!r} is a photo's scale, not an area counted by hand; "
                "write it like square:12in, row:19.2in/7.5in or 1 ft2"
            )
        return area
    plain = decimal_points(text)
    _refuse_length(plain)
    sides = _sides(plain)
    if sides is not None:
        rectangle = RectArea(_size(text, sides[0], "side"), _size(text, sides[1], "side"))
        return _as_typed(rectangle, text)
    try:
        size = area_m2(plain)
    except InputError as error:
        if not re.search(r"square|hoop|ring|circle|frame|row", text, re.IGNORECASE):
            raise
        shapes = "square:12in, hoop:13.54in (inside diameter) or row:19.2in/7.5in (along the row)"
        raise InputError(f"{error}; or, of a shape, its size: {shapes}") from error
    if not SMALLEST_MM**2 / 1e6 <= size <= LARGEST_MM**2 / 1e6:
        raise InputError(
            f"area {text!r} is outside 0.03 to 270 ft2 (0.0025 to 25 m2); check the number and its "
            "unit"
        )
    return _as_typed(StatedArea(size), text)


def _sides(text: str) -> tuple[str, str] | None:
    """Both lengths of ``12 in x 12 in`` or ``1 by 2 ft``, the first in the second's unit where it
    has none; None where a text isn't two lengths.

    Raises
    ------
    InputError
        Two sides, and no unit behind the second: ``12x12``.
    """
    parts = re.split(r"\s*[xX×*]\s*|\s+by\s+", text.strip())
    if len(parts) != 2:
        return None
    first, second = parts
    if re.match(r"[\d.]", first) and re.fullmatch(r"[\d.]+", second):
        raise InputError(
            f"area {text!r} needs its unit behind the second side, like 12 in x 12 in or 1 x 2 ft"
        )
    unit = re.search(r"[^\d\s./]+\s*$", second)
    if unit is not None and re.fullmatch(r"[\d.]+", first):
        first += unit[0]
    try:
        length_mm(first)
        length_mm(second)
    except InputError:
        return None
    return first, second


def _refuse_length(text: str) -> None:
    """A length alone says how long something is, but not what lay there."""
    try:
        length_mm(text)
    except InputError:
        return
    short = "".join(text.split())
    raise InputError(
        f"area {text!r} is a length, not an area; say what it measures: square:{short} (inside "
        f"edge), hoop:{short} (inside diameter), or row:{short}/7.5in (along rows 7.5 in apart)"
    )


def _two(text: str, rest: str, separator: str, example: str) -> tuple[str, str]:
    # A slash may also be a fraction (7 1/2in), so one after a unit parts the lengths first.
    for pattern in (rf"(?<=[A-Za-z\"'″′.]){separator}", separator):
        parts = re.split(pattern, rest)
        if len(parts) == 2 and all(part.strip() for part in parts):
            return parts[0], parts[1]
    raise InputError(f"area {text!r} needs two lengths, as in {example}")


def _size(text: str, length: str, what: str) -> float:
    value = length_mm(length, what=f"area {text!r}: {what}")
    if not SMALLEST_MM <= value <= LARGEST_MM:
        raise InputError(
            f"area {text!r}: {what} {length} is outside {_limits(length)}; "
            "check the number and its unit"
        )
    return value


def _limits(length: str) -> str:
    """Smallest and largest side, in the kind of unit that a length was typed in."""
    if re.search(r"mm|cm|\d\s*m", length, re.IGNORECASE):
        return f"{SMALLEST_MM:g} mm to {LARGEST_MM / 1000:g} m"
    return f"{SMALLEST_MM / MM_PER_IN:.0f} in to {LARGEST_MM / MM_PER_FT:.0f} ft"
