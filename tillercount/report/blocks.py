"""The few kinds of block that a report is set from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.report.drawing import Drawing
from tillercount.report.language import Line

__all__ = ["Figure", "Items", "Para", "Photos", "Table"]


@dataclass(frozen=True)
class Para:
    """A paragraph; ``look`` is "", "small" or "strong"."""

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
    """A table; columns in ``numbers`` are set right, ``shares`` draws a bar under that column."""

    head: Sequence[Line]
    rows: Sequence[Sequence[Line]]
    numbers: frozenset[int] = frozenset()
    strong: frozenset[int] = frozenset()
    caption: Line | None = None
    bars: Sequence[float] = ()

    kind = "table"


@dataclass(frozen=True)
class Figure:
    """A drawing with lines below it; ``key`` pairs small drawings with their words (a legend)."""

    drawing: Drawing
    name: str
    lines: Sequence[Para] = ()
    key: Sequence[tuple[Drawing, Line]] = ()

    kind = "figure"


@dataclass(frozen=True)
class Photos:
    """Pictures side by side: JPEG, caption, words for who can't see it."""

    pictures: Sequence[tuple[bytes, Line, Line]]
    note: Line | None = None

    kind = "photos"
