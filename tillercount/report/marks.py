"""Colours, type and small marks of the overlay picture.

Chosen to stay apart in strong sun, in grey and for colour-blind eyes: kinds differ in shape and
size first, in lightness second, in colour last.
"""

from __future__ import annotations

import functools
import unicodedata

from PIL import ImageDraw, ImageFont

__all__ = [
    "HONEY",
    "INK",
    "LILAC",
    "MUTED",
    "PAPER",
    "RUST",
    "Colour",
    "drawable",
    "line",
    "plant",
    "shoot",
    "type_face",
    "width_of",
    "wrapped",
]

Colour = tuple[int, int, int]

INK: Colour = (36, 27, 46)
PAPER: Colour = (248, 241, 226)
MUTED: Colour = (188, 176, 190)
HONEY: Colour = (238, 184, 92)
LILAC: Colour = (206, 184, 240)
RUST: Colour = (104, 42, 34)


@functools.lru_cache(maxsize=64)
def type_face(size_px: int) -> ImageFont.FreeTypeFont:
    """Pillow's own scalable face, so that every machine draws the same letters."""
    face = ImageFont.load_default(size_px)
    if not isinstance(face, ImageFont.FreeTypeFont):
        raise RuntimeError("Pillow was built without FreeType; install a regular Pillow wheel")
    return face


# The face holds little more than ASCII: what else stands in for signs that texts here use.
_STAND_INS = str.maketrans(
    {
        "–": "-",
        "—": "-",
        "−": "-",
        "×": "x",
        "²": "2",
        "‘": "'",
        "’": "'",
        "“": '"',
        "”": '"',
        "…": "...",
        "≥": "at least ",
        "≤": "at most ",
        "≈": "about ",
        "±": "+/-",
        "\u00a0": " ",
        "\u202f": " ",
    }
)


def drawable(text: str) -> str:
    """Text with signs that the face lacks put in others, so that no empty boxes are drawn.

    Letters with accents lose them; what is left over becomes a question mark.
    """
    if all(map(_has_shape, text)):
        return text
    plain = unicodedata.normalize("NFKD", text.translate(_STAND_INS)).replace("\u2044", "/")
    bare = (sign for sign in plain if not unicodedata.combining(sign))
    return "".join(sign if _has_shape(sign) else "?" for sign in bare)


@functools.cache
def _has_shape(sign: str) -> bool:
    face = type_face(24)
    # The private-use sign is in no face: what it gives is the box for missing signs.
    return sign == " " or bytes(face.getmask(sign)) != bytes(face.getmask("\ue000"))


def width_of(text: str, size_px: int) -> float:
    """Width of one line of text, px."""
    return float(type_face(size_px).getlength(text))


def wrapped(text: str, size_px: int, width_px: float) -> list[str]:
    """Text in lines of at most this width, broken between words."""
    lines: list[str] = []
    for word in drawable(text).split():
        if lines and width_of(f"{lines[-1]} {word}", size_px) <= width_px:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def plant(draw: ImageDraw.ImageDraw, x: float, y: float, size_px: float) -> None:
    """A plant: a light open ring between two dark ones."""
    stroke = max(2.0, size_px * 0.28)
    for radius, width, colour in (
        (size_px + stroke * 0.8, stroke * 2.6, INK),
        (size_px, stroke, PAPER),
    ):
        box = (x - radius, y - radius, x + radius, y + radius)
        draw.ellipse(box, outline=colour, width=max(2, round(width)))


def shoot(draw: ImageDraw.ImageDraw, x: float, y: float, size_px: float) -> None:
    """A shoot: a small filled diamond."""
    for reach, colour in ((size_px * 1.5, INK), (size_px, LILAC)):
        draw.polygon([(x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)], fill=colour)


def line(draw: ImageDraw.ImageDraw, points: list[tuple[float, float]], width_px: float) -> None:
    """A closed outline: honey on a dark casing."""
    ring = [*points, points[0], points[1]]
    draw.line(ring, fill=INK, width=max(3, round(width_px * 2)), joint="curve")
    draw.line(ring, fill=HONEY, width=max(2, round(width_px)), joint="curve")
