"""A drawing of the report set into the PDF."""

from __future__ import annotations

from typing import Any

from tillercount.report.drawing import Circle, Drawing, Label, Look, Shape
from tillercount.report.language import plain
from tillercount.report.pdffont import Fonts
from tillercount.report.pdfsetting import SMALLEST

__all__ = ["to_pdf"]


def to_pdf(drawing: Drawing, width: float, fonts: Fonts) -> Any:
    """The drawing so many points wide, as something that reportlab sets between paragraphs."""
    from reportlab.platypus import Flowable

    scale = width / drawing.width

    class Drawn(Flowable):  # type: ignore[misc]
        def wrap(self, *_: float) -> tuple[float, float]:
            return width, drawing.height * scale

        def draw(self) -> None:
            canvas = self.canv
            canvas.saveState()
            # From y down to y up; letters are turned back one by one.
            canvas.translate(0, drawing.height * scale)
            canvas.scale(scale, -scale)
            for item in drawing.items:
                _draw(canvas, item, fonts, SMALLEST / scale)
            canvas.restoreState()

    return Drawn()


def _draw(canvas: Any, item: Shape | Circle | Label, fonts: Fonts, smallest: float) -> None:
    if isinstance(item, Label):
        _letters(canvas, item, fonts, smallest)
        return
    fill, stroke = _set(canvas, item.look)
    if isinstance(item, Circle):
        canvas.circle(item.x, item.y, item.radius, stroke=stroke, fill=fill)
        return
    path = canvas.beginPath()
    for ring in item.rings:
        path.moveTo(*ring[0])
        for point in ring[1:]:
            path.lineTo(*point)
        if item.closed:
            path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=0)  # even-odd, so that holes stay


def _set(canvas: Any, look: Look) -> tuple[int, int]:
    from reportlab.lib.colors import HexColor

    if look.fill:
        canvas.setFillColor(HexColor(look.fill))
    if look.line:
        canvas.setStrokeColor(HexColor(look.line))
        canvas.setLineWidth(look.width)
        canvas.setDash(*(([list(look.dash)]) if look.dash else ([],)))
    return int(look.fill is not None), int(look.line is not None)


def _letters(canvas: Any, label: Label, fonts: Fonts, smallest: float) -> None:
    from reportlab.lib.colors import HexColor

    text = label.text
    shown = plain(text) if isinstance(text, tuple | str) else text.text
    canvas.saveState()
    canvas.translate(label.x, label.y)
    canvas.scale(1, -1)
    canvas.setFillColor(HexColor(label.ink))
    canvas.setFont(fonts.bold if label.bold else fonts.plain, max(label.size, smallest))
    draw = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }[label.anchor]
    draw(0, 0, fonts.clean(shown))
    canvas.restoreState()
