"""The report as a PDF of two sheets, three where there is much to say, from the page's blocks."""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from typing import Any

from tillercount.errors import InputError
from tillercount.plan.mapsheet import PAPERS
from tillercount.report.blocks import Columns, Figure, Photos
from tillercount.report.language import plain
from tillercount.report.pdfblocks import (
    PHOTOS_HEIGHT,
    columns_height,
    figure_height,
    opening_height,
    set_block,
    side_title,
)
from tillercount.report.pdffont import Fonts, fonts_for
from tillercount.report.pdfsetting import INK, MM, SMALLEST, SOFT, WASH, WHEAT, Setting
from tillercount.report.sheet import Sheet

__all__ = ["MOST_PAGES", "report_pdf"]

MOST_PAGES = 3
_SIZES = (9.0, 8.6, 8.2, 7.9)
"""Type sizes, points, tried in turn until the report fits two sheets; what doesn't even in the
smallest gets three, in the largest that fits those, or as many as it takes. Small print is a share
of them, but never under `tillercount.report.pdfsetting.SMALLEST`."""

_COMPACT = (False, True)
"""The small map is tried before smaller type: one that just doesn't fit leaves the foot of a sheet
empty."""

_LINES_HEIGHT = 40.0
"""Room that a section needs at the foot of a sheet to begin there, pt."""
_MOST_ROOM = 680.0
"""Less than the height of any sheet, pt."""


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
    ways = list(itertools.product(_SIZES, _COMPACT))
    tried = {}
    for most in range(2, MOST_PAGES + 1):
        for way in ways:
            if way not in tried:
                tried[way] = _attempt(sheet, *way, fonts, paper.lower())
            data, pages = tried[way]
            if pages <= most:
                return data
    return tried[ways[-1]][0]


def _attempt(
    sheet: Sheet, size: float, compact: bool, fonts: Fonts, paper: str
) -> tuple[bytes, int]:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    width, height = (inches * 72 for inches in PAPERS[paper])
    margin, top, bottom = 14 * MM, 13 * MM, 14 * MM
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
    setting = Setting(size, fonts, width - 2 * margin, compact)
    marks: list[int] = []

    def furniture(canvas: Any, page: Any) -> None:
        from reportlab.lib.colors import HexColor

        marks.append(page.page)
        canvas.saveState()
        canvas.setFillColor(HexColor(INK))
        canvas.rect(margin, height - 9 * MM, width - 2 * margin, 1.4 * MM, stroke=0, fill=1)
        canvas.setFont(fonts.plain, SMALLEST)
        canvas.setFillColor(HexColor(SOFT))
        canvas.drawString(margin, 8 * MM, fonts.clean(plain(sheet.foot)))
        canvas.drawRightString(width - margin, 8 * MM, str(page.page))
        canvas.restoreState()

    document.addPageTemplates([PageTemplate("page", [frame], onPage=furniture)])
    document.build(list(_story(sheet, setting)))
    return out.getvalue(), len(marks)


def _story(sheet: Sheet, setting: Setting) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, Indenter, Paragraph, Spacer

    fonts = setting.fonts
    report = sheet.speak.words["title.head"]
    head = "&nbsp;&nbsp;&nbsp; ".join(setting.text(line) for line in sheet.head)
    bold = f'<font name="{fonts.bold}" color="{WHEAT}">{setting.text(report)}</font>'
    yield Paragraph(f"{bold}&nbsp;&nbsp;&nbsp; {head}", setting.style("head", 0.9, SOFT))
    yield setting.paragraph(
        sheet.verdict,
        setting.style("verdict", 1.8, fontName=fonts.serif, spaceBefore=4, spaceAfter=4),
    )
    box: dict[str, Any] = {
        "borderColor": WHEAT,
        "borderWidth": 0.8,
        "borderPadding": 3.5,
        "backColor": WASH,
    }
    boxed = setting.style(
        "box", 1.0, leftIndent=4, rightIndent=4, spaceBefore=5, spaceAfter=7, **box
    )
    if sheet.warning:
        yield setting.paragraph(sheet.warning, boxed)
    yield setting.paragraph(sheet.rules, setting.style("rules", 0.86, SOFT))
    inner = setting.width - setting.side
    for section in sheet.sections:
        yield Spacer(1, 4)
        # a heading never stands alone at the foot of a sheet
        first = next(iter(section.blocks), None)
        room = PHOTOS_HEIGHT if isinstance(first, Photos) else _LINES_HEIGHT
        if isinstance(first, Figure):  # which isn't parted
            room += figure_height(first, setting)
        if isinstance(first, Columns):
            # more than a sheet is parted all the same
            room = min(room + columns_height(first, setting, inner), _MOST_ROOM)
        # a grid of spots isn't parted either, and what leads to it says nothing without it
        room = max(room, min(opening_height(section.blocks, setting, inner), _MOST_ROOM))
        yield CondPageBreak(room)
        yield side_title(section.title, setting)
        yield Indenter(left=setting.side)
        for block in section.blocks:
            yield from set_block(block, setting, inner)
        yield Indenter(left=-setting.side)
