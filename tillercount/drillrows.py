"""How far apart drills for small grain set their rows, and what an odd spacing was meant as."""

from __future__ import annotations

import re

from tillercount.markedarea import RowArea
from tillercount.units import MM_PER_IN

__all__ = [
    "MOST_DRILLS_MM", "NARROWEST_ROWS_MM", "ROW_WORDS", "USUAL_ROWS_MM", "WIDEST_ROWS_MM",
    "drill_doubt", "row_meant",
]  # fmt: skip

NARROWEST_ROWS_MM = 90.0
"""Rows stand 4 in or more apart in published tables (University of Kentucky); 10 cm is known."""
USUAL_ROWS_MM = (4 * MM_PER_IN, 12 * MM_PER_IN)
"""Rows of nearly all drills for small grains (common practice); a few have 15 in."""
MOST_DRILLS_MM = (4 * MM_PER_IN, 10 * MM_PER_IN)
"""Rows of most drills for small grains, metric ones of 12.5 to 17.5 cm among them (common
practice); hoe drills of dry country have 12 in."""
WIDEST_ROWS_MM = 16 * MM_PER_IN
"""Wider ones are of no drill for small grains (common practice)."""
LENGTH_MM = 11 * MM_PER_IN
"""Lengths of row are marked from about a foot on; shorter ones are rather a drill's rows (a
convention of our own)."""
ROW_WORDS = "no drill for small grain"
"""In every flag of a hand count that doubts a row spacing."""


def drill_doubt(area: RowArea) -> str:
    """What is odd about a row spacing that no drill for small grain has; empty where one may."""
    if NARROWEST_ROWS_MM <= area.spacing_mm <= WIDEST_ROWS_MM + 0.01:
        return ""
    spacing = _ends(area)[1]
    hint = row_meant(area)
    ask = f"; was {hint} meant?" if hint else ""
    return (
        f"rows {spacing} apart, which {ROW_WORDS} has (they have 4 to "
        f"{WIDEST_ROWS_MM / MM_PER_IN:.0f} in; common practice): check the row spacing in "
        f"{area.label!r}, and its unit{ask}"
    )


def row_meant(area: RowArea) -> str | None:
    """What a row area with an odd spacing was likely meant as: swapped, or its point lost.

    Both may fit where the length is usual for a drill's rows too; a foot and the like, at which
    lengths are marked, is then taken for a length.
    """
    length, spacing = _ends(area)
    least, most = USUAL_ROWS_MM
    swapped = f"row:{spacing}/{length}" if area.spacing_mm > most else None
    swapped = swapped if least <= round(area.length_mm, 3) <= round(most, 3) else None
    if swapped and area.length_mm < LENGTH_MM:
        return swapped
    number = re.fullmatch(r"([0-9.]+)(\D*)", spacing)
    if number and least <= area.spacing_mm / 10 <= most:  # a decimal point was lost
        return f"row:{length}/{float(number[1]) / 10:g}{number[2]}"
    return swapped


def _ends(area: RowArea) -> tuple[str, str]:
    """Length and spacing, each as typed."""
    length, _, spacing = area.label.partition(":")[2].rpartition("/")
    return length.strip(), spacing.strip()
