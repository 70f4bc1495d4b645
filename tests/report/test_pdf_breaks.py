"""A heading never stands at the foot of a sheet with its map on the next."""

from __future__ import annotations

import pytest
from reportlab.platypus import CondPageBreak

from tests.report.fields import PUSH, record
from tillercount.report.blocks import Columns, Figure, Items, Table
from tillercount.report.language import load_words
from tillercount.report.pdf import _story
from tillercount.report.pdfblocks import columns_height, figure_height, set_block
from tillercount.report.pdffont import fonts_for
from tillercount.report.pdfsetting import Setting
from tillercount.report.pdftable import table
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


@pytest.mark.parametrize("look", ["grid", ""])
def test_the_head_of_a_table_keeps_its_figures(look: str) -> None:
    """A grid of spots is parted between its bands, any other table below its first row."""
    sheet = make_sheet(record(PUSH), load_words())
    setting = Setting(9.0, fonts_for(sheet), 500.0)
    rows = [[(f"row {n}",), ("24",), ("27",)] for n in range(6)]
    made = table(Table([("Spot",), ("1",), ("2",)], rows, look=look), setting, 400.0)
    _, height = made.wrap(400.0, 1000.0)
    parted = {room: len(made.split(400.0, room)) for room in range(8, int(height), 4)}
    assert parted[8] == 0  # all of it on the next sheet
    head, first = made._rowHeights[:2]
    for room, parts in parted.items():
        assert (parts == 2) == (look == "" and room >= head + first), room


def test_room_for_the_first_band_of_spots() -> None:
    sheet = make_sheet(record([20.0 + n % 5 for n in range(24)]), load_words())
    setting = Setting(9.0, fonts_for(sheet), 500.0)
    breaks = [one for one in _story(sheet, setting) if isinstance(one, CondPageBreak)]
    ((room, blocks),) = [
        (room, section.blocks)
        for section, room in zip(sheet.sections, breaks, strict=True)
        if any(isinstance(one, Table) and one.look == "grid" for one in section.blocks)
    ]
    grid = next(one for one in blocks if isinstance(one, Table) and one.look == "grid")
    band = next(iter(set_block(grid, setting, 500.0 - setting.side)))
    assert room.height > band.wrap(500.0 - setting.side, 1e6)[1] > 40
