"""Rule sets: thresholds for a stand as one publisher gives them, one TOML file each.

A file holds who says it, where and for what it holds, what exactly is counted, and bands of
density with their class and advice. Rule sets are never mixed or averaged. The format is described
in ``rules/README.md`` beside the files; in short::

    format = "tillercount.rules/1"
    name = "my-rules"                 # lower-case words joined by -
    title = "..."                     # what a list shows
    publisher = "..."
    region = "..."
    crops = ["wheat"]
    mark = "seen"                     # seen | common practice | from memory
    stage = { from = "Feekes 2", to = "Feekes 5", words = "..." }
    counting = { main_stem = "in", min_leaves = 0, words = "..." }

    [[sources]]
    id = "A"
    title = "..."
    address = "..."

    [[rules]]
    measures = "plants"               # plants | shoots
    unit = "ft2"                      # ft2 | m2
    sources = ["A"]
      [[rules.bands]]                 # in rising order, without holes, the last one open above
      class = "thin"
      name = "..."
      to = 18                         # from the band before (0 for the first) to here
      upper = "in"                    # whether 18 itself still belongs here: in | out
      say = "..."
      do = ["..."]
      do_nitrogen = ["..."]           # left out of the advice once the crop has jointed
"""

from __future__ import annotations

import math
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from tillercount.errors import InputError
from tillercount.stand.stage import Stage, parse_stage

__all__ = [
    "Band",
    "Counting",
    "Heads",
    "Nitrogen",
    "Rule",
    "RuleSet",
    "RuleSource",
    "StageWindow",
    "YieldPerHead",
]

Mark = Literal["seen", "common practice", "from memory"]


class _Part(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, str_strip_whitespace=True
    )


class RuleSource(_Part):
    """One publication."""

    id: str = Field(min_length=1)
    title: str = Field(min_length=1)
    address: str = ""
    year: int | None = Field(default=None, ge=1850, le=2200)
    mark: Mark = "seen"

    @property
    def text(self) -> str:
        """Title, address and mark in one line."""
        address = f", {self.address}" if self.address else ""
        return f"{self.title}{address} ({self.mark})"


class StageWindow(_Part):
    """Growth stages at which the count is meant to be made."""

    from_: str = Field(alias="from")
    to: str
    words: str = ""

    @field_validator("from_", "to")
    @classmethod
    def _readable(cls, value: str) -> str:
        parse_stage(value)
        return value

    @model_validator(mode="after")
    def _in_order(self) -> StageWindow:
        if self.feekes[0] > self.feekes[1]:
            raise ValueError(f"the window runs backwards, from {self.from_} to {self.to}")
        return self

    @property
    def feekes(self) -> tuple[float, float]:
        """First and last Feekes stage."""
        return parse_stage(self.from_).feekes[0], parse_stage(self.to).feekes[1]

    def place(self, stage: Stage) -> Literal["before", "within", "after"]:
        """Where a stage lies; an unsure one counts by its later side."""
        first, last = self.feekes
        if stage.feekes[1] > last:
            return "after"
        return "before" if stage.feekes[1] < first else "within"


class Counting(_Part):
    """What the publisher counts as a tiller, stem or shoot."""

    main_stem: Literal["in", "out", "not stated"]
    min_leaves: int | Literal["not stated"] = Field(default=0)
    words: str = ""

    @field_validator("min_leaves")
    @classmethod
    def _leaves(cls, value: int | str) -> int | str:
        if isinstance(value, int) and value not in (0, 3):
            raise ValueError("known leaf minimums are 0 (every shoot) and 3")
        return value


class Band(_Part):
    """A range of density with its class and what the publisher says to do."""

    class_: str = Field(alias="class", min_length=1)
    name: str = Field(min_length=1)
    to: float | None = Field(default=None, gt=0)
    upper: Literal["in", "out"] = "out"
    say: str = ""
    do: tuple[str, ...] = ()
    do_nitrogen: tuple[str, ...] = ()
    early: Literal["push", "some", "hold", "keep first", "not said"] = "not said"
    early_n_lb_ac: tuple[float, float] | None = None
    yield_percent: tuple[float, float] | None = None
    printed: str = ""
    note: str = ""

    @field_validator("early_n_lb_ac", "yield_percent")
    @classmethod
    def _rising(cls, value: tuple[float, float] | None) -> tuple[float, float] | None:
        if value is not None and not 0 <= value[0] <= value[1] <= 300:
            raise ValueError("needs two numbers, 0 or more, the smaller one first")
        return value


class Rule(_Part):
    """Bands of one measured density."""

    measures: Literal["plants", "shoots"]
    unit: Literal["ft2", "m2"] = "ft2"
    mark: Mark | None = None
    sources: tuple[str, ...] = ()
    note: str = ""
    bands: tuple[Band, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _borders_rise(self) -> Rule:
        tops = [band.to for band in self.bands]
        if tops[-1] is not None:
            raise ValueError("the last band must be open above: leave out its 'to'")
        last = 0.0
        for number, top in enumerate(tops[:-1], start=1):
            if top is None:
                raise ValueError(f"band {number} has no 'to'; only the last band is open above")
            if not (math.isfinite(top) and top > last):
                raise ValueError(f"band {number}: 'to' = {top:g} must lie above {last:g}")
            last = top
        return self

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
        if under is None:
            return f"{top.to:g} or fewer" if top.upper == "in" else f"fewer than {top.to:g}"
        low = f"more than {under.to:g}" if under.upper == "in" else f"{under.to:g}"
        if top.to is None:
            return low if under.upper == "in" else f"{low} or more"
        if under.upper == "out" and top.upper == "in":
            return f"{low} to {top.to:g}"
        high = f"up to {top.to:g}" if top.upper == "in" else f"fewer than {top.to:g}"
        return f"{low}, {high}" if under.upper == "in" else f"{low} or more, {high}"


class Heads(_Part):
    """Heads at harvest that the publisher wants, per ft²."""

    wanted: float = Field(gt=0)
    optimum: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class YieldPerHead(_Part):
    """Bushels per acre for each head per ft²."""

    bu_per_head: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class Nitrogen(_Part):
    """Whole nitrogen per bushel, and the share taken up between Feekes 6 and 10."""

    lb_per_bu: tuple[float, float]
    uptake_share_f6_f10: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class RuleSet(_Part):
    """All rules of one publisher for one region and topic."""

    format: Literal["tillercount.rules/1"]
    name: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    title: str = Field(min_length=1)
    publisher: str = Field(min_length=1)
    region: str = Field(min_length=1)
    crops: tuple[str, ...] = Field(min_length=1)
    year: int | None = Field(default=None, ge=1850, le=2200)
    mark: Mark
    stage: StageWindow
    counting: Counting
    sources: tuple[RuleSource, ...] = ()
    rules: tuple[Rule, ...] = Field(min_length=1)
    heads: Heads | None = None
    yield_per_head: YieldPerHead | None = None
    nitrogen: Nitrogen | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _hangs_together(self) -> RuleSet:
        known = {source.id for source in self.sources}
        if self.mark == "seen" and not known:
            raise ValueError("figures marked 'seen' need their publication under [[sources]]")
        measured = [rule.measures for rule in self.rules]
        if len(set(measured)) != len(measured):
            raise ValueError("two rules measure the same thing; keep one per file")
        for rule in self.rules:
            for source in rule.sources:
                if source not in known:
                    raise ValueError(
                        f"the {rule.measures} rule names source {source!r}, which isn't listed"
                    )
        return self

    def rule(self, measures: str) -> Rule | None:
        """The rule for plants or shoots, None if the publisher gives none."""
        return next((rule for rule in self.rules if rule.measures == measures), None)

    def covers(self, crop: str) -> bool:
        """Whether the rules were published for this crop."""
        return crop in self.crops

    @property
    def by(self) -> str:
        """Who says so, with the mark: "Penn State Extension, seen", or "common practice"."""
        return self.mark if self.mark == "common practice" else f"{self.publisher}, {self.mark}"

    def sources_of(self, rule: Rule) -> tuple[str, ...]:
        """Publications behind a rule, one line each."""
        cited = [s.text for s in self.sources if s.id in rule.sources]
        return tuple(cited) or (self.by,)

    def require(self, crop: str, others: str) -> None:
        """Refuse a crop that the rules aren't for.

        Raises
        ------
        InputError
            The rules don't cover the crop.
        """
        if not self.covers(crop):
            raise InputError(
                f"rules {self.name!r} are for {', '.join(self.crops)} and not validated for "
                f"{crop}; {others}"
            )
