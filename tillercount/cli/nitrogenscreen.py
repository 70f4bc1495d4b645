"""A field's spring nitrogen on the screen: short, or in full with ``--explain``."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.stand.topdress import Topdress

__all__ = ["show_nitrogen"]


def show_nitrogen(made: Topdress, *, explain: bool = False) -> None:
    """Print it."""
    from tillercount.cli.show import bullet, console
    from tillercount.stand.dressbrief import brief_sections
    from tillercount.stand.dressing import headline, sections

    out = console()
    out.print(headline(made), style="bold")
    for title, lines in sections(made) if explain else brief_sections(made):
        out.print()
        out.print(title, style="bold")
        for line in lines:
            bullet(out, line)
    if not explain:
        out.print()
        out.print("Rounded to what a machine can do. Sources, each step: --explain; exact: --json.")
