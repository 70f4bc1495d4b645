"""A field's spring nitrogen on the screen: short, or in full with ``--explain``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.stand import Assessment
    from tillercount.stand.topdress import Topdress

__all__ = ["show_nitrogen"]

_OWN = ("Rates", "How it was worked out", "Nitrogen", "Arithmetic")
"""Sections of this field's own rates; elsewhere the same pounds may be a publisher's."""


def show_nitrogen(
    made: Topdress,
    *,
    explain: bool = False,
    first: Sequence[str] = (),
    verdict: str = "",
    assessment: Assessment | None = None,
    metric: bool = False,
) -> None:
    """Print it: the field and its verdict, then what speaks against the plan, then what to do.

    ``first`` is what has to be read before anything else; ``verdict`` is empty without counts.
    ``metric``: the same in metric units behind each quantity, as `show_assessment` has them.
    """
    from tillercount.cli.show import bullet, console
    from tillercount.cli.verdict import ways_to_say
    from tillercount.report.inmetric import rates_of
    from tillercount.stand.dressbrief import brief_sections
    from tillercount.stand.dressing import headline, sections
    from tillercount.stand.dresslines import cost_lines

    out = console()
    rates = rates_of(made.plan, made)
    say, own = ways_to_say(assessment, made.crop, rates, metric=metric)
    told = (sections if explain else brief_sections)(made, metric=metric)
    stop = made.stop is not None
    if stop:  # a plain no to spreading comes before all else
        out.print(own(headline(made)), style="bold")
    if verdict:
        out.print(f"{made.name}: {own(verdict)}" if made.name else own(verdict))
    before = made.first if made.doses else ()
    for line in before:
        out.print(own(line))
    if not stop:
        out.print(own(headline(made)), style="bold")
    for line in first:
        bullet(out, say(f"{line[0].upper()}{line[1:]}"), "!")
    for title, lines in told:
        out.print()
        out.print(title, style="bold")
        for line in lines:
            if line not in first and line not in before:
                bullet(out, own(line) if title in _OWN else say(line))
    if not explain:
        out.print()
        money = "".join(f"; {line}" for line in cost_lines(made))
        out.print(
            f"Rounded to what a machine can do{money}. Sources, each step: --explain; exact: "
            "--json."
        )
