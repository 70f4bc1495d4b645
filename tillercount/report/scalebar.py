"""The scale bar of a picture: inches above centimetres."""

from __future__ import annotations

from PIL import Image, ImageDraw

from tillercount.report.marks import INK, PAPER, type_face, width_of
from tillercount.units import MM_PER_IN

__all__ = ["draw_scale_bar"]

_BARS_IN = (1, 2, 4, 6, 12, 24)
_BARS_CM = (2, 5, 10, 20, 50)


def draw_scale_bar(image: Image.Image, mm_per_px: float, unit: float) -> None:
    """Two bars in the lower left corner, on a dark plate.

    Parameters
    ----------
    image : drawn on
    mm_per_px : of the image, at the ground
    unit : px of one unit, of which a picture has 1600 across
    """
    longest = image.width * 0.28
    inches = _longest(_BARS_IN, MM_PER_IN / mm_per_px, longest)
    centimetres = _longest(_BARS_CM, 10.0 / mm_per_px, longest)
    bars = [
        (f"{inches} in", inches * MM_PER_IN / mm_per_px),
        (f"{centimetres} cm", centimetres * 10.0 / mm_per_px),
    ]
    size = round(38 * unit)
    pad, thick = 18 * unit, 10 * unit
    row = size * 1.25
    plate_width = max(length + 16 * unit + width_of(text, size) for text, length in bars) + 2 * pad
    draw = ImageDraw.Draw(image)
    left, top = 24 * unit, image.height - 24 * unit - 2 * row - 2 * pad * 0.6
    draw.rounded_rectangle(
        (left, top, left + plate_width, image.height - 24 * unit), 10 * unit, fill=INK
    )
    for number, (text, length) in enumerate(bars):
        y = top + pad * 0.6 + row * (number + 0.5)
        x = left + pad
        draw.rectangle((x, y - thick / 2, x + length, y + thick / 2), fill=PAPER)
        draw.text((x + length + 16 * unit, y), text, PAPER, type_face(size), anchor="lm")


def _longest(choices: tuple[int, ...], px_each: float, longest_px: float) -> int:
    fitting = [choice for choice in choices if choice * px_each <= longest_px]
    return fitting[-1] if fitting else choices[0]
