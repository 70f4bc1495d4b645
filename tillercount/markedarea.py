"""What was marked on the ground: its kinds, each with its size and its text."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from tillercount.errors import InputError
from tillercount.units import M2_PER_FT2

__all__ = [
    "Area",
    "HoopArea",
    "RectArea",
    "RowArea",
    "SquareArea",
    "StatedArea",
    "WholePhoto",
]


def _g(value: float) -> str:
    """Shortest text that reads back as the same length to a billionth."""
    return f"{value:.12g}"


def _above_zero(**lengths: float) -> None:
    for name, value in lengths.items():
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{name.replace('_', ' ')} {value!r} must be a number above zero")


class _Typed:
    """An area that remembers the words in which it was given."""

    typed: str

    @property
    def text(self) -> str:
        """Canonical text, in mm."""
        raise NotImplementedError

    @property
    def label(self) -> str:
        """What to call it in messages: as typed, else the canonical text."""
        return self.typed or self.text


class _Marked(_Typed):
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
    typed: str = field(default="", compare=False, repr=False)
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
    typed: str = field(default="", compare=False, repr=False)
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
    typed: str = field(default="", compare=False, repr=False)
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
    typed: str = field(default="", compare=False, repr=False)
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
class WholePhoto(_Typed):
    """The photo is already a top view; one pixel is this wide on the ground."""

    mm_per_px: float
    typed: str = field(default="", compare=False, repr=False)
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
    typed: str = field(default="", compare=False, repr=False)
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
