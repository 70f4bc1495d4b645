"""What was noticed about the outline stands in the written report, where the map is."""

from __future__ import annotations

from dataclasses import replace

from tests.report.fields import PUSH, SQUARE, field
from tests.report.reading import text_of
from tillercount.plan import read_field
from tillercount.report.fieldmap import map_record
from tillercount.report.language import load_words
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html

WORDS = load_words()
LOST = "field.csv: latitude and longitude stood the wrong way round"
TWO = "field.kml: the field lies in 2 parts; taken as one field"


def page(doubt: str = "", notes: tuple[str, ...] = ()) -> str:
    a = field(PUSH)
    outline = replace(read_field(SQUARE), doubt=doubt, notes=notes)
    made = build_record(a, ground=map_record(a, outline))
    return text_of(report_html(make_sheet(made, WORDS)))


def test_a_doubt_and_notes_are_on_the_page() -> None:
    text = page(LOST, (TWO,))
    assert text.index(f"{LOST}.") < text.index(f"{TWO}.")
    assert text.count(LOST) == text.count(TWO) == 1
    assert text.index("Where") < text.index(LOST)


def test_nothing_is_said_where_nothing_was_noticed() -> None:
    assert "field.csv" not in page()
