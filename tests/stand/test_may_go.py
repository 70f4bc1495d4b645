"""No pounds without the sentence that the stand may not be worth any, at any stage."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.helpers import tillercount, write_counts
from tests.report.fields import record as page_record
from tests.report.reading import text_of
from tests.stand.fields import field
from tests.stand.test_late import BETWEEN
from tests.stand.test_topdress import made
from tillercount.report.language import load_words
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.dressing import record, sections

PLANTS = [15.0, 22.0, 17.0, 21.0, 16.0, 20.0, 18.0, 19.0]
"""Plants per ft² near the trade's border of 18: too thin, or thin but worth keeping."""
STAGES = ("Feekes 3", "Feekes 5", "Feekes 6", "Feekes 7")
SURE = [24.0, 25.0, 23.0, 24.0, 22.0, 25.0]
UNSURE = "This plan is for “thin but worth keeping”, the likelier case (62 %), which isn't sure"
DECIDE = "Decide by other evidence before spreading"
NO_N = "for “too thin” no nitrogen until it is decided that the stand stays"


def _told(line: str) -> bool:
    plain = line.replace("\N{NO-BREAK SPACE}", " ")
    return all(words in plain for words in (UNSURE, NO_N, DECIDE))


@pytest.mark.parametrize("stage", STAGES)
def test_the_assessment_says_it_before_any_order(stage: str) -> None:
    plan = assess(field(PLANTS), stage=stage, yield_goal=80.0).nitrogen
    assert plan is not None
    assert plan.may_go
    assert _told(plan.lines[0])
    assert not any(line.startswith("Put on") for line in plan.lines)


@pytest.mark.parametrize("stage", STAGES)
def test_the_plan_and_its_record_say_it_before_the_pounds(stage: str) -> None:
    dressed = made(field(PLANTS), stage=stage)
    assert dressed.doses
    assert _told(dressed.first[0])
    assert _told(record(dressed)["first"][0])
    assert _told(next(iter(sections(dressed)))[1][0])
    assert not any(flag.startswith("Put on") for flag in dressed.flags)


@pytest.mark.parametrize("stage", STAGES)
def test_the_page_says_it_above_the_table(stage: str) -> None:
    page = page_record(PLANTS, stage=stage)
    assert page["nitrogen"]["doses"]
    text = text_of(report_html(make_sheet(page, load_words())))
    assert "which isn't sure: " + NO_N in text
    assert text.index(NO_N) < text.index("lb N/ac")


def test_the_screen_says_it_before_the_pounds(tmp_path: Path) -> None:
    counts = write_counts(tmp_path / "creek.csv", [int(one) for one in PLANTS])
    goal = ("--yield-goal", "80bu/ac", "--stage", "Feekes 5")
    said = " ".join(tillercount("nitrogen", counts, *goal).stdout.split())
    assert _told(said)
    assert said.index(UNSURE) < said.index("88-120 lb N/ac now")


@pytest.mark.parametrize(
    ("stage", "then"),
    [
        ("Feekes 5", "Put on what is still due now, where the ground carries you."),
        ("Feekes 6", "Put on what is still due now, where the ground carries you."),
        ("Feekes 7", "Ask a local adviser whether a pass pays, and at what rate."),
    ],
)
def test_what_to_do_has_a_step_for_either_case(stage: str, then: str) -> None:
    steps = [one.text for one in assess(field(PLANTS), stage=stage).verdict.actions]
    assert steps.count(f"If it is “thin but worth keeping”: {then}") == 1
    assert any(text.startswith("If it is “too thin”: ") for text in steps)


@pytest.mark.parametrize("counts", [SURE, BETWEEN])
@pytest.mark.parametrize("stage", STAGES[1:])
def test_a_stand_that_stays_whatever_its_class_gets_no_such_sentence(
    counts: list[float], stage: str
) -> None:
    """So late the split can't differ any more, so classes that all stay ask for the same."""
    result = assess(field(counts), stage=stage, yield_goal=80.0)
    assert result.nitrogen is not None
    assert not result.nitrogen.may_go
    assert not any("isn't sure" in line for line in result.nitrogen.lines)
    assert not any(one.text.startswith("If it is") for one in result.verdict.actions)


def test_a_tissue_test_gives_no_bare_pounds_either() -> None:
    dressed = made(field(PLANTS), stage="Feekes 5", tissue_percent=3.5)
    assert dressed.doses
    assert _told(dressed.first[0])
