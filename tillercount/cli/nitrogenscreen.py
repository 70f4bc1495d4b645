"""A field's spring nitrogen on the screen: short, or in full with ``--explain``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.stand.topdress import Topdress

__all__ = ["show_nitrogen"]


def show_nitrogen(
    made: Topdress, *, explain: bool = False, first: Sequence[str] = (), verdict: str = ""
) -> None:
    """Print it: the field and its verdict, then what speaks against the plan, then what to do.

    ``first`` is what has to be read before anything else; ``verdict`` is empty without counts.
    """
    from tillercount.cli.show import bullet, console
    from tillercount.stand.dressbrief import brief_sections
    from tillercount.stand.dressing import headline, sections
    from tillercount.stand.dresslines import cost_lines

    out = console()
    stop = made.stop is not None
    if stop:  # a plain no to spreading comes before all else
        out.print(headline(made), style="bold")
    if verdict:
        out.print(f"{made.name}: {verdict}" if made.name else verdict)
    before = made.first if made.doses else ()
    for line in before:
        out.print(line)
    if not stop:
        out.print(headline(made), style="bold")
    for line in first:
        bullet(out, f"{line[0].upper()}{line[1:]}", "!")
    for title, lines in sections(made) if explain else brief_sections(made):
        out.print()
        out.print(title, style="bold")
        for line in lines:
            if line not in first and line not in before:
                bullet(out, line)
    if not explain:
        out.print()
        money = "".join(f"; {line}" for line in cost_lines(made))
        out.print(
            f"Rounded to what a machine can do{money}. Sources, each step: --explain; exact: "
            "--json."
        )
