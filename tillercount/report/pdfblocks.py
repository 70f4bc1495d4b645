"""Blocks of the report set into the PDF."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import Any

from tillercount.report.blocks import Columns, Figure, Items, Para, Photos, Table, wrapped
from tillercount.report.drawing import Drawing
from tillercount.report.pdfdrawing import to_pdf
from tillercount.report.pdfsetting import INK, SOFT, WHEAT, Setting
from tillercount.report.pdftable import GAP, across, side_by_side, table

__all__ = [
    "PHOTOS_HEIGHT",
    "columns_height",
    "figure_height",
    "opening_height",
    "set_block",
    "side_title",
]

PHOTOS_HEIGHT = 156.0
"""Room for the photos with their captions, pt."""
_NEAR = 3
"""A grid among so many blocks of a section is what it begins with: a heading, a line, the grid."""


def side_title(title: str, setting: Setting) -> Any:
    """A rule across, and the heading beside what follows; takes no height of its own."""
    from reportlab.lib.colors import HexColor
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.platypus import Flowable

    fonts, size = setting.fonts, setting.size
    lines: list[str] = []
    for word in fonts.clean(title).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and stringWidth(longer, fonts.bold, size) <= setting.side - 8:
            lines[-1] = longer
        else:
            lines.append(word)

    class SideTitle(Flowable):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__()
            self.keepWithNext = 1

        def wrap(self, *_: float) -> tuple[float, float]:
            return setting.width, 4.0

        def draw(self) -> None:
            canvas = self.canv
            canvas.setStrokeColor(HexColor(INK))
            canvas.setLineWidth(0.9)
            canvas.line(0, 3, setting.width, 3)
            canvas.setFillColor(HexColor(WHEAT))
            canvas.setFont(fonts.bold, size)
            for number, text in enumerate(lines):
                canvas.drawString(0, -size * (0.85 + 1.2 * number), text)

    return SideTitle()


def set_block(block: Any, setting: Setting, width: float) -> Iterator[Any]:
    if isinstance(block, Para):
        yield setting.paragraph(block.line, _para_style(block, setting))
    elif isinstance(block, Items):
        yield from _items(block, setting)
    elif isinstance(block, Table):
        yield from (
            table(part, setting, width) for part in wrapped(block, across(block, setting, width))
        )
    elif isinstance(block, Columns):
        yield _columns(block, setting, width)
    elif isinstance(block, Figure):
        yield _figure(block, setting, width)
    elif isinstance(block, Photos):
        yield _photos(block, setting, width)
        if block.note:
            yield setting.paragraph(block.note, setting.style("note", 0.86, SOFT))


def _columns(block: Columns, setting: Setting, width: float) -> Any:
    each = width / len(block.columns)
    cells = [
        [flow for inner in column for flow in set_block(inner, setting, each - GAP)]
        for column in block.columns
    ]
    return side_by_side(cells, [each] * len(cells))


def _para_style(block: Para, setting: Setting) -> Any:
    if block.look == "small":
        return setting.style("small", 0.86, SOFT)
    if block.look == "fine":
        return setting.style("fine", 0.86)
    if block.look == "label":
        bold = setting.fonts.bold
        return setting.style("label", 0.86, fontName=bold, spaceBefore=3, keepWithNext=1)
    if block.look == "strong":
        return setting.style("strong", fontName=setting.fonts.bold)
    return setting.style("para")


def _items(block: Items, setting: Setting) -> Iterator[Any]:
    from reportlab.platypus import Paragraph

    fonts = setting.fonts
    size = 0.84 if block.small else 1.0
    style = setting.style(
        "item", size, leftIndent=9, bulletIndent=0, spaceAfter=1.4, bulletFontName=fonts.plain
    )
    style.bulletFontSize = style.fontSize
    # the last line never begins a sheet alone
    kept = setting.style(
        "item kept", size, leftIndent=9, bulletIndent=0, spaceAfter=1.4,
        bulletFontName=fonts.plain, keepWithNext=1,
    )  # fmt: skip
    kept.bulletFontSize = kept.fontSize
    last = [(block.on_paper, None)] if block.on_paper else []
    lines = [*block.lines, *last]
    for number, (line, source) in enumerate(lines, start=1):
        text = setting.text(line)
        if source and block.sources_printed:
            small = f"{setting.points(size * 0.88):.2f}"
            text += f' <font size="{small}" color="{SOFT}">{setting.text(source)}</font>'
        own = kept if number == len(lines) - 1 else style
        yield Paragraph(text, own, bulletText=f"{number}." if block.ordered else "\u2022")


def figure_height(block: Figure, setting: Setting) -> float:
    """Of the drawing in a figure, pt."""
    drawing = _drawing(block, setting)
    return _drawn_width(setting) * drawing.height / drawing.width


def columns_height(block: Columns, setting: Setting, width: float) -> float:
    """Of things beside each other, which aren't parted, pt."""
    _, height = _columns(block, setting, width).wrap(width, 1e6)
    return float(height)


def opening_height(blocks: Sequence[Any], setting: Setting, width: float) -> float:
    """Of what a section says up to the first band of its first grid, pt; 0 where none is near."""
    height = 0.0
    for block in blocks[:_NEAR]:
        for flow in set_block(block, setting, width):
            height += float(flow.wrap(width, 1e6)[1]) + flow.getSpaceBefore() + flow.getSpaceAfter()
            if isinstance(block, Table) and block.look == "grid":
                return height
    return 0.0


def _drawing(block: Figure, setting: Setting) -> Drawing:
    return block.smaller if setting.compact and block.smaller is not None else block.drawing


def _drawn_width(setting: Setting) -> float:
    return min((setting.width - setting.side) * 0.54, 270.0)


def _figure(block: Figure, setting: Setting, width: float) -> Any:
    fonts = setting.fonts
    beside: list[Any] = []
    for mark, line in block.key:
        style = setting.style("key", 0.92, spaceAfter=0)
        small = to_pdf(mark, 17.0, fonts)
        beside.append(side_by_side([small, setting.paragraph(line, style)], [23, width * 0.38]))
    beside += [setting.paragraph(p.line, _para_style(p, setting)) for p in block.lines]
    drawn = _drawn_width(setting)
    return side_by_side(
        [to_pdf(_drawing(block, setting), drawn, fonts), beside], [drawn + 12, width - drawn - 12]
    )


def _photos(block: Photos, setting: Setting, width: float) -> Any:
    from reportlab.platypus import Image

    each = min(width / 2, 190.0)
    tallest = PHOTOS_HEIGHT - 30
    cells = []
    for jpeg, caption, _ in block.pictures:
        image = Image(io.BytesIO(jpeg))
        scale = min((each - 8) / image.imageWidth, tallest / image.imageHeight)
        image.drawWidth, image.drawHeight = image.imageWidth * scale, image.imageHeight * scale
        image.hAlign = "LEFT"
        words = setting.paragraph(caption, setting.style("caption", 0.88, spaceBefore=2))
        cells.append([image, words])
    return side_by_side(cells, [each] * len(cells))
