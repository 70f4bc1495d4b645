"""Once early nitrogen is no choice any more: what is left to decide, and what is still said."""

from __future__ import annotations

import pytest

from tests.report.fields import CLOSE, record
from tests.report.reading import text_of
from tests.stand.fields import field
from tests.stand.test_topdress import made
from tillercount.report.language import load_words, plain
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.settle import counting_helps

BETWEEN = [27.0, 25.0, 29.0, 26.0, 28.0]
"""Plants per ft² near the trade's border of 27: thin but worth keeping, or on target."""


def test_before_feekes_5_the_class_is_worth_counting_for() -> None:
    result = assess(field(BETWEEN), stage="Feekes 4")
    assert result.plants is not None
    assert not result.plants.clear
    assert result.verdict.settle
    assert "nothing is left to decide" not in result.verdict.headline


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        ("Feekes 5", "what is left of the nitrogen is due now"),
        ("Feekes 6", "what is left of the nitrogen is due now"),
        ("Feekes 7", "it is late for nitrogen"),
        ("heading", "it is late for nitrogen"),
    ],
)
def test_nobody_counts_for_classes_that_ask_the_same(stage: str, said: str) -> None:
    result = assess(field(BETWEEN), stage=stage)
    assert result.plants is not None
    assert not result.plants.clear
    assert not counting_helps(result.plants)
    assert result.verdict.settle == ""
    assert f"either way {said}, and nothing is left to decide by this count" in (
        result.verdict.headline
    )
    assert not any("Count" in one.text for one in result.verdict.actions)


def test_whether_a_stand_stays_is_still_to_be_decided() -> None:
    """17 and 20 plants: too thin or not is a question at any stage."""
    result = assess(field([17.0, 20.0, 18.0, 19.0, 17.5]), stage="Feekes 7")
    assert result.plants is not None
    assert "nothing is left to decide" not in result.verdict.headline
    assert result.verdict.settle


@pytest.mark.parametrize(("stage", "whole"), [("Feekes 5", True), ("Feekes 6", True),
                                              ("Feekes 7", False), ("GS58", False)])  # fmt: skip
def test_no_whole_as_if_it_were_to_go_on(stage: str, whole: bool) -> None:
    plan = assess(field(BETWEEN), stage=stage, yield_goal=80.0).nitrogen
    assert plan is not None
    assert any("88-120 lb" in line for line in plan.lines) == whole
    assert any("don't count on the yield goal" in line for line in plan.lines) != whole


def test_past_feekes_10_nothing_is_quoted_of_earlier_stages() -> None:
    text = " ".join(made(field(BETWEEN), stage="GS58").flags)
    assert "up until Feekes 10 (common practice), which is past" in text
    assert "Feekes 7 to 9" not in text
    assert "which is past" not in " ".join(made(field(BETWEEN), stage="Feekes 8").flags)


def test_the_report_says_late_before_the_pounds_and_once() -> None:
    page = record(CLOSE, stage="Feekes 7")
    assert page["nitrogen"]["total"] is None
    assert page["nitrogen"]["balance"] is None
    first = " ".join(page["nitrogen"]["first"])
    for words in ("is late for nitrogen", "Wheels break jointed stems"):
        assert words in first
        assert not any(words in flag for flag in page["flags"])
    text = text_of(report_html(make_sheet(page, load_words())))
    assert "push spring tillers" not in text
    assert "is late for nitrogen" in text
    early = record(CLOSE, stage="Feekes 3")
    assert early["nitrogen"]["total"] is not None
    assert "push spring tillers" in text_of(report_html(make_sheet(early, load_words())))


def test_the_report_headline_of_a_clear_stand_says_once_by_what_count() -> None:
    said = plain(make_sheet(record(stage="Feekes 6"), load_words()).verdict)
    assert said.count("by the count of") == 1
    assert "By the count" not in said
