"""Classes that come to the same: said plainly, and nobody is sent out to tell them apart."""

from __future__ import annotations

import re

import pytest

from tests.report.reading import text_of
from tests.stand.fields import field, shoots_only
from tillercount.cli.verdict import show_assessment
from tillercount.report.language import load_words
from tillercount.report.page import page_html
from tillercount.report.record import build_record
from tillercount.report.ruling import verdict_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import Assessment, assess
from tillercount.stand.alike import same_done, same_meaning

ENOUGH_OR_MANY = shoots_only([88, 93, 85, 92, 95, 87])
NEARLY_OR_FULL = field([20, 23, 21, 24, 22, 21], each=None)


def screen(result: Assessment, capsys: pytest.CaptureFixture[str]) -> str:
    show_assessment(result)
    return re.sub(r"\s+", " ", capsys.readouterr().out)


def sends_out(text: str) -> bool:
    return bool(re.search(r"[Cc]ount (about )?\d+ more|more spots|Decide by other", text))


@pytest.mark.parametrize(
    ("counts", "done"), [(ENOUGH_OR_MANY, "no early nitrogen"), (NEARLY_OR_FULL, "keep the stand")]
)
def test_nobody_counts_for_what_changes_nothing(
    counts: object, done: str, capsys: pytest.CaptureFixture[str]
) -> None:
    result = assess(counts, "pennsylvania-stand", stage="Feekes 3", yield_goal=80.0)
    assert result.verdict.clear is False  # as the chances have it
    assert max(result.verdict.probabilities.values()) < 0.6
    assert same_done(result.decided_by) == done
    assert result.verdict.headline.count(f": either way {done}.") == 1
    assert "close to call" not in result.verdict.headline
    assert (result.verdict.settle, result.verdict.counting_helps) == ("", False)
    assert result.nitrogen is not None
    assert result.nitrogen.advice != "undecided"
    page = text_of(page_html(result)).partition("How it was worked out")[0]
    for text in (screen(result, capsys), page, " ".join(result.nitrogen.lines)):
        assert not sends_out(text)
        assert "close to call" not in text
    assert any(one.text for one in result.verdict.actions)
    assert all(one.text for one in result.verdict.actions)


def test_the_sheet_says_the_same() -> None:
    plants = assess(NEARLY_OR_FULL, "pennsylvania-stand", stage="Feekes 3")
    assert verdict_record(plants)["kind"] == "alike"
    sheet = text_of(report_html(make_sheet(build_record(plants, None), load_words())))
    assert "likely “full stand”; either way keep the stand." in sheet
    assert verdict_record(assess(ENOUGH_OR_MANY, "pennsylvania-stand"))["kind"] == "hold"


def test_tillers_beside_plants() -> None:
    result = assess(field([24, 25, 24.5, 25.5], each=3.6), "pennsylvania-stand", stage="Feekes 3")
    assert result.shoots is not None
    assert not result.shoots.clear
    assert same_done(result.shoots)
    assert result.verdict.headline.count("either way no early nitrogen.") == 1
    assert not any("For the tillers alone" in one.text for one in result.verdict.actions)


def test_other_pounds_are_worth_counting_for() -> None:
    """Kentucky: 50 lb below 70 tillers, 30 lb above: some either way, but not as much."""
    result = assess(shoots_only([68, 73, 66, 72, 75, 67]), "kentucky-stand", stage="Feekes 3")
    assert same_meaning(result.decided_by, None) == "some nitrogen early"
    assert same_done(result.decided_by) == ""
    assert "some nitrogen early, and only how much isn't clear yet." in result.verdict.headline
    assert result.verdict.headline.count("some nitrogen early") == 1
    assert result.verdict.counting_helps
    assert sends_out(result.verdict.settle)


@pytest.mark.parametrize(
    ("counts", "rules"),
    [
        (field([26.0, 24.0, 27.0, 26.0, 25.0, 28.0]), "common-practice"),  # push or hold
        (field([17.0, 18.0, 19.0, 17.5, 18.5]), "common-practice"),  # think again, or push
        (shoots_only([90]), "pennsylvania-stand"),  # one spot says nothing of a field
        (field([18, 17.5, 18.5, 18.2], each=None), "pennsylvania-stand"),  # other things to do
    ],
)
def test_where_it_matters_it_stays_too_close(counts: object, rules: str) -> None:
    result = assess(counts, rules, stage="Feekes 3")
    assert same_done(result.decided_by) == ""
    assert "either way" not in result.verdict.headline
