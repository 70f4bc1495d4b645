"""A publisher's line is never shown only converted."""

from __future__ import annotations

import re

import pytest

from tests.report.fields import PUSH, record
from tests.report.reading import text_of
from tillercount.report.language import Speaker, load_words, plain
from tillercount.report.sheet import make_sheet
from tillercount.report.threshold import draw_evidence
from tillercount.report.webpage import report_html

CONVERTED = ("193.8", "290.6", "376.7")


def page(made: dict[str, object]) -> str:
    return text_of(report_html(make_sheet(made, load_words())))


def test_a_metric_report_has_the_publishers_lines_with_metric_behind() -> None:
    text = page(record(PUSH, units="metric"))
    # in the table of classes and in the map's legend
    assert text.count("more than 18, fewer than 27 per ft² (193.8, 290.6 per m²)") == 2
    assert text.count("27 to 35 per ft² (290.6, 376.7 per m²)") == 2
    assert "Lines at 18, 27, 35 plants per ft² (193.8, 290.6, 376.7 per m²)" in text
    assert re.search(
        r"nearest line is at (18|27) plants per ft² \((193\.8|290\.6) per m²\); the field's mean "
        r"is \d+ per m²", text
    )  # fmt: skip


def test_the_figure_names_each_line_in_both_units() -> None:
    made = record(PUSH, units="metric")
    labels = [
        plain(one.text) if isinstance(one.text, tuple) else getattr(one.text, "text", one.text)
        for one in draw_evidence(Speaker(made, load_words()), 0).items
        if hasattr(one, "text")
    ]
    for own, metric in zip(("18 per ft²", "27 per ft²", "35 per ft²"), CONVERTED, strict=True):
        assert own in labels
        assert metric in labels


def test_a_page_in_the_publishers_unit_says_it_once() -> None:
    text = page(record(PUSH))
    assert "more than 18, fewer than 27" in text
    assert not any(one in text for one in CONVERTED)


@pytest.mark.parametrize(("units", "both"), [("us", True), ("metric", False)])
def test_lines_published_per_square_metre(units: str, both: bool) -> None:
    """Lines of other publishers are metric, and a page in US units says these first."""
    made = record(PUSH, units=units)
    for one in made["evidence"]:
        one["lines_per"] = "per_m2"
    text = page(made)
    assert ("more than 193.8, fewer than 290.6 per m² (18, 27 per ft²)" in text) is both
    assert ("more than 193.8, fewer than 290.6" in text) is True
