"""Nitrogen that is on already this spring, beside the early part that the stand asks for."""

from __future__ import annotations

from dataclasses import dataclass

from tillercount.rounding import whole_pounds
from tillercount.stand.already import Range
from tillercount.stand.onepass import (
    LEAST_PASS_LB,
    Parts,
    left_of,
    little_text,
    no_pass,
    spread_when,
)
from tillercount.stand.words import rate_text
from tillercount.twoforms import as_sentence

__all__ = ["EARLY", "EarlyOn", "check_pounds", "early_on", "nothing_due", "on_text"]

EARLY = frozenset({"push", "some"})
"""What a band says where it wants nitrogen early."""

_NEARLY = 0.8
"""From this share of its low end on the early part is "nearly" on: a convention of our own."""


@dataclass(frozen=True)
class EarlyOn:
    """What is on already (lb N/ac, may be none), held against the parts of a plan.

    Attributes
    ----------
    early : (float, float) or None
        The early part; (0, 0) where the stand wants none, None where it isn't known.
    rest : (float, float)
        What it still lacks; (0, 0) where nothing more goes on early, or nothing is known.
    when : str
        When that goes on, in the plan's words; "" where nothing does.
    parts : Parts or None
        Where one of the two parts is too small for a pass (`tillercount.stand.onepass`).
    later : (float, float) or None
        The later part, before that.
    left : (float, float) or None
        What is left of the whole where that isn't worth a pass, so that nothing more goes on; None
        where something does, or the whole isn't known.
    whole : (float, float) or None
        The whole that it is left of, where that isn't a tissue test's rate.
    """

    given: float
    early: Range | None
    rest: Range = (0.0, 0.0)
    when: str = ""
    parts: Parts | None = None
    later: Range | None = None
    left: Range | None = None
    whole: Range | None = None

    @property
    def part(self) -> bool:
        """Whether some of the early part is still to go on."""
        return self.rest[1] > 0 and self.left is None

    @property
    def done(self) -> bool:
        """Whether the early part is known to be on."""
        known = self.early is not None and self.early[1] > 0 and self.given > 0
        return known and not self.part and self.left is None

    @property
    def words(self) -> str:
        """How the two go together, after "N lb N/ac are on already"; may be empty."""
        if self.left is not None:
            return self._of_the_whole
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
        if self.given < _NEARLY * low:
            return f", which is only a part of {asked}"
        return f", which is {'' if self.given >= low else 'nearly '}{asked}"

    @property
    def _of_the_whole(self) -> str:
        if self.whole is None:
            return ""
        whole = f"{rate_text(self.whole)} lb N/ac"
        if self.given > self.whole[1]:
            return f", more than the whole of {whole}"
        return f", of a whole of {whole}"

    @property
    def nothing(self) -> str:
        """Why nothing more goes on, without a full stop; empty where something does."""
        if self.left is None:
            return ""
        on = f"{on_text(self.given)}{self._of_the_whole}" if self.given else ""
        if self.left[1] < 0.5:
            return f"{on}: put no more on" if on else "nothing is due: put no nitrogen on"
        if not on:
            return f"all that is due is {little_text(self.left)}: leave it"
        return f"{on}: what is left is {little_text(self.left)}, so put no more on"

    @property
    def step(self) -> str:
        """What to do instead of the early dose."""
        if self.left is not None:
            return as_sentence(self.nothing)
        if not self.given and self.parts is not None and self.early is not None:
            return f"The early part is only {little_text(self.early)}: add it to the main part."
        on = on_text(self.given)
        if self.part:
            when = spread_when(self.when, self.rest, "main")
            return (
                f"{on}, not yet all of the early part: put on only the {rate_text(self.rest)} lb "
                f"N/ac that it lacks, {when}."
            )
        if self.early is None:
            return f"{on}: take them off what would go on early."
        taken = " and taken for the early part" if self.done else ""
        lacks = (max(0.0, self.early[0] - self.given), self.early[1] - self.given)
        if self.done and lacks[0] >= 0.5 and no_pass(lacks):
            return (
                f"{on}{taken}. What it lacks is {little_text(lacks)}: add it to the main part."
            )
        return f"{on}{taken}: put no more on early."

    @property
    def beside(self) -> str:
        """What to add to the early dose, where the later part is too small; may be empty."""
        return self.parts.beside if self.parts is not None else ""

    @property
    def waits(self) -> bool:
        """Whether the early part is so small that all goes on with the main one."""
        return self.parts is not None and self.parts.moved == "early" and self.left is None

    @property
    def instead(self) -> str:
        """What a verdict says in place of what its class asks for early; empty where that holds."""
        return self.nothing or (self.step if self.waits else "")


def on_text(given_lb_ac: float) -> str:
    """ "20 lb N/ac are on already"."""
    return f"{rate_text((given_lb_ac, given_lb_ac))} lb N/ac are on already"


def check_pounds(given_lb_ac: float, whole: Range | None) -> str:
    """What to check where more is said to be on than the whole; else empty."""
    if whole is None or given_lb_ac <= whole[1]:
        return ""
    return (
        f"{rate_text((given_lb_ac, given_lb_ac))} lb N/ac said to be on already are more than the "
        f"whole of {rate_text(whole)} lb N/ac: check that they are pounds per acre (or kilograms "
        "per hectare) of nitrogen, and of this spring."
    )


def nothing_due(total: Range | None, given_lb_ac: float) -> str:
    """Why nothing of this whole goes on any more (`EarlyOn.nothing`); empty where something does,
    or the whole isn't known."""
    left = left_of(total, given_lb_ac)
    return "" if left is None else EarlyOn(given_lb_ac, None, left=left, whole=total).nothing


def early_on(early: Range | None, given_lb_ac: float, when: str) -> EarlyOn | None:
    """None where nothing is on already; ``when`` is that of the early part.

    As soon as the low end of the early part is on, it is done: the rest goes on with the main dose.
    """
    if not given_lb_ac:
        return None
    if early is None:
        return EarlyOn(given_lb_ac, None)
    rest = (early[0] - given_lb_ac, early[1] - given_lb_ac)
    done = given_lb_ac >= early[0] or whole_pounds(rest[1]) < LEAST_PASS_LB
    return EarlyOn(given_lb_ac, early) if done else EarlyOn(given_lb_ac, early, rest, when)
