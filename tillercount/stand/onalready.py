"""Nitrogen that is on already this spring, beside the early part that the stand asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tillercount.stand.already import Range
from tillercount.stand.cautions import Advice
from tillercount.stand.ruleset import Band
from tillercount.stand.words import number_text, rate_text

__all__ = ["LEAST_PASS_LB", "EarlyOn", "early_on", "without_early"]

LEAST_PASS_LB = 10.0
"""No pass of its own for less than this many lb N/ac that the early part still lacks; they go on
with the main dose: a convention of our own."""

EARLY = frozenset({"push", "some"})
"""What a band says where it wants nitrogen early."""


@dataclass(frozen=True)
class EarlyOn:
    """What is on already (lb N/ac), held against the early part of a plan.

    Attributes
    ----------
    early : (float, float) or None
        The early part; (0, 0) where the stand wants none, None where it isn't known.
    rest : (float, float)
        What it still lacks; (0, 0) where nothing more goes on early, or nothing is known.
    """

    given: float
    early: Range | None
    rest: Range = (0.0, 0.0)

    @property
    def part(self) -> bool:
        """Whether some of the early part is still to go on."""
        return self.rest[1] > 0

    @property
    def done(self) -> bool:
        """Whether the early part is known to be on."""
        return self.early is not None and self.early[1] > 0 and not self.part

    @property
    def words(self) -> str:
        """How the two go together, after "N lb N/ac are on already"; may be empty."""
        if self.early is None:
            return ""
        low, high = self.early
        if high == 0:
            return ", though this stand asks for none early"
        asked = f"the early part ({rate_text(self.early)} lb N/ac)"
        if self.part:
            return f", not yet all of {asked}"
        if self.given > high:
            return f", more than {asked}"
        return f", which is {'' if self.given >= low else 'nearly '}{asked}"

    @property
    def step(self) -> str:
        """What to do instead of the early dose."""
        on = f"{number_text(self.given)} lb N/ac are on already"
        if self.part:
            return (
                f"{on}, not yet all of the early part: put on only the {rate_text(self.rest)} lb "
                "N/ac that it lacks, once the crop has started to grow."
            )
        if self.early is None:
            return f"{on}: take them off what would go on early."
        return f"{on} and taken for the early part: put no more on early."


def early_on(early: Range | None, given_lb_ac: float) -> EarlyOn | None:
    """None where nothing is on already.

    As soon as the low end of the early part is on, it is done: the rest goes on with the main dose.
    """
    if not given_lb_ac:
        return None
    if early is None:
        return EarlyOn(given_lb_ac, None)
    rest = (early[0] - given_lb_ac, early[1] - given_lb_ac)
    done = given_lb_ac >= early[0] or rest[1] < LEAST_PASS_LB
    return EarlyOn(given_lb_ac, early) if done else EarlyOn(given_lb_ac, early, rest)


def without_early(steps: Sequence[Advice], bands: Sequence[Band], on: EarlyOn) -> list[Advice]:
    """The steps with what is on already in place of the early dose, which would go on twice.

    The first thing that a band of early nitrogen says of it is that dose (`Band.do_nitrogen`).
    """
    doses = [one.do_nitrogen[0] for one in bands if one.early in EARLY and one.do_nitrogen]
    out = []
    for step in steps:
        text = step.text
        for dose in doses:
            text = text.replace(dose, on.step)
        out.append(replace(step, text=text))
    return list(dict.fromkeys(out))
