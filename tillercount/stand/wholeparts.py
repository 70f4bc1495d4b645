"""Tables of a rule file on the whole nitrogen: ``[[nitrogen_whole]]``, ``[[nitrogen_credits]]``."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, field_validator, model_validator

from tillercount.stand.bands import Mark, Part

__all__ = ["NitrogenCredit", "WholeNitrogen"]

Range = tuple[float, float]


def _rising(value: Range | None) -> Range | None:
    if value is not None and not (all(map(math.isfinite, value)) and value[0] <= value[1]):
        raise ValueError("needs two numbers, the smaller one first")
    return value


class WholeNitrogen(Part):
    """The whole spring nitrogen: pounds per bushel, or pounds per acre for a window of goals."""

    case: str = ""
    crops: tuple[str, ...] = ()
    lb_per_bu: Range | None = None
    lb_ac: Range | None = None
    goal_bu: Range | None = None
    at_most_lb: float | None = Field(default=None, gt=0)
    mark: Mark | None = None
    sources: tuple[str, ...] = ()
    note: str = ""

    @field_validator("lb_per_bu", "lb_ac", "goal_bu")
    @classmethod
    def _in_order(cls, value: Range | None) -> Range | None:
        _rising(value)
        if value is not None and not 0 <= value[0] <= value[1] <= 400:
            raise ValueError("needs two numbers from 0 to 400, the smaller one first")
        return value

    @model_validator(mode="after")
    def _one_kind(self) -> WholeNitrogen:
        if (self.lb_per_bu is None) == (self.lb_ac is None):
            raise ValueError("give either lb_per_bu or lb_ac, not both and not neither")
        return self

    def holds_for(self, goal_bu_ac: float | None) -> bool:
        """Whether a yield goal lies in this row's window; the lower end itself doesn't.

        So that "40-70" and "more than 70" meet without a hole; the lowest window's own lower end
        is let in by writing it a little lower.
        """
        if self.goal_bu is None:
            return True
        return goal_bu_ac is not None and self.goal_bu[0] < goal_bu_ac <= self.goal_bu[1]

    @property
    def goal_text(self) -> str:
        """The window in words, with a comma before; empty where there is none."""
        if self.goal_bu is None:
            return ""
        low, high = self.goal_bu
        if high >= 300:
            return f", more than {low:g} bu/ac"
        return f", {math.ceil(low):g}-{high:g} bu/ac"


class NitrogenCredit(Part):
    """What a publisher takes off for nitrogen that is already there (``lb`` below 0: adds)."""

    what: Literal["fall nitrogen", "soil nitrate", "manure", "organic matter", "previous crop"]
    at_most_lb: float | None = Field(default=None, gt=0)
    lb_per_percent: Range | None = None
    after: str = ""
    lb: Range | None = None
    mark: Mark | None = None
    sources: tuple[str, ...] = ()

    @field_validator("lb_per_percent", "lb")
    @classmethod
    def _in_order(cls, value: Range | None) -> Range | None:
        return _rising(value)

    @model_validator(mode="after")
    def _has_its_figure(self) -> NitrogenCredit:
        if self.what == "organic matter" and self.lb_per_percent is None:
            raise ValueError("a credit for organic matter needs lb_per_percent")
        if self.what == "previous crop" and (not self.after or self.lb is None):
            raise ValueError("a credit for the previous crop needs 'after' and 'lb'")
        return self
