"""A heading never stands at the foot of a sheet with its map on the next."""

from __future__ import annotations

from reportlab.platypus import CondPageBreak

from tests.report.fields import PUSH, record
from tillercount.report.blocks import Columns, Figure, Items
from tillercount.report.language import load_words
from tillercount.report.pdf import _story
from tillercount.report.pdfblocks import columns_height, figure_height, set_block
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


def test_room_for_the_columns_that_a_section_begins_with() -> None:
    """They aren't parted, so their heading would stay at the foot of the sheet before."""
    sheet = make_sheet(record(PUSH), load_words())
    setting = Setting(9.0, fonts_for(sheet), 500.0)
    breaks = [one for one in _story(sheet, setting) if isinstance(one, CondPageBreak)]
    ((room, first),) = [
        (room, section.blocks[0])
        for section, room in zip(sheet.sections, breaks, strict=True)
        if isinstance(section.blocks[0], Columns)
    ]
    assert 100 < columns_height(first, setting, 500.0 - setting.side) <= room.height < 700


def test_the_last_line_of_a_list_is_kept_with_the_one_before() -> None:
    sheet = make_sheet(record(PUSH), load_words())
    setting = Setting(9.0, fonts_for(sheet), 500.0)
    for count in (1, 2, 5):
        flows = list(set_block(Items([(("a line",), None)] * count), setting, 400.0))
        kept = [bool(flow.getKeepWithNext()) for flow in flows]
        assert kept == [n == count - 2 for n in range(count)]
