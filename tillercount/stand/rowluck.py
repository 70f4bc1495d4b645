"""How far a frame that catches only a row or two is out by luck.

A frame of inside width s, two sides along the rows, over rows w apart catches floor(s/w) or one
more of them, depending on where it comes to lie. Placed at random it is right in the long run;
placed by eye (on a row, between rows) it isn't. Geometry; no published figure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tillercount.area import Area, RectArea, SquareArea
from tillercount.units import MM_PER_IN

__all__ = ["RowLuck", "luck_of", "row_luck"]

WORTH_SAYING = 0.15
"""Relative error of one placement from which it is worth a sentence."""


@dataclass(frozen=True)
class RowLuck:
    """What one placement of an aligned frame can catch.

    Attributes
    ----------
    fewest, most : int
        Whole rows caught.
    low_rel, high_rel : float
        Relative error of the density with the fewest and with the most rows.
    share_most : float
        Share of random placements that catch the most rows.
    """

    fewest: int
    most: int
    low_rel: float
    high_rel: float
    share_most: float

    @property
    def words(self) -> str:
        """A warning; empty where the luck is small."""
        if max(-self.low_rel, self.high_rel) < WORTH_SAYING:
            return ""
        return (
            f"a frame this wide catches {self.fewest} or {self.most} rows by luck: one placement "
            f"reads {self.low_rel:+.1%} or {self.high_rel:+.1%}; lay it at random or diagonally to "
            "the rows, never by eye, or count a length of row"
        )


def row_luck(width_mm: float, spacing_mm: float) -> RowLuck:
    """Luck of a frame with two sides along the rows.

    Parameters
    ----------
    width_mm : float
        Inside width across the rows, above 0.
    spacing_mm : float
        Distance of the rows, above 0.
    """
    rows = round(width_mm / spacing_mm, 9)
    fewest = math.floor(rows)
    share = rows - fewest
    most = fewest + 1 if share > 0 else fewest
    return RowLuck(fewest, most, fewest / rows - 1.0, most / rows - 1.0, share if share else 1.0)


def luck_of(area: Area, spacing_mm: float) -> str:
    """Warning for a marked area over rows this far apart; empty where there is none."""
    if isinstance(area, SquareArea):
        width = area.side_mm
    elif isinstance(area, RectArea):
        width = min(area.width_mm, area.length_mm)
    else:
        return ""
    words = row_luck(width, spacing_mm).words
    if not words:
        return ""
    return f"{area.label} over rows {spacing_mm / MM_PER_IN:.4g} in apart: {words}"
