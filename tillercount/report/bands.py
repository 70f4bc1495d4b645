"""Bands of text above and below a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from PIL import Image, ImageDraw

from tillercount.report.marks import PAPER, Colour, type_face, width_of, wrapped

__all__ = ["LEADING", "Text", "band", "paragraph"]

LEADING = 1.22
"""Distance of lines, of the size of the type."""
_SIDE, _PAD = 40, 26
"""Margins at the sides, above and below, in units of a picture 1600 px wide."""
_MARK_ROOM = 58


@dataclass(frozen=True)
class Text:
    """One line of type: what, how large (px), in which colour; behind a mark, if it has one."""

    text: str
    size_px: int
    colour: Colour = PAPER
    mark: Callable[[ImageDraw.ImageDraw, float, float], None] | None = None


def paragraph(
    text: str, size_px: int, width_px: float, unit: float, colour: Colour = PAPER
) -> list[Text]:
    """Text in as many lines as a picture of this width needs."""
    room = width_px - 2 * _SIDE * unit
    return [Text(line, size_px, colour) for line in wrapped(text, size_px, room)]


def band(columns: list[list[Text]], width: int, colour: Colour, unit: float) -> Image.Image:
    """A band of text in columns side by side.

    Parameters
    ----------
    columns : lines of each
    width : of the picture, px
    colour : of the ground
    unit : px of one unit, of which a picture has 1600 across
    """
    pad, side = round(_PAD * unit), _SIDE * unit
    heights = [_height(column) for column in columns]
    image = Image.new("RGB", (width, round(2 * pad + max(heights, default=0))), colour)
    draw = ImageDraw.Draw(image)
    indent = _MARK_ROOM * unit
    widths = [_width(column, indent) for column in columns]
    gap = (width - 2 * side - sum(widths)) / max(1, len(columns) - 1)
    x = side
    for column, column_width in zip(columns, widths, strict=True):
        y = float(pad)
        for text in column:
            if text.mark is not None:
                text.mark(draw, x + 0.35 * indent, y + 0.6 * text.size_px)
            start = x + (indent if text.mark is not None else 0.0)
            draw.text((start, y), text.text, text.colour, type_face(text.size_px))
            y += text.size_px * LEADING
        x += column_width + min(gap, 220 * unit)
    return image


def _height(column: Iterable[Text]) -> float:
    return sum(text.size_px * LEADING for text in column)


def _width(column: Iterable[Text], indent: float) -> float:
    return max(
        (
            width_of(text.text, text.size_px) + (indent if text.mark is not None else 0.0)
            for text in column
        ),
        default=0.0,
    )
