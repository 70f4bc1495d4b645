"""A drawing in plain shapes, so that one and the same goes into the page and into the PDF.

x to the right, y down, in units of about one pixel on a phone; ink only in grey, so that nothing
is lost in black and white.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Literal

from tillercount.report.language import Line, Shown

__all__ = ["Circle", "Drawing", "Item", "Label", "Look", "Shape", "hatch", "to_svg"]

INK, SOFT, FAINT, PAPER = "#1b2430", "#4d5866", "#c3c9d1", "#ffffff"


@dataclass(frozen=True)
class Look:
    """Fill, line, width of the line and dashes; None for no fill or no line."""

    fill: str | None = None
    line: str | None = None
    width: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Shape:
    """Rings of points, closed and filled (holes stay empty), or an open line."""

    rings: tuple[tuple[tuple[float, float], ...], ...]
    look: Look
    closed: bool = True


@dataclass(frozen=True)
class Circle:
    x: float
    y: float
    radius: float
    look: Look


@dataclass(frozen=True)
class Label:
    """Text on its base line."""

    x: float
    y: float
    text: Line | Shown | str
    size: float = 11.0
    bold: bool = False
    anchor: Literal["start", "middle", "end"] = "middle"
    ink: str = INK


Item = Shape | Circle | Label


@dataclass
class Drawing:
    """What is drawn, bottom first; ``words`` tells it to who can't see it."""

    width: float
    height: float
    words: str = ""
    items: list[Item] = field(default_factory=list)

    def rect(self, x: float, y: float, w: float, h: float, look: Look) -> None:
        """A rectangle by its upper left corner."""
        self.items.append(Shape((((x, y), (x + w, y), (x + w, y + h), (x, y + h)),), look))

    def line(self, points: Sequence[tuple[float, float]], look: Look) -> None:
        """An open line."""
        self.items.append(Shape((tuple(points),), look, closed=False))


def hatch(
    rings: Sequence[Sequence[tuple[float, float]]], step: float, *, rising: bool = True
) -> Iterable[tuple[tuple[float, float], ...]]:
    """Slanting lines over an area, cut at its edge."""
    import shapely

    area = shapely.Polygon(rings[0], rings[1:])
    if not area.is_valid:
        area = area.buffer(0)
    if area.is_empty:
        return  # so small that rounding has closed it
    left, low, right, high = area.bounds
    reach = high - low
    lines = []
    start = left - reach
    while start < right:
        ends = ((start, high), (start + reach, low)) if rising else (
            (start, low), (start + reach, high)
        )  # fmt: skip
        lines.append(shapely.LineString(ends))
        start += step
    for piece in shapely.get_parts(shapely.intersection(shapely.multilinestrings(lines), area)):
        if piece.geom_type == "LineString" and piece.length > 0.3:
            yield tuple((float(x), float(y)) for x, y in piece.coords)


def to_svg(drawing: Drawing, name: str, *, hidden: bool = False) -> str:
    """The drawing as inline SVG; ``name`` is its class on the page.

    ``hidden`` keeps from a screen reader what the words beside it say already.
    """
    told = 'aria-hidden="true"' if hidden else f'role="img" aria-label="{escape(drawing.words)}"'
    out = [f'<svg class="{name}" viewBox="0 0 {drawing.width:g} {drawing.height:g}" {told}>']
    for item in drawing.items:
        if isinstance(item, Label):
            out.append(_text(item))
        elif isinstance(item, Circle):
            out.append(
                f'<circle cx="{item.x:.1f}" cy="{item.y:.1f}" r="{item.radius:.1f}" '
                f"{_look(item.look)}/>"
            )
        else:
            path = " ".join(
                "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in ring) + ("Z" if item.closed else "")
                for ring in item.rings
            )
            out.append(f'<path d="{path}" fill-rule="evenodd" {_look(item.look)}/>')
    out.append("</svg>")
    return "\n".join(out)


def _look(look: Look) -> str:
    text = f'fill="{look.fill or "none"}"'
    if look.line:
        text += f' stroke="{look.line}" stroke-width="{look.width:g}"'
        if look.dash:
            text += f' stroke-dasharray="{" ".join(f"{d:g}" for d in look.dash)}"'
    return text


def _text(label: Label) -> str:
    pieces = label.text if isinstance(label.text, tuple) else (label.text,)
    weight = ' font-weight="700"' if label.bold else ""
    return (
        f'<text x="{label.x:.1f}" y="{label.y:.1f}" font-size="{label.size:g}"{weight} '
        f'text-anchor="{label.anchor}" fill="{label.ink}">{"".join(map(_piece, pieces))}</text>'
    )


def _piece(piece: Shown | str) -> str:
    if isinstance(piece, str):
        return escape(piece)
    return (
        f'<tspan data-at="{escape(piece.at)}" data-kind="{piece.kind}">{escape(piece.text)}</tspan>'
    )
