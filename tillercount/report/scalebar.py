"""The scale bar below a picture: inches, and centimetres beside them."""

from __future__ import annotations

from PIL import Image, ImageDraw

from tillercount.report.marks import INK, PAPER, type_face, width_of
from tillercount.units import MM_PER_IN

__all__ = ["scale_band"]

_BARS_IN = (1, 2, 4, 6, 12, 24)
_BARS_CM = (2, 5, 10, 20, 50)
_SIDE = 40
"""Margin at the sides, in units of a picture 1600 px wide; as the bands of text have it."""


def scale_band(width: int, mm_per_px: float, unit: float) -> Image.Image:
    """A band with two bars, to go below a picture, where it hides neither ground nor frame.

    Parameters
    ----------
    width : of the picture, px
    mm_per_px : of the picture, at the ground
    unit : px of one unit, of which a picture has 1600 across
    """
    longest = width * 0.28
    inches = _longest(_BARS_IN, MM_PER_IN / mm_per_px, longest)
    centimetres = _longest(_BARS_CM, 10.0 / mm_per_px, longest)
    bars = [
        (f"{inches} in", inches * MM_PER_IN / mm_per_px),
        (f"{centimetres} cm", centimetres * 10.0 / mm_per_px),
    ]
    size = round(38 * unit)
    side, pad, thick, between, row = _SIDE * unit, 18 * unit, 10 * unit, 16 * unit, size * 1.25
    lengths = [length + between + width_of(text, size) for text, length in bars]
    # Below each other where there is no room side by side.
    apart = 3 * side
    beside = 2 * side + sum(lengths) + apart <= width
    rows = 1 if beside else 2
    image = Image.new("RGB", (width, round(2 * pad + rows * row)), INK)
    draw = ImageDraw.Draw(image)
    for number, (text, length) in enumerate(bars):
        x = side + (number * (lengths[0] + apart) if beside else 0.0)
        y = pad + row * (0.5 if beside else number + 0.5)
        draw.rectangle((x, y - thick / 2, x + length, y + thick / 2), fill=PAPER)
        draw.text((x + length + between, y), text, PAPER, type_face(size), anchor="lm")
    return image


def _longest(choices: tuple[int, ...], px_each: float, longest_px: float) -> int:
    fitting = [choice for choice in choices if choice * px_each <= longest_px]
    return fitting[-1] if fitting else choices[0]
