"""Type, colours and sizes that every part of the PDF is set in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from tillercount.report.language import Line, plain
from tillercount.report.pdffont import Fonts
from tillercount.typesize import SMALLEST

__all__ = ["INK", "LINE", "MM", "SMALLEST", "SOFT", "WASH", "WHEAT", "Setting"]

INK, SOFT, WHEAT, WASH, LINE = "#1b2430", "#4d5866", "#7a4f10", "#f4f1ea", "#c3c9d1"
MM = 72 / 25.4
"""Points."""


@dataclass(frozen=True)
class Setting:
    """Sizes of one attempt, points; ``compact`` where the map is the small one."""

    size: float
    fonts: Fonts
    width: float
    compact: bool = False

    @property
    def side(self) -> float:
        """Width of the column of headings."""
        return 26 * MM

    def points(self, share: float = 1.0) -> float:
        """That share of the type size, never too small to read."""
        return max(self.size * share, SMALLEST)

    def style(self, name: str, size: float = 1.0, ink: str = INK, **more: Any) -> Any:
        """A paragraph's look; ``size`` is a share of the type size."""
        from reportlab.lib.colors import HexColor
        from reportlab.lib.styles import ParagraphStyle

        points = self.points(size)
        options = {"fontName": self.fonts.plain, "leading": points * 1.27, "spaceAfter": 2.0} | more
        return ParagraphStyle(name, fontSize=points, textColor=HexColor(ink), **options)

    def paragraph(self, line: Line | str, style: Any) -> Any:
        """A line set in one style."""
        from reportlab.platypus import Paragraph

        return Paragraph(self.text(line), style)

    def text(self, line: Line | str) -> str:
        """A line as the markup that paragraphs take."""
        return escape(self.fonts.clean(plain(line)))
