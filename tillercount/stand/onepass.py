"""The least nitrogen that is worth a pass of its own, and what becomes of less."""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.rounding import whole_pounds
from tillercount.stand.already import Range
from tillercount.stand.words import rate_text

__all__ = [
    "LEAST_PASS_LB",
    "NONE_LEFT",
    "Parts",
    "in_passes",
    "left_of",
    "less_given",
    "little_text",
    "no_pass",
    "spread_when",
]

LEAST_PASS_LB = 10.0
"""No pass of its own for less than this many lb N/ac: a convention of our own."""

NONE_LEFT = "nothing is left to put on"

_LITTLE = "too little for a pass of its own"


@dataclass(frozen=True)
class Parts:
    """The early and the later part as they are spread (lb N/ac).

    ``moved`` says which of them, "early" or "main", is so small that it went to the other one;
    ``small`` is what it was, and ``out`` what of it is left out, since the early part takes no
    more than what is in print, or the publisher's ceiling.
    """

    early: Range
    main: Range
    moved: str = ""
    small: Range = (0.0, 0.0)
    out: Range = (0.0, 0.0)

    @property
    def why(self) -> str:
        """Why a part was moved, for the arithmetic."""
        other = "main" if self.moved == "early" else "early"
        then = f"it goes on with the {other} dose"
        if whole_pounds(self.out[1]):
            most = f"{rate_text((self.early[1], self.early[1]))} lb N/ac"
            left = rate_text(self.out)
            then = f"the early dose takes no more than {most}, and {left} lb N/ac are left out"
        return (
            f"{self.moved}: {rate_text(self.small)} lb N/ac is {_LITTLE}, which takes "
            f"{LEAST_PASS_LB:.0f} (a convention of our own): {then}"
        )

    @property
    def beside(self) -> str:
        """What to add to the early dose, where the later part is too small; may be empty."""
        if self.moved != "main":
            return ""
        small = f"What would be left for later is {little_text(self.small)}"
        if not whole_pounds(self.out[1]):
            return f"{small}: add it to the early part."
        if rate_text(self.out) == rate_text(self.small):
            return f"{small}: leave it."
        most = f"{rate_text((self.early[1], self.early[1]))} lb N/ac"
        return f"{small}: put no more than {most} on early, and leave the rest."


def in_passes(early: Range, main: Range, both: Range) -> Parts:
    """Either part with the other one where it isn't worth a pass; ``both`` is lb N/ac in all.

    The early part never goes beyond its own high end, which is in print or a ceiling.
    """
    if no_pass(early):
        return Parts((0.0, 0.0), both, "early", early)
    if early[1] > 0 and no_pass(main):
        most = early[1]
        kept = (min(both[0], most), min(both[1], most))
        out = (both[0] - kept[0], both[1] - kept[1])
        return Parts(kept, (0.0, 0.0), "main", main, out)
    return Parts(early, main)


def no_pass(lb_ac: Range) -> bool:
    """Whether this is something, but too little for a pass."""
    return 0 < whole_pounds(lb_ac[1]) < LEAST_PASS_LB


def less_given(total: Range, given_lb_ac: float) -> Range:
    """What is left of the whole beside what is on already."""
    return max(0.0, total[0] - given_lb_ac), max(0.0, total[1] - given_lb_ac)


def left_of(total: Range | None, given_lb_ac: float) -> Range | None:
    """What is left of the whole where that isn't worth a pass any more; None where it is."""
    if total is None:
        return None
    left = less_given(total, given_lb_ac)
    return left if whole_pounds(left[1]) < LEAST_PASS_LB else None


def little_text(lb_ac: Range) -> str:
    """ "5 lb N/ac, which is too little for a pass of its own"."""
    return f"{rate_text(lb_ac)} lb N/ac, {_LITTLE}"


def spread_when(when: str, lb_ac: Range, other: str) -> str:
    """When a dose goes on, and what to do where its low end is too little for a pass.

    ``other`` is the part that it goes on with then, "" where there is none. What is left for later
    has none: the early part may be at its printed high end already, or go on with this one.
    """
    low, high = (whole_pounds(end) for end in lb_ac)
    if not low < LEAST_PASS_LB <= high:
        return when
    then = f"add it to the {other} part" if other else "leave it"
    return f"{when}; less than {LEAST_PASS_LB:.0f} lb N/ac is {_LITTLE}: {then}"
