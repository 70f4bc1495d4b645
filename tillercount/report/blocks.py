"""The few kinds of block that a report is set from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from tillercount.report.drawing import Drawing
from tillercount.report.language import Line

__all__ = ["Columns", "Figure", "Items", "Para", "Photos", "Table", "wrapped"]


@dataclass(frozen=True)
class Para:
    """A paragraph; ``look`` is "", "small", "fine" (small, in full ink), "strong" or "label" (a
    small heading)."""

    line: Line
    look: str = ""

    kind = "para"


@dataclass(frozen=True)
class Items:
    """A list; each line may have a source, set smaller, on paper only where ``sources_printed``.

    ``on_paper`` is a last line for paper alone: where the sources are that it leaves out.
    """

    lines: Sequence[tuple[Line, Line | None]]
    ordered: bool = False
    small: bool = False
    sources_printed: bool = True
    on_paper: Line | None = None

    kind = "items"


@dataclass(frozen=True)
class Table:
    """A table; columns in ``numbers`` are set right, ``bars`` draws a bar under the last column.

    ``look`` is "", "grid" (small, columns of one width, values of many spots) or "pairs" (small, a
    short name before a text).
    """

    head: Sequence[Line]
    rows: Sequence[Sequence[Line]]
    numbers: frozenset[int] = frozenset()
    strong: frozenset[int] = frozenset()
    caption: Line | None = None
    bars: Sequence[float] = ()
    look: str = ""

    kind = "table"


def wrapped(block: Table, across: int) -> list[Table]:
    """A grid of many columns as several below each other, the first column in each of them.

    Each but the last has the same number of columns, as few as fill no more tables than needed.
    """
    columns = len(block.head) - 1
    if block.look != "grid" or columns <= across:
        return [block]
    each = math.ceil(columns / math.ceil(columns / across))
    out = []
    for first in range(1, columns + 1, each):
        blank: list[Line] = [()] * max(0, first + each - columns - 1)

        def part(
            row: Sequence[Line], first: int = first, blank: Sequence[Line] = blank
        ) -> list[Line]:
            return [row[0], *row[first : first + each], *blank]

        out.append(replace(block, head=part(block.head), rows=[part(row) for row in block.rows]))
    return out


@dataclass(frozen=True)
class Figure:
    """A drawing with lines below it; ``key`` pairs small drawings with their words (a legend).

    ``smaller`` is the same drawing for paper where that saves a sheet.
    """

    drawing: Drawing
    name: str
    lines: Sequence[Para] = ()
    key: Sequence[tuple[Drawing, Line]] = ()
    smaller: Drawing | None = None

    kind = "figure"


@dataclass(frozen=True)
class Photos:
    """Pictures side by side: JPEG, caption, words for who can't see it."""

    pictures: Sequence[tuple[bytes, Line, Line]]
    note: Line | None = None

    kind = "photos"


@dataclass(frozen=True)
class Columns:
    """Blocks in columns beside each other, below each other on a phone."""

    columns: Sequence[Sequence[Any]]

    kind = "columns"
