"""What was marked on the ground, and how large it is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import ClassVar

from tillercount.errors import InputError
from tillercount.units import M2_PER_FT2, area_m2, length_mm

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


def _g(value: float) -> str:
    """Shortest text that reads back as the same length to a billionth."""
    return f"{value:.12g}"


def _above_zero(**lengths: float) -> None:
    for name, value in lengths.items():
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{name.replace('_', ' ')} {value!r} must be a number above zero")


class _Marked:
    """What the marked areas of known size have in common."""

    kind: ClassVar[str]

    @property
    def area_m2(self) -> float:
        """Area on the ground, m²."""
        raise NotImplementedError

    @property
    def area_ft2(self) -> float:
        """Area on the ground, square feet."""
        return self.area_m2 / M2_PER_FT2


@dataclass(frozen=True)
class SquareArea(_Marked):
    """A square frame, by the length of its inside edge."""

    side_mm: float
    kind: ClassVar[str] = "square"

    def __post_init__(self) -> None:
        _above_zero(side_mm=self.side_mm)

    @property
    def area_m2(self) -> float:
        return self.side_mm**2 / 1e6

    @property
    def text(self) -> str:
        """Canonical text, which `parse_area` reads back."""
        return f"square:{_g(self.side_mm)}mm"


@dataclass(frozen=True)
class RectArea(_Marked):
    """A rectangular frame, by its inside edges."""

    width_mm: float
    length_mm: float
    kind: ClassVar[str] = "rect"

    def __post_init__(self) -> None:
        _above_zero(width_mm=self.width_mm, length_mm=self.length_mm)

    @property
    def area_m2(self) -> float:
        return self.width_mm * self.length_mm / 1e6

    @property
    def text(self) -> str:
        """Canonical text, which `parse_area` reads back."""
        return f"rect:{_g(self.width_mm)}mmx{_g(self.length_mm)}mm"


@dataclass(frozen=True)
class HoopArea(_Marked):
    """A round hoop, by its inside diameter."""

    diameter_mm: float
    kind: ClassVar[str] = "hoop"

    def __post_init__(self) -> None:
        _above_zero(diameter_mm=self.diameter_mm)

    @property
    def area_m2(self) -> float:
        return math.pi * (self.diameter_mm / 2) ** 2 / 1e6

    @property
    def text(self) -> str:
        """Canonical text, which `parse_area` reads back."""
        return f"hoop:{_g(self.diameter_mm)}mm"


@dataclass(frozen=True)
class RowArea(_Marked):
    """A length of row: a stick laid along the row; area = length × row spacing."""

    length_mm: float
    spacing_mm: float
    kind: ClassVar[str] = "row"

    def __post_init__(self) -> None:
        _above_zero(length_mm=self.length_mm, spacing_mm=self.spacing_mm)

    @property
    def area_m2(self) -> float:
        return self.length_mm * self.spacing_mm / 1e6

    @property
    def text(self) -> str:
        """Canonical text, which `parse_area` reads back."""
        return f"row:{_g(self.length_mm)}mm/{_g(self.spacing_mm)}mm"


@dataclass(frozen=True)
class WholePhoto:
    """The photo is already a top view; one pixel is this wide on the ground."""

    mm_per_px: float
    kind: ClassVar[str] = "whole"

    def __post_init__(self) -> None:
        _above_zero(mm_per_px=self.mm_per_px)

    def area_m2_of(self, height_px: int, width_px: int) -> float:
        """Area that a photo of this size shows, m²."""
        return height_px * width_px * self.mm_per_px**2 / 1e6

    @property
    def text(self) -> str:
        """Canonical text, which `parse_area` reads back."""
        return f"whole:{_g(self.mm_per_px)}mm"


@dataclass(frozen=True)
class StatedArea(_Marked):
    """An area given by its size alone, for counts made by hand; no frame to find."""

    size_m2: float
    kind: ClassVar[str] = "stated"

    def __post_init__(self) -> None:
        _above_zero(size_m2=self.size_m2)

    @property
    def area_m2(self) -> float:
        return self.size_m2

    @property
    def text(self) -> str:
        """Text that `parse_counted_area` reads back."""
        return f"{_g(self.size_m2)} m2"


Area = SquareArea | RectArea | HoopArea | RowArea | WholePhoto

_HELP = "write it like square:12in, rect:10inx20in, hoop:13.54in, row:19.2in/7.5in or whole:0.64mm"


def parse_area(text: str) -> Area:
    """Read the text of a marked area, such as ``square:12in``.

    Parameters
    ----------
    text : str
        ``square:SIDE``, ``rect:WIDTHxLENGTH``, ``hoop:INSIDE_DIAMETER``,
        ``row:LENGTH/ROW_SPACING`` or ``whole:WIDTH_OF_ONE_PIXEL``; every length with its unit.

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
        return SquareArea(_size(text, rest, "side"))
    if kind == "hoop":
        return HoopArea(_size(text, rest, "inside diameter"))
    if kind == "rect":
        width, length = _two(text, rest, r"\s*[x×]\s*", "rect:10inx20in")
        return RectArea(_size(text, width, "width"), _size(text, length, "length"))
    if kind == "row":
        length, spacing = _two(text, rest, r"\s*/\s*", "row:19.2in/7.5in")
        return RowArea(_size(text, length, "length"), _size(text, spacing, "row spacing"))
    if kind == "whole":
        scale = length_mm(rest, what=f"area {text!r}: width of one pixel")
        if not 0.02 <= scale <= 5.0:
            raise InputError(
                f"area {text!r}: one pixel {scale:g} mm wide is outside 0.02 to 5 mm; "
                "give the width on the ground of one pixel, as in whole:0.64mm"
            )
        return WholePhoto(scale)
    raise InputError(f"area {text!r}: unknown kind {kind!r}; {_HELP}")


def parse_counted_area(text: str) -> Area | StatedArea:
    """Read the area of a hand count: as `parse_area`, or a plain size such as ``1 ft2``.

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
    size = area_m2(text)
    if not SMALLEST_MM**2 / 1e6 <= size <= LARGEST_MM**2 / 1e6:
        raise InputError(
            f"area {text!r} is {size:g} m2, outside 0.0025 to 25 m2; check the number and its unit"
        )
    return StatedArea(size)


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
            f"area {text!r}: {what} {value:g} mm is outside {SMALLEST_MM:g} to {LARGEST_MM:g} mm; "
            "check the number and its unit"
        )
    return value
