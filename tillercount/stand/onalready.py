"""Nitrogen that is on already this spring, beside the early part that the stand asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tillercount.stand.already import Range
from tillercount.stand.cautions import Advice
from tillercount.stand.ruleset import Band
from tillercount.stand.words import rate_text

__all__ = ["EARLY", "EarlyOn", "early_on", "on_text", "without_early"]

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
    when : str
        When that goes on, in the plan's words; "" where nothing does.
    """

    given: float
    early: Range | None
    rest: Range = (0.0, 0.0)
    when: str = ""

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
        on = on_text(self.given)
        if self.part:
            return (
                f"{on}, not yet all of the early part: put on only the {rate_text(self.rest)} lb "
                f"N/ac that it lacks, {self.when}."
            )
        if self.early is None:
            return f"{on}: take them off what would go on early."
        taken = " and taken for the early part" if self.done else ""
        return f"{on}{taken}: put no more on early."


def on_text(given_lb_ac: float) -> str:
    """ "20 lb N/ac are on already"."""
    return f"{rate_text((given_lb_ac, given_lb_ac))} lb N/ac are on already"


def early_on(early: Range | None, given_lb_ac: float, when: str) -> EarlyOn | None:
    """None where nothing is on already; ``when`` is that of the early part.

    As soon as the low end of the early part is on, it is done: the rest goes on with the main dose.
    """
    if not given_lb_ac:
        return None
    if early is None:
        return EarlyOn(given_lb_ac, None)
    rest = (early[0] - given_lb_ac, early[1] - given_lb_ac)
    done = given_lb_ac >= early[0] or rest[1] < LEAST_PASS_LB
    return EarlyOn(given_lb_ac, early) if done else EarlyOn(given_lb_ac, early, rest, when)


def without_early(
    steps: Sequence[Advice], bands: Sequence[Band], planned: Band | None, on: EarlyOn
) -> list[Advice]:
    """The steps with what is on already in place of the early dose, which would go on twice.

    The first thing that a band of early nitrogen says of it is that dose (`Band.do_nitrogen`).
    ``on`` is of the band that is ``planned`` for: what completes its early part needn't complete
    that of another class that may be true.
    """
    instead = {}
    for band in (*bands, *([planned] if planned else [])):
        if band.early in EARLY and band.do_nitrogen:
            it = on if band is planned else EarlyOn(on.given, None)
            instead[band.do_nitrogen[0]] = it.step
    out = []
    for step in steps:
        text = step.text
        for dose, other in instead.items():
            text = text.replace(dose, other)
        out.append(replace(step, text=text))
    return list(dict.fromkeys(out))
