"""Bands of density: the part of a rule set that a count is held against."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

__all__ = [
    "RANGE_WORDS",
    "UNIT_WORDS",
    "Band",
    "ClassWords",
    "Mark",
    "Measured",
    "Misplaced",
    "Part",
    "Rule",
    "Unit",
    "range_kind",
]

Mark = Literal["seen", "common practice", "from memory"]
Measured = Literal["plants", "shoots"]
Unit = Literal["ft2", "m2", "yd2", "ft of row", "percent of normal"]

UNIT_WORDS: dict[str, str] = {
    "ft2": "per ft²",
    "m2": "per m²",
    "yd2": "per yd²",
    "ft of row": "per foot of row",
    "percent of normal": "% of a normal stand",
}
"""A rule's unit as a list shows it."""

RANGE_WORDS: dict[str, str] = {
    "first_in": "{to} or fewer",
    "first_out": "fewer than {to}",
    "middle": "{from} to {to}",
    "middle_above": "more than {from}, up to {to}",
    "middle_between": "more than {from}, fewer than {to}",
    "middle_from": "{from} or more, fewer than {to}",
    "last_in": "more than {from}",
    "last_out": "{from} or more",
}
"""A band's range, by which of its ends belong to it; see `range_kind`."""


def range_kind(*, first: bool, last: bool, from_in: bool, to_in: bool) -> str:
    """Key of `RANGE_WORDS` for a band; "in" and "out" of the last say where its border belongs."""
    if first:
        return "first_in" if to_in else "first_out"
    if last:
        return "last_out" if from_in else "last_in"
    if from_in:
        return "middle" if to_in else "middle_from"
    return "middle_above" if to_in else "middle_between"


class Misplaced(ValueError):
    """A value that contradicts another one; ``at`` is its place below the part that was checked."""

    def __init__(self, message: str, *at: str | int) -> None:
        super().__init__(message)
        self.at = at


class Part(BaseModel):
    """A table of a rule file: frozen, and no key that isn't known."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, str_strip_whitespace=True
    )


class Band(Part):
    """A range of density with its class and what the publisher says to do.

    Where ``early`` is "push" or "some", the first of ``do_nitrogen`` is the early dose itself: it
    is left out where that is on already (`tillercount.stand.onalready`).
    """

    class_: str = Field(alias="class", min_length=1)
    name: str = Field(min_length=1)
    to: float | None = Field(default=None, gt=0)
    upper: Literal["in", "out"] = "out"
    say: str = ""
    do: tuple[str, ...] = ()
    do_nitrogen: tuple[str, ...] = ()
    do_tillers: tuple[str, ...] = ()
    early: Literal["push", "some", "hold", "keep first", "not said"] = "not said"
    early_n_lb_ac: tuple[float, float] | None = None
    early_share: tuple[float, float] | None = None
    early_when: str = ""
    yield_percent: tuple[float, float] | None = None
    yield_bu_ac: tuple[float, float] | None = None
    printed: str = ""
    note: str = ""

    @property
    def called(self) -> str:
        """The name without what follows from it: "on target", "thin but worth keeping"."""
        return self.name.partition(":")[0].partition(";")[0]

    @property
    def asks_early(self) -> bool:
        """Whether it wants nitrogen early."""
        return self.early in {"push", "some"}

    @field_validator("early_share")
    @classmethod
    def _a_share(cls, value: tuple[float, float] | None) -> tuple[float, float] | None:
        if value is not None and not 0 <= value[0] <= value[1] <= 1:
            raise ValueError("needs two shares from 0 to 1, the smaller one first")
        return value

    @field_validator("early_n_lb_ac", "yield_percent", "yield_bu_ac")
    @classmethod
    def _rising(cls, value: tuple[float, float] | None) -> tuple[float, float] | None:
        if value is not None and not 0 <= value[0] <= value[1] <= 300:
            raise ValueError("needs two numbers, 0 or more, the smaller one first")
        return value


class ClassWords(Part):
    """What people read of a class that several bands share; ``say`` is a sentence for the grower.

    The chance of such a class is that of all its bands, so it can't stand under one band's name.
    """

    class_: str = Field(alias="class", min_length=1)
    name: str = Field(min_length=1)
    say: str = ""


class Rule(Part):
    """Bands of one measured density."""

    measures: Measured
    unit: Unit = "ft2"
    mark: Mark | None = None
    sources: tuple[str, ...] = ()
    note: str = ""
    bands: tuple[Band, ...] = Field(min_length=2)
    classes: tuple[ClassWords, ...] = ()

    @model_validator(mode="after")
    def _borders_rise(self) -> Rule:
        tops = [band.to for band in self.bands]
        if tops[-1] is not None:
            raise Misplaced(
                "the last band must be open above: leave out its 'to'",
                "bands",
                len(tops) - 1,
                "to",
            )
        last = 0.0
        for number, top in enumerate(tops[:-1], start=1):
            if top is None:
                raise Misplaced(
                    f"band {number} has no 'to'; only the last band is open above",
                    "bands",
                    number - 1,
                )
            if not (math.isfinite(top) and top > last):
                raise Misplaced(
                    f"band {number}: 'to' = {top:g} must lie above {last:g}",
                    "bands",
                    number - 1,
                    "to",
                )
            last = top
        return self

    @model_validator(mode="after")
    def _classes_are_several_bands(self) -> Rule:
        for index, one in enumerate(self.classes):
            own = [band for band in self.bands if band.class_ == one.class_]
            if len(own) < 2:
                raise Misplaced(
                    f"class {one.class_!r} has {'no band' if not own else 'one band only'}; a name "
                    "here is for a class that several bands share",
                    "classes",
                    index,
                    "class",
                )
            if any(one.class_ == other.class_ for other in self.classes[:index]):
                raise Misplaced(
                    f"class {one.class_!r} is named twice; keep one", "classes", index, "class"
                )
            if one.name in (band.called for band in self.bands):
                raise Misplaced(
                    f"{one.name!r} is the name of one band; a class of several needs its own",
                    "classes",
                    index,
                    "name",
                )
        return self

    def words_of(self, class_: str) -> ClassWords | None:
        """What the file calls a class of several bands; None where it doesn't say."""
        return next((one for one in self.classes if one.class_ == class_), None)

    @property
    def borders(self) -> tuple[float, ...]:
        """Borders between bands, in the rule's unit."""
        return tuple(float(band.to) for band in self.bands if band.to is not None)

    @property
    def class_borders(self) -> tuple[float, ...]:
        """Borders between bands of different class."""
        pairs = zip(self.bands, self.bands[1:], strict=False)
        return tuple(float(a.to) for a, b in pairs if a.to is not None and a.class_ != b.class_)

    def index_of(self, density: float) -> int:
        """Number of the band that a density, in the rule's unit, lies in."""
        value = round(density, 9)  # so that 27 per ft2, turned to per m2 and back, is still 27
        for index, band in enumerate(self.bands):
            if band.to is None or value < band.to or (value == band.to and band.upper == "in"):
                return index
        raise AssertionError("the last band is open above")

    def range_text(self, index: int) -> str:
        """A band's range in words: "18 or fewer", "more than 18, fewer than 27", "27 to 35"."""
        top = self.bands[index]
        under = self.bands[index - 1] if index else None
        kind = range_kind(
            first=under is None,
            last=top.to is None,
            from_in=under is not None and under.upper == "out",
            to_in=top.upper == "in",
        )
        ends = {
            name: f"{end:g}"
            for name, end in (("from", under.to if under else None), ("to", top.to))
            if end is not None
        }
        return RANGE_WORDS[kind].format(**ends)
