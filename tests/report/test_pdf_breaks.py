"""A heading never stands at the foot of a sheet with its map on the next."""

from __future__ import annotations

from reportlab.platypus import CondPageBreak

from tests.report.fields import PUSH, record
from tillercount.report.blocks import Figure
from tillercount.report.language import load_words
from tillercount.report.pdf import _story
from tillercount.report.pdfblocks import figure_height
from tillercount.report.pdffont import fonts_for
from tillercount.report.pdfsetting import Setting
from tillercount.report.sheet import make_sheet


def test_room_for_the_figure_that_a_section_begins_with() -> None:
    sheet = make_sheet(record(PUSH), load_words())
    setting = Setting(9.0, fonts_for(sheet), 500.0)
    breaks = [one for one in _story(sheet, setting) if isinstance(one, CondPageBreak)]
    assert len(breaks) == len(sheet.sections)
    found = 0
    for section, room in zip(sheet.sections, breaks, strict=True):
        first = next(iter(section.blocks), None)
        if isinstance(first, Figure):
            found += 1
            assert room.height >= figure_height(first, setting)
    assert found >= 2  # the classes and the map
