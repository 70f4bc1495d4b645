"""A wide range of yield says which of its parts makes it so, and what would narrow it."""

from __future__ import annotations

import html
import re

import pytest

from tests.report.fields import record
from tests.stand.fields import field
from tillercount.report.language import load_words
from tillercount.report.page import page_html
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.assessment import Assessment
from tillercount.stand.expect import Expectation
from tillercount.stand.wide import WIDE, why_wide

EVEN = [22.0, 24.0, 23.0, 25.0, 21.0, 24.0, 23.0, 22.0]


def judged(counts: list[float] = EVEN) -> Assessment:
    return assess(field(counts), yield_goal="80 bu/ac", stage="Feekes 3")


def made(low: float, high: float, unit: str) -> Expectation:
    return Expectation(low, high, unit, (), (0.9, 1.1))


@pytest.mark.parametrize(
    ("heads", "bushels", "says"),
    [
        ((40, 60), (40, 100), False),  # 2.5 times and no more
        ((40, 60), (40, 101), True),
        ((20, 60), (20, 61), False),  # the heads make it so
        ((40, 60), (0, 100), False),
    ],
)
def test_said_where_what_a_head_yields_makes_it_wide(
    heads: tuple[float, float], bushels: tuple[float, float], says: bool
) -> None:
    said = why_wide(made(*heads, "heads/ft2"), made(*bushels, "bu/ac"))
    assert (said is not None) == says
    if said is not None:
        for words, most in ((said.text, 145), (said.short, 60)):
            assert len(words) < most
            assert not re.search(r"\d", words)  # no figure that nobody reckoned


def test_nothing_where_no_yield_is_told() -> None:
    assert why_wide(None, None) is None
    assert judged([27.0]).to_json()["yield_wide"] is None


def test_screen_page_and_report_say_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    from tillercount.cli.verdict import show_assessment

    result = judged()
    bushels = result.yield_
    assert bushels is not None
    assert bushels.high > WIDE * bushels.low
    said = result.to_json()["yield_wide"]
    assert "what a head yields" in said
    show_assessment(result)
    screen = capsys.readouterr().out.splitlines()
    (line,) = [one for one in screen if one.startswith("yield ")]
    assert line.rstrip().endswith("wide by yield per head, which spots can't tell")
    assert said in html.unescape(page_html(result))
    sheet = record(EVEN)
    assert sheet["expected"]["why_wide"] == f"{said[0].upper()}{said[1:]}."
    text = re.sub("<[^>]*>", "", report_html(make_sheet(sheet, load_words())))
    assert sheet["expected"]["why_wide"] in html.unescape(text)
