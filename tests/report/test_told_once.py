"""What a page has said stands nowhere else on it, and nothing is said of what wasn't counted."""

from __future__ import annotations

import re

import pytest

from tests.report.fields import CLOSE, record, spots
from tests.report.reading import text_of
from tillercount.field import SpotDensity
from tillercount.report.language import load_words
from tillercount.report.page import page_html
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import Assessment, assess
from tillercount.stand.topdress import topdress
from tillercount.units import per_m2


def report(a: Assessment, goal: float | None = None) -> str:
    made = None if goal is None else topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=goal)
    return text_of(report_html(make_sheet(build_record(a, made), load_words())))


def weedy(*ft2: float) -> list[SpotDensity]:
    return [
        SpotDensity(str(i), "photo", per_m2(22 + i), per_m2(66 + i), photo=f"{i}.jpg",
                    other_cover=0.05 + 0.01 * i, other_per_m2=per_m2(one))
        for i, one in enumerate(ft2)
    ]  # fmt: skip


@pytest.mark.parametrize("ft2", [(3.0, 5.0, 4.0), (4.0,)])
def test_a_weeds_density_stands_once(ft2: tuple[float, ...]) -> None:
    a = assess(weedy(*ft2), stage="Feekes 3", weeds=["italian ryegrass"], name="Far field")
    loss = a.weeds[0]
    assert loss.seen is not None
    for page in (report(a), text_of(page_html(a))):
        weeds = page.split(" Weeds ")[1][:900]
        assert weeds.count("4.0") == 1
        assert weeds.lower().count(f"italian ryegrass: loss of wheat yield {loss.loss_text}") == 1
        assert weeds.count("calibrated") == 1
        assert "lie anywhere" not in page
        assert ("at the ends of that range" in weeds) == (len(ft2) > 1)
    if len(ft2) > 1:
        assert f"at the ends of that range {loss.seen.loss_text}" in report(a)
        assert loss.seen.loss_text not in ("", loss.loss_text)


@pytest.mark.parametrize("goal", [None, 80.0])
def test_what_would_settle_it_stands_once(goal: float | None) -> None:
    a = assess(spots((22,)), stage="Feekes 3", name="Far field")
    page = report(a, goal)
    assert a.verdict.settle
    assert page.count(a.verdict.settle) == 1
    if goal is not None:
        assert "Nitrogen plan No rates yet: one spot can't speak for a field. " in page
        assert "First: " not in page


def test_the_first_thing_to_do_comes_before_what_follows_from_either_outcome() -> None:
    a = assess(spots(CLOSE), stage="Feekes 3", yield_goal=80.0, name="Far field")
    assert len(a.decided_by.likely) == 2
    page = report(a, 80.0)
    settle = page.index(a.verdict.settle)
    assert page.index(" What to do ") < settle
    for band in a.decided_by.likely:
        assert page.index(f"If it is “{band.called}”: ") > settle
        assert page.index(f"“{band.called}”, the likelier case" if band is a.decided_by.band
                          else f"for “{band.called}” no early nitrogen") > settle  # fmt: skip


def test_nothing_is_said_of_shoots_that_nobody_counted() -> None:
    plants = assess([SpotDensity(str(i), "hand", per_m2(20 + i), None) for i in range(5)])
    both = assess(spots(CLOSE))
    for page, shoots in (
        (report(plants), False),
        (text_of(page_html(plants)), False),
        (report(both), True),
        (text_of(page_html(both)), True),
    ):
        assert ("Shoots are main stem and tillers." in page) == shoots


def test_the_account_names_what_it_speaks_of() -> None:
    page = report(assess(spots((22,)), stage="Feekes 3"))
    assert "Both: " not in page
    assert "Student" not in page
    assert re.search(r"Plants and shoots: [a-z ]*one spot", page)


def test_the_account_shows_the_figures_that_the_verdict_shows() -> None:
    """26.7 beside a line at 27 is 26.7 wherever it stands."""
    made = record(CLOSE)
    speak = make_sheet(made, load_words()).speak
    for what, per in ((0, "per_ft2"), (1, "per_ft2")):
        for end in ("mean", "low", "high"):
            told = speak.at(f"densities/{what}/{per}/{end}", "density").text
            judged = [
                speak.at(f"evidence/{i}/{per}/{end}", "density").text
                for i, one in enumerate(made["evidence"])
                if one["what"] == made["densities"][what]["what"]
            ]
            assert set(judged) <= {told}
