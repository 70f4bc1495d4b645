"""Tables of the PDF."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tillercount.report.blocks import Table
from tillercount.report.language import Line, plain
from tillercount.report.pdfsetting import INK, LINE, WASH, Setting

__all__ = ["GAP", "across", "side_by_side", "table"]

_WIDEST, _ROOM = 150.0, 8.0
"""What a column of text may ask for, and the space beside a cell's words, pt."""
GAP = 8.0
"""Between things beside each other, pt."""
_NARROWEST = 34.0
"""Least width of a column of a grid, pt."""
_FEWEST = 2
"""Columns that stay beside each other, however narrow that makes the first one."""
_SMALL = 0.84
"""Type of grids and pairs, of the type size."""


def table(block: Table, setting: Setting, width: float) -> Any:
    """A table as wide as ``width``, or as its cells need where it is a grid."""
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import Table as Grid

    fonts = setting.fonts
    size = _SMALL if block.look else 0.9

    def cell(line: Line, column: int, font: str) -> Any:
        right: dict[str, Any] = {"alignment": 2} if column in block.numbers else {}
        style = setting.style("cell", size, fontName=font, spaceAfter=0, **right)
        return setting.paragraph(line, style)

    rows = [[cell(line, i, fonts.bold) for i, line in enumerate(block.head)]]
    for number, row in enumerate(block.rows):
        font = fonts.bold if number in block.strong else fonts.plain
        rows.append([cell(line, i, font) for i, line in enumerate(row)])
    if block.look == "pairs":
        rows = rows[1:]  # two columns that need no heading on paper
    widths = _widths(block, setting, size, width)
    grid = Grid(rows, colWidths=widths, spaceBefore=1, spaceAfter=4, hAlign="LEFT")
    first = 0 if block.look == "pairs" else 1
    look: list[Any] = [
        ("LINEBELOW", (0, first), (-1, -1), 0.4, HexColor(LINE)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 0.8 if block.look else 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.2 if block.look else 1.8),
        ("LEFTPADDING", (0, 0), (-1, -1), 0 if block.look else 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ]
    if first:
        look.append(("LINEBELOW", (0, 0), (-1, 0), 0.9, HexColor(INK)))
        # names never stand at the foot of a sheet with their figures on the next
        last = -1 if block.look == "grid" else min(1, len(rows) - 1)
        look.append(("NOSPLIT", (0, 0), (-1, last)))
    look += [
        ("BACKGROUND", (0, number + 1), (-1, number + 1), HexColor(WASH)) for number in block.strong
    ]
    grid.setStyle(look)
    return grid


def across(block: Table, setting: Setting, width: float) -> int:
    """How many columns of a grid fit beside its first one."""
    first, *others = _needs(block, setting, _SMALL)
    return max(_FEWEST, int((width - first) / max([_NARROWEST, *others])))


def _wide(line: Line, setting: Setting, size: float) -> float:
    """Points that a line takes in bold type, with the room beside it."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    fonts = setting.fonts
    text = fonts.clean(plain(line))
    return float(stringWidth(text, fonts.bold, setting.points(size))) + _ROOM


def _needs(block: Table, setting: Setting, size: float) -> list[float]:
    columns = zip(block.head, *block.rows, strict=True)
    return [max(_wide(line, setting, size) for line in column) for column in columns]


def _widths(block: Table, setting: Setting, size: float, width: float) -> list[float]:
    """Numbers get the room that they need in one line, text shares the rest."""
    needs = _needs(block, setting, size)
    if block.look == "grid":
        widest = max(needs[1:], default=0.0)
        others = [max(widest, _NARROWEST) for _ in needs[1:]]
        return [min(needs[0], max(_NARROWEST, width - sum(others))), *others]
    if block.look == "pairs":
        first = min(needs[0], _WIDEST)
        return [first, *((width - first) / (len(needs) - 1) for _ in needs[1:])]
    # A heading may break over two lines; a number may not.
    fixed = {
        i: max([min(needs[i], 70.0), *(_wide(row[i], setting, size) for row in block.rows)])
        for i in block.numbers
    }
    left = width - sum(fixed.values())
    wants = [0.0 if i in fixed else min(_WIDEST, need) for i, need in enumerate(needs)]
    if left < 0.3 * width:  # too many numbers: everything shares
        wants = [min(_WIDEST, need) for need in needs]
        return [want * width / sum(wants) for want in wants]
    return [fixed[i] if i in fixed else want * left / sum(wants) for i, want in enumerate(wants)]


def side_by_side(cells: Sequence[Any], widths: Sequence[float]) -> Any:
    """Things beside each other, without lines."""
    from reportlab.platypus import Table as Grid

    grid = Grid([list(cells)], colWidths=list(widths), spaceBefore=2, spaceAfter=3, hAlign="LEFT")
    grid.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), GAP),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ]
    )
    return grid
