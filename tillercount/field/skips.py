"""Share of the drill rows that stands in long gaps, over all photos that show rows.

Lengths add up over photos, so that a photo with more row weighs more: a ratio of totals (Cochran,
Sampling Techniques, 3rd ed. 1977, ch. 2.11). How far to trust it is told by how many photos there
are; with few of them one hole decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.field.spots import RowStretch, SpotDensity

__all__ = ["RowSkips", "row_skips", "stretch_of"]


@dataclass(frozen=True)
class RowSkips:
    """Row seen in a field, and how much of it lies in gaps longer than ``over_mm``.

    Attributes
    ----------
    photos, with_gaps : int
        Photos that show rows, and those of them with a long gap.
    row_mm, gap_mm : float
        Lengths, together.
    """

    photos: int
    with_gaps: int
    row_mm: float
    gap_mm: float
    over_mm: float

    @property
    def share(self) -> float:
        """Share of the row in long gaps."""
        return self.gap_mm / self.row_mm


def row_skips(spots: Sequence[SpotDensity]) -> RowSkips | None:
    """Totals over photos; None without rows, or where photos were counted by different limits."""
    seen = [spot.rows for spot in spots if spot.rows is not None]
    if not seen or len({round(one.over_mm, 1) for one in seen}) > 1:
        return None
    return RowSkips(
        photos=len(seen),
        with_gaps=sum(one.gap_mm > 0 for one in seen),
        row_mm=sum(one.row_mm for one in seen),
        gap_mm=sum(one.gap_mm for one in seen),
        over_mm=seen[0].over_mm,
    )


def stretch_of(record: Mapping[str, Any]) -> RowStretch | None:
    """The rows of one entry of a counts file; None where there are none, or none that add up."""
    rows = record.get("rows")
    if not isinstance(rows, Mapping) or rows.get("found") is not True:
        return None
    values = [rows.get(name) for name in ("row_length_mm", "gap_length_mm", "gap_over_mm")]
    if not all(isinstance(v, int | float) and math.isfinite(v) and v >= 0 for v in values):
        return None
    length, gaps, over = (float(v) for v in values if v is not None)
    return RowStretch(length, gaps, over) if length > 0 and gaps <= length * 1.001 else None
