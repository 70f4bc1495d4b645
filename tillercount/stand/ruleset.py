"""Rule sets: thresholds for a stand as one publisher gives them, one TOML file each.

A file holds who says it, where and for what it holds, what exactly is counted, and bands of
density with their class and advice. Rule sets are never mixed or averaged. The format is described
in ``rules/README.md`` beside the files; in short::

    format = "tillercount.rules/1"
    name = "my-rules"                 # lower-case words joined by -
    title = "..."                     # what a list shows
    publisher = "..."
    region = "..."
    where = [{ name = "...", lat = [38.0, 40.0], lon = [-76.0, -75.0] }]   # may be left out
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
    unit = "ft2"                      # ft2 | m2 | yd2 | ft of row | percent of normal
    sources = ["A"]
      [[rules.bands]]                 # in rising order, without holes, the last one open above
      class = "thin"
      name = "..."
      to = 18                         # from the band before (0 for the first) to here
      upper = "in"                    # whether 18 itself still belongs here: in | out
      say = "..."
      do = ["..."]
      do_nitrogen = ["..."]           # left out of the advice from Feekes 5 on
      do_tillers = ["..."]            # left out where the tillers of each plant were counted
      [[rules.classes]]               # where several bands are of one class
      class = "thin"
      name = "..."                    # of all of them together
      say = "..."
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field, field_validator, model_validator

from tillercount.stand.bands import Band, Mark, Misplaced, Part, Rule
from tillercount.stand.stage import Stage, parse_stage
from tillercount.stand.where import Box
from tillercount.stand.wholeparts import NitrogenCredit, WholeNitrogen

__all__ = [
    "Band",
    "Box",
    "Counting",
    "Heads",
    "Nitrogen",
    "NitrogenByYield",
    "NitrogenCredit",
    "Rule",
    "RuleSet",
    "RuleSource",
    "StageWindow",
    "WholeNitrogen",
    "YieldPerHead",
]


class RuleSource(Part):
    """One publication."""

    id: str = Field(min_length=1)
    title: str = Field(min_length=1)
    address: str = ""
    year: int | None = Field(default=None, ge=1850, le=2200)
    mark: Mark = "seen"

    @property
    def text(self) -> str:
        """Title and address in one line; the mark only where it wasn't read."""
        address = f", {self.address}" if self.address else ""
        mark = "" if self.mark == "seen" else f" ({self.mark})"
        return f"{self.title}{address}{mark}"


class StageWindow(Part):
    """Growth stages at which the count is meant to be made."""

    from_: str = Field(alias="from")
    to: str
    words: str = ""
    season: Literal["", "fall", "spring"] = ""

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


class Counting(Part):
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


class Heads(Part):
    """Heads at harvest that the publisher wants, per ft²."""

    wanted: float = Field(gt=0)
    optimum: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class YieldPerHead(Part):
    """Bushels per acre for each head per ft²."""

    bu_per_head: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class Nitrogen(Part):
    """Whole nitrogen per bushel, and the share taken up between Feekes 6 and 10."""

    lb_per_bu: tuple[float, float]
    uptake_share_f6_f10: tuple[float, float]
    mark: Mark = "seen"
    source: str = ""


class NitrogenByYield(Part):
    """Whole nitrogen by yield goal: a straight line, and the table printed beside it.

    lb N/ac = ``lb_at`` + ``lb_per_bu`` x (goal - ``at_bu``), not below 0.
    """

    edition: int = Field(ge=1850, le=2200)
    at_bu: float = Field(ge=0)
    lb_at: float
    lb_per_bu: float = Field(gt=0)
    table: tuple[tuple[float, float], ...] = ()
    rounded_to_lb: float = Field(default=10, gt=0)
    note: str = ""

    def lb_per_ac(self, goal_bu_ac: float) -> float:
        """Pounds of nitrogen per acre by the line."""
        return max(0.0, self.lb_at + self.lb_per_bu * (goal_bu_ac - self.at_bu))

    @property
    def clashes(self) -> tuple[tuple[float, float, float], ...]:
        """(bu/ac, lb by the line, lb in the table) where rounding doesn't explain the gap."""
        lines = ((goal, self.lb_per_ac(goal), printed) for goal, printed in self.table)
        return tuple(row for row in lines if abs(row[1] - row[2]) > self.rounded_to_lb / 2)


class RuleSet(Part):
    """All rules of one publisher for one region and topic."""

    format: Literal["tillercount.rules/1"]
    name: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    title: str = Field(min_length=1)
    publisher: str = Field(min_length=1)
    region: str = Field(min_length=1)
    places: tuple[str, ...] = ()
    where: tuple[Box, ...] = ()
    crops: tuple[str, ...] = Field(min_length=1)
    year: int | None = Field(default=None, ge=1850, le=2200)
    mark: Mark
    stage: StageWindow
    counting: Counting
    sources: tuple[RuleSource, ...] = ()
    rules: tuple[Rule, ...] = ()
    heads: Heads | None = None
    yield_per_head: YieldPerHead | None = None
    nitrogen: Nitrogen | None = None
    nitrogen_by_yield: NitrogenByYield | None = None
    nitrogen_whole: tuple[WholeNitrogen, ...] = ()
    nitrogen_credits: tuple[NitrogenCredit, ...] = ()
    nitrogen_when: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _hangs_together(self) -> RuleSet:
        known = {source.id for source in self.sources}
        if self.mark == "seen" and not known:
            raise Misplaced(
                "figures marked 'seen' need their publication under [[sources]]", "mark"
            )
        if not (self.rules or self.nitrogen_by_yield or self.nitrogen_whole):
            raise ValueError(
                "there is neither a [[rules]] table nor [nitrogen_by_yield] nor "
                "[[nitrogen_whole]] in it"
            )
        self._whole_cites(known)
        measured: list[str] = []
        for index, rule in enumerate(self.rules):
            if rule.measures in measured:
                raise Misplaced(
                    "two rules measure the same thing; keep one per file",
                    "rules",
                    index,
                    "measures",
                )
            measured.append(rule.measures)
            for source in rule.sources:
                if source not in known:
                    raise Misplaced(
                        f"the {rule.measures} rule names source {source!r}, which isn't listed",
                        "rules",
                        index,
                        "sources",
                    )
        return self

    def _whole_cites(self, known: set[str]) -> None:
        for table in ("nitrogen_whole", "nitrogen_credits"):
            for index, row in enumerate(getattr(self, table)):
                for source in row.sources:
                    if source not in known:
                        raise Misplaced(
                            f"source {source!r} isn't listed under [[sources]]",
                            table,
                            index,
                            "sources",
                        )

    def rule(self, measures: str) -> Rule | None:
        """The rule for plants or shoots, None if the publisher gives none."""
        return next((rule for rule in self.rules if rule.measures == measures), None)

    def holds_in(self, place: str) -> bool:
        """Whether a place is this region, a part of its name, or one of the places listed."""
        wanted = " ".join(place.casefold().split())
        if wanted in (one.casefold() for one in self.places):
            return True
        words = f" {' '.join(self.region.casefold().replace(',', ' ').split())} "
        return f" {wanted} " in words

    @property
    def doubt(self) -> str:
        """What to say wherever figures that nobody looked up are used; else empty."""
        if "from memory" not in (self.mark, *(rule.mark for rule in self.rules)):
            return ""
        return (
            f"figures of these rules ({self.name}) are from memory, not checked against the "
            "publication; read them there before you act on them"
        )

    def covers(self, crop: str) -> bool:
        """Whether the rules were published for this crop."""
        return crop in self.crops

    @property
    def by(self) -> str:
        """Who says so: "Penn State Extension", "Me, from memory", or "common practice"."""
        if self.mark == "common practice":
            return self.mark
        return self.publisher if self.mark == "seen" else f"{self.publisher}, {self.mark}"

    def sources_of(self, rule: Rule) -> tuple[str, ...]:
        """Publications behind a rule, one line each."""
        cited = [s.text for s in self.sources if s.id in rule.sources]
        return tuple(cited) or (self.by,)
