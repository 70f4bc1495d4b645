"""A yield goal that can't be has to be read before the pounds that rest on it, on every screen."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.report.fields import PUSH, TARGET, spots
from tests.report.reading import text_of
from tillercount.report.language import load_words
from tillercount.report.record import build_record
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import assess
from tillercount.stand.dressbrief import brief_sections
from tillercount.stand.dressing import record, sections
from tillercount.stand.goal import HIGH_WHEAT_BU_AC, LOW_WHEAT_BU_AC, beyond_most, goal_off
from tillercount.stand.topdress import Topdress, topdress

ABOVE, MOST = "that figures in print give this stand", "more than nearly any wheat field"


def made(goal: float, **more: Any) -> Topdress:
    a = assess(spots(PUSH), stage="Feekes 3", yield_goal=goal, **more)
    return topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=goal)


@pytest.mark.parametrize(("goal", "said"), [(90.0, []), (140.0, [ABOVE]), (200.0, [MOST, ABOVE])])
def test_before_the_pounds_on_screen_and_page(goal: float, said: list[str]) -> None:
    a = assess(spots(PUSH), stage="Feekes 3", yield_goal=goal)
    nitrogen = topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=goal)
    assert a.nitrogen is not None
    pounds = next(i for i, line in enumerate(a.nitrogen.lines) if "lb N/ac" in line)
    for text in (ABOVE, MOST):
        at = [i for i, line in enumerate(a.nitrogen.lines) if text in line]
        assert len(at) == (text in said)
        assert all(i < pounds for i in at)
        assert sum(text in line for line in nitrogen.first) == (text in said)
        # said once: not among the flags as well
        assert not any(text in flag for flag in (*a.flags, *nitrogen.flags, *a.nitrogen.cautions))
    page = text_of(report_html(make_sheet(build_record(a, nitrogen), load_words())))
    part = page[page.index("Nitrogen plan") :]
    for text in said:
        assert part.index(text) < part.index("lb N/ac")
        assert page.count(text) == 1


@pytest.mark.parametrize("of", [brief_sections, sections])
def test_first_in_the_section_with_rates(of: Any) -> None:
    title, lines = next(iter(of(made(200.0))))
    assert title in ("Rates", "Nitrogen")
    assert MOST in lines[0]
    assert ABOVE in lines[1]
    assert "lb N/ac" not in " ".join(lines[:2])


def test_without_counts_and_beside_a_printed_table() -> None:
    (line,) = topdress("common-practice", goal_bu_ac=200.0).first
    assert MOST in line
    alone = topdress("tri-state-nitrogen-2020", goal_bu_ac=140.0)
    (line,) = alone.first
    assert "outside the 70-100 bu/ac of the table" in line
    assert not any("outside the 70-100" in flag for flag in alone.flags)
    assert topdress("common-practice", goal_bu_ac=90.0).first == ()


def test_no_pounds_no_doubt_of_them() -> None:
    """Jointed stands have pounds all the same; without a whole there are none."""
    a = assess(spots(TARGET), stage="Feekes 6", yield_goal=200.0)
    assert a.nitrogen is not None
    assert MOST in a.nitrogen.lines[0]
    assert topdress("common-practice", crop="rye", goal_bu_ac=200.0).first == ()


def test_limits_of_the_goal() -> None:
    assert beyond_most(HIGH_WHEAT_BU_AC, "wheat") == ""
    assert beyond_most(HIGH_WHEAT_BU_AC + 1, "wheat")
    assert beyond_most(HIGH_WHEAT_BU_AC + 1, "oats") == ""


def test_a_stand_in_question_keeps_the_doubt_about_its_goal() -> None:
    """Without pounds there is nothing to stand before, but it is said all the same."""
    a = assess(spots((10, 11, 9, 10, 11, 10)), stage="Feekes 3", yield_goal=200.0)
    nitrogen = topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=200.0)
    assert nitrogen.plan is not None
    assert nitrogen.plan.advice == "keep first"
    for found in (brief_sections(nitrogen), sections(nitrogen)):
        lines = [line for _, more in found for line in more]
        assert sum(MOST in line for line in lines) == 1
        assert sum(ABOVE in line for line in lines) == 1
    kept = json.dumps(record(nitrogen))
    assert MOST in kept
    assert ABOVE in kept
    assert MOST in json.dumps(a.to_json()["nitrogen"])


def test_before_the_pounds_of_a_tissue_test_too() -> None:
    """One spot splits nothing, but the tissue test gives pounds: the goal's doubt comes first."""
    a = assess(spots((31,)), stage="Feekes 5", yield_goal=200.0)
    nitrogen = topdress(
        a.rules, assessment=a, stage=a.stage, goal_bu_ac=200.0, tissue_percent=3.0
    )
    assert nitrogen.plan is not None
    assert nitrogen.plan.advice == "undecided"
    assert nitrogen.doses
    assert MOST in nitrogen.first[0]
    assert not any(MOST in flag for flag in nitrogen.flags)
    title, lines = next(iter(brief_sections(nitrogen)))
    assert title == "Rates"
    assert MOST in lines[0]


def test_a_ceiling_is_held_against_the_rate_that_is_shown() -> None:
    """140 bu/ac would take more than Delaware's 120 lb; the tissue test's 60 lb don't."""
    a = assess(spots(PUSH), stage="Feekes 5", yield_goal=140.0)

    def by(**more: Any) -> tuple[list[bool], str, dict[str, Any]]:
        made = topdress(a.rules, assessment=a, stage=a.stage, goal_bu_ac=140.0, **more)
        kept = build_record(a, made)
        page = text_of(report_html(make_sheet(kept, load_words())))
        over = [one.over for one in made.ceilings if one.ceiling.by == "Delaware"]
        return over, page, kept["nitrogen"]

    over, page, plan = by(tissue_percent=3.5)
    assert over == [False]
    assert "above Delaware's ceiling" not in page
    assert "in all Delaware 120" in page
    assert plan["total"]["us"] == [60, 60]
    assert plan["likely"] is None
    assert "In all this spring 60" in page
    # what is on already counts too
    assert by(tissue_percent=3.5, given_lb_ac=70.0)[0] == [False]
    over, page, _ = by()
    assert over == [True]
    assert "above Delaware's ceiling" in page


@pytest.mark.parametrize(
    ("goal", "said"),
    [
        (8.0, "less than nearly anybody sets for wheat"),
        (14.9, "was ten times that meant?"),
        (18.0, "below the"),
    ],
)
def test_a_goal_below_what_the_stand_makes_is_asked_about_before_the_pounds(
    goal: float, said: str
) -> None:
    a = assess(spots(PUSH), stage="Feekes 3", yield_goal=goal)
    assert a.yield_ is not None
    assert goal < a.yield_.low
    assert a.nitrogen is not None
    assert said in a.nitrogen.lines[0]
    assert said in made(goal).first[0]


def test_a_goal_within_the_range_is_not_asked_about() -> None:
    a = assess(spots(PUSH), stage="Feekes 3")
    assert a.yield_ is not None
    assert goal_off(a.yield_.low, a.yield_) == goal_off(a.yield_.high, a.yield_) == []
    assert beyond_most(LOW_WHEAT_BU_AC, "wheat") == ""
