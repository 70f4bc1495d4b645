"""The report as a PDF of at most two sheets, from the same blocks as the page."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from tillercount.errors import InputError
from tillercount.plan.mapsheet import PAPERS
from tillercount.report.blocks import Figure, Items, Para, Photos, Table
from tillercount.report.language import Line, plain
from tillercount.report.pdfdrawing import to_pdf
from tillercount.report.pdffont import Fonts, fonts_for
from tillercount.report.sheet import Sheet

__all__ = ["MOST_PAGES", "report_pdf"]

MOST_PAGES = 2
_SIZES = (9.0, 8.6, 8.2, 7.8, 7.4, 7.0, 6.6)
"""Type sizes, points, tried in turn until the report fits."""

_INK, _SOFT, _WHEAT, _WASH, _LINE = "#1b2430", "#4d5866", "#7a4f10", "#f4f1ea", "#c3c9d1"
_MM = 72 / 25.4


_PHOTOS_HEIGHT, _LINES_HEIGHT = 180.0, 40.0
"""Room that a section needs at the foot of a sheet to begin there, pt."""


@dataclass(frozen=True)
class _Setting:
    """Sizes of one attempt, points."""

    size: float
    fonts: Fonts
    width: float

    @property
    def side(self) -> float:
        return 26 * _MM

    def style(self, name: str, size: float = 1.0, ink: str = _INK, **more: Any) -> Any:
        from reportlab.lib.colors import HexColor
        from reportlab.lib.styles import ParagraphStyle

        points = self.size * size
        options = {"fontName": self.fonts.plain, "leading": points * 1.27, "spaceAfter": 2.0} | more
        return ParagraphStyle(name, fontSize=points, textColor=HexColor(ink), **options)


def report_pdf(sheet: Sheet, *, paper: str = "letter") -> bytes:
    """The PDF.

    Raises
    ------
    InputError
        An unknown paper.
    """
    if paper.lower() not in PAPERS:
        raise InputError(f"paper {paper!r} isn't known; use {' or '.join(PAPERS)}")
    fonts = fonts_for(sheet)
    data = b""
    for size in _SIZES:
        data, pages = _attempt(sheet, size, fonts, paper.lower())
        if pages <= MOST_PAGES:
            break
    return data  # rather a third sheet than type that nobody can read


def _attempt(sheet: Sheet, size: float, fonts: Fonts, paper: str) -> tuple[bytes, int]:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    width, height = (inches * 72 for inches in PAPERS[paper])
    margin, top, bottom = 14 * _MM, 13 * _MM, 14 * _MM
    out = io.BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=(width, height),
        title=sheet.title,
        lang=sheet.language,
        invariant=1,
        author="",
        creator="tillercount",
    )
    frame = Frame(margin, bottom, width - 2 * margin, height - top - bottom, 0, 0, 0, 0, id="body")
    setting = _Setting(size, fonts, width - 2 * margin)
    marks: list[int] = []

    def furniture(canvas: Any, page: Any) -> None:
        from reportlab.lib.colors import HexColor

        marks.append(page.page)
        canvas.saveState()
        canvas.setFillColor(HexColor(_INK))
        canvas.rect(margin, height - 9 * _MM, width - 2 * margin, 1.4 * _MM, stroke=0, fill=1)
        canvas.setFont(fonts.plain, 7)
        canvas.setFillColor(HexColor(_SOFT))
        canvas.drawString(margin, 8 * _MM, fonts.clean(plain(sheet.foot)))
        canvas.drawRightString(width - margin, 8 * _MM, str(page.page))
        canvas.restoreState()

    document.addPageTemplates([PageTemplate("page", [frame], onPage=furniture)])
    document.build(list(_story(sheet, setting)))
    return out.getvalue(), len(marks)


def _text(line: Line | str, fonts: Fonts) -> str:
    return escape(fonts.clean(plain(line)))


def _story(sheet: Sheet, setting: _Setting) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, Indenter, Paragraph, Spacer

    fonts = setting.fonts
    report = sheet.speak.words["title.head"]
    head = "&nbsp;&nbsp;&nbsp; ".join(_text(line, fonts) for line in sheet.head)
    bold = f'<font name="{fonts.bold}" color="{_WHEAT}">{_text(report, fonts)}</font>'
    yield Paragraph(f"{bold}&nbsp;&nbsp;&nbsp; {head}", setting.style("head", 0.9, _SOFT))
    yield Paragraph(
        _text(sheet.verdict, fonts),
        setting.style("verdict", 1.8, fontName=fonts.serif, spaceBefore=4, spaceAfter=4),
    )
    box: dict[str, Any] = {
        "borderColor": _WHEAT,
        "borderWidth": 0.8,
        "borderPadding": 3.5,
        "backColor": _WASH,
    }
    boxed = setting.style(
        "box", 1.0, leftIndent=4, rightIndent=4, spaceBefore=5, spaceAfter=7, **box
    )
    if sheet.warning:
        yield Paragraph(_text(sheet.warning, fonts), boxed)
    yield Paragraph(_text(sheet.rules, fonts), setting.style("rules", 0.86, _SOFT))
    if sheet.settle:
        yield Paragraph(_text(sheet.settle, fonts), boxed)
    inner = setting.width - setting.side
    for section in sheet.sections:
        yield Spacer(1, 4)
        # a heading never stands alone at the foot of a sheet
        first = next(iter(section.blocks), None)
        yield CondPageBreak(_PHOTOS_HEIGHT if isinstance(first, Photos) else _LINES_HEIGHT)
        yield _side_title(section.title, setting)
        yield Indenter(left=setting.side)
        for block in section.blocks:
            yield from _block(block, setting, inner)
        yield Indenter(left=-setting.side)


def _side_title(title: str, setting: _Setting) -> Any:
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
            canvas.setStrokeColor(HexColor(_INK))
            canvas.setLineWidth(0.9)
            canvas.line(0, 3, setting.width, 3)
            canvas.setFillColor(HexColor(_WHEAT))
            canvas.setFont(fonts.bold, size)
            for number, text in enumerate(lines):
                canvas.drawString(0, -size * (0.85 + 1.2 * number), text)

    return SideTitle()


def _block(block: Any, setting: _Setting, width: float) -> Iterator[Any]:
    from reportlab.platypus import Paragraph

    if isinstance(block, Para):
        yield Paragraph(_text(block.line, setting.fonts), _para_style(block, setting))
    elif isinstance(block, Items):
        yield from _items(block, setting)
    elif isinstance(block, Table):
        yield _table(block, setting, width)
    elif isinstance(block, Figure):
        yield _figure(block, setting, width)
    elif isinstance(block, Photos):
        yield _photos(block, setting, width)
        if block.note:
            yield Paragraph(_text(block.note, setting.fonts), setting.style("note", 0.86, _SOFT))


def _para_style(block: Para, setting: _Setting) -> Any:
    if block.look == "small":
        return setting.style("small", 0.86, _SOFT)
    if block.look == "strong":
        return setting.style("strong", fontName=setting.fonts.bold)
    return setting.style("para")


def _items(block: Items, setting: _Setting) -> Iterator[Any]:
    from reportlab.platypus import Paragraph

    fonts = setting.fonts
    size = 0.84 if block.small else 1.0
    style = setting.style(
        "item", size, leftIndent=9, bulletIndent=0, spaceAfter=1.4, bulletFontName=fonts.plain
    )
    style.bulletFontSize = style.fontSize
    last = [(block.on_paper, None)] if block.on_paper else []
    for number, (line, source) in enumerate([*block.lines, *last], start=1):
        text = _text(line, fonts)
        if source and block.sources_printed:
            small = f"{setting.size * size * 0.88:.2f}"
            text += f' <font size="{small}" color="{_SOFT}">{_text(source, fonts)}</font>'
        yield Paragraph(text, style, bulletText=f"{number}." if block.ordered else "\u2022")


def _table(block: Table, setting: _Setting, width: float) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.platypus import Paragraph
    from reportlab.platypus import Table as Grid

    fonts = setting.fonts
    size = 0.9

    def cell(line: Line, column: int, font: str) -> Any:
        right: dict[str, Any] = {"alignment": 2} if column in block.numbers else {}
        style = setting.style("cell", size, fontName=font, spaceAfter=0, **right)
        return Paragraph(_text(line, fonts), style)

    rows = [[cell(line, i, fonts.bold) for i, line in enumerate(block.head)]]
    for number, row in enumerate(block.rows):
        font = fonts.bold if number in block.strong else fonts.plain
        rows.append([cell(line, i, font) for i, line in enumerate(row)])
    wants = [
        max(
            min(150.0, stringWidth(fonts.clean(plain(line)), fonts.bold, setting.size * size)) + 12
            for line in column
        )
        for column in zip(block.head, *block.rows, strict=True)
    ]
    widths = [want * width / sum(wants) for want in wants]
    grid = Grid(rows, colWidths=widths, spaceBefore=1, spaceAfter=4)
    look: list[Any] = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, HexColor(_INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, HexColor(_LINE)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ]
    look += [
        ("BACKGROUND", (0, number + 1), (-1, number + 1), HexColor(_WASH))
        for number in block.strong
    ]
    grid.setStyle(look)
    return grid


def _side_by_side(cells: Sequence[Any], widths: Sequence[float]) -> Any:
    from reportlab.platypus import Table as Grid

    grid = Grid([list(cells)], colWidths=list(widths), spaceBefore=2, spaceAfter=3, hAlign="LEFT")
    grid.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 8),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ]
    )
    return grid


def _figure(block: Figure, setting: _Setting, width: float) -> Any:
    from reportlab.platypus import Paragraph

    fonts = setting.fonts
    beside: list[Any] = []
    for mark, line in block.key:
        style = setting.style("key", 0.92, spaceAfter=0)
        small = to_pdf(mark, 17.0, fonts)
        beside.append(
            _side_by_side([small, Paragraph(_text(line, fonts), style)], [23, width * 0.38])
        )
    beside += [Paragraph(_text(p.line, fonts), _para_style(p, setting)) for p in block.lines]
    drawn = min(width * 0.54, 270.0)
    return _side_by_side(
        [to_pdf(block.drawing, drawn, fonts), beside], [drawn + 12, width - drawn - 12]
    )


def _photos(block: Photos, setting: _Setting, width: float) -> Any:
    from reportlab.platypus import Image, Paragraph

    each = min(width / 2, 190.0)
    tallest = _PHOTOS_HEIGHT - 30
    cells = []
    for jpeg, caption, _ in block.pictures:
        image = Image(io.BytesIO(jpeg))
        scale = min((each - 8) / image.imageWidth, tallest / image.imageHeight)
        image.drawWidth, image.drawHeight = image.imageWidth * scale, image.imageHeight * scale
        image.hAlign = "LEFT"
        words = Paragraph(
            _text(caption, setting.fonts), setting.style("caption", 0.88, spaceBefore=2)
        )
        cells.append([image, words])
    return _side_by_side(cells, [each] * len(cells))
