"""Gaps along the rows of one marked area: how much of the row stands empty for longer than that.

A gap is the stretch between two neighbouring plants of a row, from stem to stem. What lies outside
the area isn't counted: a gap that runs over the edge counts with its part inside, if what is seen
of it is longer than the limit. So gaps near the limit are missed at the edges, and none longer than
the area is wide can be told in full: the share is a lowest figure. A row of which less than the
limit lies inside can't show a gap and is left out. A row of the pattern without a plant is a gap.

**The limit** is 6 in unless another is given: common practice. What publishers call a skip when
they speak of replanting is 3 to 6 ft long (Minnesota and NDSU small grains, 2021,
blog-crop-news.extension.umn.edu/2021/05), more than a frame shows.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.rows import NoRows, Rows, find_rows

__all__ = ["LONG_MM", "RowGaps", "chord", "of_topview", "row_gaps", "rows_and_gaps"]

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.topview import TopView

Array = NDArray[np.float64]

LONG_MM = 152.4
"""6 in."""

SEEN_SHARE = 0.75
"""Of the plants counted, so many must be pointed at one by one: a convention."""


@dataclass(frozen=True)
class RowGaps:
    """What one area says about its rows.

    Attributes
    ----------
    spacing_mm : float
    angle_deg : float
        Direction of the rows in the top view, from its right, counter-clockwise, 0 to 180.
    rows : int
        Rows of which enough lies inside.
    row_mm : float
        Their length inside, together.
    long_mm : float
        The limit.
    gaps_mm : tuple of float
        Parts inside of the gaps longer than the limit.
    """

    spacing_mm: float
    angle_deg: float
    rows: int
    row_mm: float
    long_mm: float
    gaps_mm: tuple[float, ...]

    @property
    def gap_mm(self) -> float:
        """Length in long gaps, together."""
        return sum(self.gaps_mm)

    @property
    def share(self) -> float:
        """Share of the row in long gaps."""
        return self.gap_mm / self.row_mm

    def to_json(self) -> dict[str, Any]:
        """Plain numbers for a counts file."""
        return {
            "found": True,
            "reason": None,
            "spacing_mm": round(self.spacing_mm, 1),
            "angle_deg": round(self.angle_deg, 1),
            "rows": self.rows,
            "row_length_mm": round(self.row_mm, 1),
            "gap_over_mm": round(self.long_mm, 1),
            "gap_length_mm": round(self.gap_mm, 1),
            "gap_share": round(self.share, 4),
            "gaps_mm": [round(gap, 1) for gap in self.gaps_mm],
        }


def chord(rows: Rows, number: int, outline_mm: Array) -> tuple[float, float] | None:
    """Where a row enters and leaves a convex outline (N, 2), along the row; None outside it."""
    along, across = rows.along(outline_mm), rows.across(outline_mm) - number * rows.spacing_mm
    ends = []
    for t0, d0, t1, d1 in zip(along, across, np.roll(along, -1), np.roll(across, -1), strict=True):
        if (d0 < 0) != (d1 < 0):
            ends.append(t0 + (t1 - t0) * d0 / (d0 - d1))
    return (float(min(ends)), float(max(ends))) if len(ends) >= 2 else None


def row_gaps(
    plants_mm: Array, outline_mm: Array, rows: Rows, long_mm: float = LONG_MM
) -> RowGaps | NoRows:
    """Long gaps along known rows.

    Parameters
    ----------
    plants_mm : (N, 2)
        Plants seen, those beside the area among them.
    outline_mm : (M, 2)
        Convex outline of the area.
    """
    numbers, places = rows.number(plants_mm), rows.along(plants_mm)
    far = rows.across(outline_mm) / rows.spacing_mm
    count, length, gaps = 0, 0.0, list[float]()
    for number in range(math.ceil(far.min()), math.floor(far.max()) + 1):
        ends = chord(rows, number, outline_mm)
        if ends is None or ends[1] - ends[0] <= long_mm:
            continue
        count, length = count + 1, length + ends[1] - ends[0]
        mine = np.sort(places[numbers == number])
        # what is seen of the row ends at the outline, or at the last plant just beyond it
        stops = [min(ends[0], *mine), *mine, max(ends[1], *mine)] if len(mine) else [*ends]
        for start, end in itertools.pairwise(stops):
            inside = min(end, ends[1]) - max(start, ends[0])
            if end - start > long_mm and inside > 0:
                gaps.append(float(inside))
    if not count:
        return NoRows("no row crosses the marked area for longer than the gap looked for")
    degrees = math.degrees(rows.angle_rad) % 180
    return RowGaps(rows.spacing_mm, degrees, count, length, long_mm, tuple(gaps))


def rows_and_gaps(
    plants_mm: Array,
    outline_mm: Array,
    *,
    margin_mm: float = 0.0,
    long_mm: float = LONG_MM,
    known: Rows | None = None,
) -> RowGaps | NoRows:
    """Find the rows of an area, unless they are ``known``, and their long gaps.

    ``margin_mm``: how far beyond the outline plants were looked for.
    """
    if known is None:
        found = find_rows(plants_mm, _spread(outline_mm, margin_mm))
        if isinstance(found, NoRows):
            return found
        known = found
    return row_gaps(plants_mm, outline_mm, known, long_mm)


def of_topview(
    points_px: Array, topview: TopView, area: Area, long_mm: float, *, seen: int, counted: float
) -> RowGaps | NoRows:
    """Rows and gaps from what the network points at, (N, 2 or more) top-view pixels.

    A stick says where its row runs; a photo without a frame is judged as a whole. ``seen`` plants
    of ``counted`` inside are pointed at: where too many are only inferred, a gap may hold some.
    """
    from tillercount.area import RowArea, WholePhoto
    from tillercount.frame.outline import outline_mm

    if seen < SEEN_SHARE * counted:
        return NoRows(
            f"only {seen} of about {counted:.0f} plants can be pointed at, and the others may "
            "stand in what looks like a gap"
        )
    height, width = topview.inside.shape
    middle = np.array([width - 1, height - 1]) / 2
    plants = (points_px[:, :2] - middle) * [topview.mm_per_px, -topview.mm_per_px]
    corners = (middle + 0.5) * topview.mm_per_px  # of the view itself
    whole = corners * [[-1, -1], [1, -1], [1, 1], [-1, 1]]
    outline = whole if isinstance(area, WholePhoto) else outline_mm(area)
    margin = float((whole.max(0) - outline.max(0)).max())
    known = Rows(0.0, area.spacing_mm, 0.0) if isinstance(area, RowArea) else None
    return rows_and_gaps(plants, outline, margin_mm=margin, long_mm=long_mm, known=known)


def _spread(outline_mm: Array, margin_mm: float, steps: int = 14) -> Array:
    """Points spread evenly over the outline's box and its margin, where plants are looked for."""
    low, high = outline_mm.min(0) - margin_mm, outline_mm.max(0) + margin_mm
    x, y = (np.linspace(low[i], high[i], steps) for i in (0, 1))
    return np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
