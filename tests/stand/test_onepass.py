"""No step advises nitrogen where the whole is on, or a pass for a few pounds."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.stand.fields import field, shoots_only
from tillercount.definition import Definition
from tillercount.report.nitrogenplan import nitrogen_record
from tillercount.report.ruling import verdict_record
from tillercount.stand import assess, list_rules, load_rules, parse_stage
from tillercount.stand.already import AlreadyThere
from tillercount.stand.assessment import Assessment
from tillercount.stand.dressing import headline, sections, with_nitrogen
from tillercount.stand.given import with_given
from tillercount.stand.onalready import EarlyOn, early_on
from tillercount.stand.onepass import LEAST_PASS_LB, Parts, in_passes, left_of, spread_when
from tillercount.stand.topdress import topdress

THIN = field([22, 23, 21, 22, 23])
UNSURE = field([26, 28, 26.5, 27.5, 27, 26, 28, 27])  # thin, or on target
ON_TARGET = field([30, 31, 30, 31, 30], each=4.0)
THICK = field([39, 40, 39, 41, 40], each=4.0)
KENTUCKY = field([22, 23, 21, 22, 23], each=2.5)  # reduced, few tillers, both clear
FEW = shoots_only([40, 41, 42, 40], Definition.STEMS_3_LEAVES)
MORE = re.compile(
    r"keep the larger part|hold the |put on the early|take them off what would go on|"
    r"put on what is still due|just before jointing|some early nitrogen|push spring|"
    r"put (?:about |at least )?[\d]+|whether a pass pays|to time the nitrogen",
    re.IGNORECASE,
)


def steps(a: Assessment) -> list[str]:
    return [one.text for one in a.verdict.actions]


@pytest.mark.parametrize("stage", [None, "Feekes 3", "Feekes 5", "Feekes 6", "Feekes 8"])
@pytest.mark.parametrize("counts", [THIN, UNSURE, ON_TARGET, THICK], ids=range(4))
@pytest.mark.parametrize("given", [115.0, 120.0, 200.0])
def test_where_the_whole_is_on_nothing_asks_for_more(
    counts: Any, stage: str | None, given: float
) -> None:
    """Of 88-120 lb, 115 leave 5 at most: no pass, and nothing else says to put more on."""
    judged = assess(counts, yield_goal=80.0, stage=stage)
    a = with_given(judged, given, 80.0)
    assert a.nitrogen is not None
    assert sum("put no more on." in one for one in steps(a)) == 1
    for text in (*steps(a), a.verdict.headline, *a.nitrogen.lines, *a.flags):
        assert not MORE.search(text), text
    assert a.nitrogen.main == (0.0, 0.0)
    assert a.nitrogen.early in (None, (0.0, 0.0))
    assert f"{given:g} lb N/ac are on already" in a.verdict.headline


def test_what_else_is_to_do_stays() -> None:
    kept = steps(with_given(assess(THICK, yield_goal=80.0), 200.0, 80.0))
    assert "Avoid double-dosed strips at headlands and overlaps." in kept
    again = steps(with_given(assess(THIN, yield_goal=80.0), 200.0, 80.0))
    assert any(one.startswith("Count shoots again") for one in again)


def test_classes_that_may_be_true_don_t_ask_for_more_either() -> None:
    judged = assess(field([24, 31, 27, 29, 25]), yield_goal=80.0)
    assert "(some nitrogen early)" in judged.verdict.headline
    said = with_given(judged, 200.0, 80.0).verdict.headline
    assert said.startswith("Too close to call: ")
    assert "nitrogen early" not in said
    assert said.endswith("more than the whole of 88-120 lb N/ac: put no more on.")


def test_a_doubtful_stand_is_still_decided_first() -> None:
    a = with_given(assess(field([10, 11, 10, 9, 10]), yield_goal=80.0), 200.0, 80.0)
    assert a.nitrogen is not None
    assert "until it is decided" in a.nitrogen.lines[0]
    assert any("insurance agent" in one for one in steps(a))


@pytest.mark.parametrize("name", [one.name for one in list_rules() if one.rules])
def test_no_set_asks_for_more_than_the_whole(name: str) -> None:
    """All that a band says of nitrogen goes, in whichever words."""
    from tillercount.stand.onsteps import _ASKS

    for rule in load_rules(name).rules:
        for band in rule.bands:
            for text in band.do_nitrogen:
                looks = text.startswith(("Count shoots again", "Ask the local adviser"))
                assert bool(_ASKS.search(text)) is not looks, text


def test_some_of_the_whole_left_is_still_due() -> None:
    a = with_given(assess(THIN, yield_goal=80.0), 100.0, 80.0)
    assert a.nitrogen is not None
    assert a.nitrogen.main == pytest.approx((0, 20))
    assert any("Keep the larger part" in one for one in steps(a))


def test_too_small_an_early_part_goes_with_the_main_one() -> None:
    """20 bu/ac: 22-30 lb in all, of which 6-9 early are no pass."""
    a = assess(THIN, yield_goal=20.0)
    plan = a.nitrogen
    assert plan is not None
    assert (plan.early, plan.main) == ((0.0, 0.0), pytest.approx((22, 30)))
    said = "only 6-9 lb N/ac, too little for a pass of its own: add it to the main part."
    assert any(said in one for one in steps(a))
    assert any(said in one for one in plan.lines)
    assert not any("Put on the early part" in one for one in steps(a))
    made = topdress("common-practice", assessment=a, goal_bu_ac=20.0)
    assert [(d.name, d.lb_ac) for d in made.doses] == [("main", pytest.approx((22, 30)))]
    assert any("takes 10 (a convention of our own)" in one for one in made.arithmetic)


def test_credits_may_leave_too_little_early() -> None:
    """90 lb put on in fall leave up to 30, of which up to 9 early."""
    a = assess(THIN, yield_goal=80.0)
    made = topdress(
        "common-practice", assessment=a, goal_bu_ac=80.0, there=AlreadyThere(fall_lb_ac=90)
    )
    assert [(d.name, d.lb_ac) for d in made.doses] == [("main", pytest.approx((0, 30)))]
    none = topdress(
        "common-practice", assessment=a, goal_bu_ac=80.0, there=AlreadyThere(fall_lb_ac=115)
    )
    assert [d.lb_ac for d in none.doses] == [(0.0, 0.0)]
    assert headline(none).startswith("All that is due is up to 5 lb N/ac, too little for a pass")
    told = "\n".join(line for _, lines in sections(none) for line in lines)
    assert "main: none; what is left is up to 5 lb N/ac, too little for a pass of its own" in told


def test_a_part_too_small_for_a_pass_leads_no_verdict() -> None:
    """Nothing goes on early, so neither the headline nor a step advises it, nor speaks of two."""
    a = assess(THIN, yield_goal=20.0)
    said = "By the count the stand is “thin but worth keeping”. The early part is only 6-9 lb N/ac"
    assert a.verdict.headline.startswith(said)
    made = topdress("common-practice", assessment=a, goal_bu_ac=20.0)
    assert with_nitrogen(a, made).verdict.headline == a.verdict.headline
    assert not any("larger part" in one for one in steps(a))
    assert any(one.startswith("Count shoots again") for one in steps(a))
    assert verdict_record(a)["kind"] == "early_little"
    enough = assess(THIN, yield_goal=80.0)
    assert "push spring tillers" in enough.verdict.headline
    assert verdict_record(enough)["kind"] == "push"
    less = AlreadyThere(fall_lb_ac=90)  # credits come after the verdict
    credited = topdress("common-practice", assessment=enough, goal_bu_ac=80.0, there=less)
    after = with_nitrogen(enough, credited)
    assert "push spring tillers" not in after.verdict.headline
    assert verdict_record(after)["kind"] == "early_little"
    assert not any("larger part" in one for one in steps(after))


def test_another_publisher_s_whole_may_leave_enough_early() -> None:
    """The assessment's own 6-9 lb early aren't what another whole leaves."""
    a = assess(THIN, yield_goal=20.0)
    made = topdress("common-practice", assessment=a, goal_bu_ac=20.0, whole_by="kentucky-stand")
    assert made.doses[0].name == "early"
    after = with_nitrogen(a, made)
    assert "push spring tillers" in after.verdict.headline
    assert after.verdict.actions == assess(THIN, yield_goal=80.0).verdict.actions
    assert verdict_record(after)["kind"] == "push"


def test_classes_that_may_be_true_mean_no_early_nitrogen_either() -> None:
    a = assess(field([23, 30, 26, 28, 24]), yield_goal=20.0)
    assert a.nitrogen is not None
    assert a.nitrogen.on is not None
    assert a.nitrogen.on.waits
    assert a.verdict.headline.startswith("Too close to call: ")
    assert "some nitrogen early" not in a.verdict.headline
    assert not any("nitrogen early" in (one["means"] or "") for one in verdict_record(a)["options"])


def test_too_small_a_rest_is_left_out_where_print_says_no_more() -> None:
    """Virginia prints 40-50 lb; at 36 bu/ac 40-54 lb are due, so up to 4 would be left."""
    a = assess(FEW, "virginia-nitrogen", yield_goal=36.0)
    plan = a.nitrogen
    assert plan is not None
    assert (plan.early, plan.main) == (pytest.approx((39.6, 50)), (0.0, 0.0))
    (step,) = [one for one in steps(a) if "Put 40 to 50 lb N/ac" in one]
    assert "left for later is up to 4 lb N/ac, too little for a pass of its own: leave it." in step
    made = topdress("virginia-nitrogen", assessment=a, goal_bu_ac=36.0)
    assert [d.lb_ac for d in made.doses] == [pytest.approx((39.6, 50)), (0.0, 0.0)]
    assert "then" not in headline(made)
    assert "0 lb N/ac nothing" not in headline(made)
    told = "\n".join(line for _, lines in sections(made) for line in lines)
    assert "main: none; what would be left is up to 4 lb N/ac, too little for a pass" in told
    assert "the early dose takes no more than 50 lb N/ac, and up to 4 lb N/ac are left out" in told


def test_a_rest_goes_on_early_up_to_the_printed_end() -> None:
    both = in_passes((20.0, 40.0), (0.0, 5.0), (20.0, 25.0))
    assert (both.early, both.out) == ((20.0, 25.0), (0.0, 0.0))
    assert both.beside.endswith("add it to the early part.")
    partly = in_passes((30.0, 40.0), (5.0, 7.0), (35.0, 47.0))
    assert (partly.early, partly.out) == ((35.0, 40.0), (0.0, 7.0))
    assert partly.beside.endswith("put no more than 40 lb N/ac on early, and leave the rest.")
    full = in_passes((50.0, 50.0), (0.0, 5.0), (15.0, 55.0))
    assert (full.early, full.out) == ((15.0, 50.0), (0.0, 5.0))
    assert full.beside.endswith("leave it.")


def test_two_parts_don_t_send_each_other_on() -> None:
    """5-37 lb in all: 1-11 early and 4-26 later, of which either may be no pass."""
    a = assess(THIN, yield_goal=80.0)
    there = AlreadyThere(fall_lb_ac=83)
    made = topdress("common-practice", assessment=a, goal_bu_ac=80.0, there=there)
    early, main = made.doses
    assert early.when.endswith("too little for a pass of its own: add it to the main part")
    assert main.when.endswith("too little for a pass of its own: leave it")
    assert "add it to the early part" not in headline(made)


def test_nothing_is_due_where_a_stand_may_go() -> None:
    """So late, with more on than the whole, nothing "still due" is to be settled."""
    judged = assess(field([10, 11, 14, 22, 15, 19], None), yield_goal=80.0, stage="Feekes 6")
    assert judged.nitrogen is not None
    assert any("Settle without delay" in one for one in judged.nitrogen.lines)
    a = with_given(judged, 200.0, 80.0)
    assert a.nitrogen is not None
    assert a.nitrogen.withheld
    told = "\n".join((*a.nitrogen.lines, *steps(a)))
    assert "until it is decided" in a.nitrogen.lines[0]
    assert "still due" not in told
    assert "200 lb N/ac are on already, more than the whole of 88-120 lb N/ac: put no more" in told
    assert "on already: 200 lb N/ac" in a.nitrogen.lines
    assert "check that they are pounds per acre" in told
    some = with_given(judged, 20.0, 80.0)
    assert some.nitrogen is not None
    assert "on already: 20 lb N/ac" in some.nitrogen.lines
    assert any("Settle without delay" in one for one in some.nitrogen.lines)
    made = topdress("common-practice", assessment=judged, goal_bu_ac=80.0, stage=judged.stage,
                    given_lb_ac=200.0)  # fmt: skip
    first = nitrogen_record(made)["first"]
    assert any("put no more on" in one for one in first)
    assert any("check that they are pounds per acre" in one for one in first)
    assert not any("still due" in one for one in first)


def test_a_tissue_test_s_total_goes_by_what_is_put_on() -> None:
    """Of the 120 lb that a test allows 118 are on: 2 more are no pass, so 118 it stays."""
    a = assess(THIN, yield_goal=80.0, stage="Feekes 5")
    made = topdress("common-practice", assessment=a, goal_bu_ac=80.0, stage=a.stage,
                    given_lb_ac=118.0, tissue_percent=3.1)  # fmt: skip
    assert made.total == (118.0, 118.0)
    assert made.reconciled.startswith("118 lb N/ac this spring by the tissue test, 118 of it on")


def test_what_is_on_is_told_once_where_plants_and_tillers_are_clear() -> None:
    a = with_given(assess(KENTUCKY, "kentucky-stand", yield_goal=80.0), 45.0, 80.0)
    assert a.plants is not None
    assert a.plants.clear
    assert a.shoots is not None
    assert a.shoots.clear
    assert sum("are on already" in one for one in steps(a)) == 1
    assert any("taken for the early part" in one for one in steps(a))
    assert "Keep the stand." in steps(a)


def test_nearly_is_said_of_nearly_all() -> None:
    assert "nearly the early part" in EarlyOn(30.0, (36.0, 44.0)).words
    assert "nearly" not in EarlyOn(5.0, (9.0, 14.0)).words
    assert "only a part of the early part (9-14 lb N/ac)" in EarlyOn(5.0, (9.0, 14.0)).words
    assert EarlyOn(36.0, (36.0, 44.0)).words.startswith(", which is the early part")


def test_no_later_part_is_no_pounds() -> None:
    """Of 22-30 lb Georgia's 30-40 early leave none."""
    few = shoots_only([20, 21, 22, 20], Definition.STEMS_3_LEAVES)
    plan = assess(few, "georgia-county-nitrogen", yield_goal=20.0).nitrogen
    assert plan is not None
    assert plan.main == (0.0, 0.0)
    assert not any(": 0 lb N/ac" in one for one in plan.lines)
    assert any(one.endswith(": none; nothing is left to put on.") for one in plan.lines)


def test_a_rest_that_may_be_too_little_says_so() -> None:
    """20 of 22-36 lb are on: 2-16 lacking, of which 2 are no pass."""
    a = with_given(assess(THIN, yield_goal=80.0), 20.0, 80.0)
    assert a.nitrogen is not None
    less = "less than 10 lb N/ac is too little for a pass of its own: add it to the main part"
    assert any(less in one for one in steps(a))
    assert any(one.startswith("early: 2-16 lb") and less in one for one in a.nitrogen.lines)
    much = with_given(assess(THIN, yield_goal=80.0), 10.0, 80.0)
    assert not any("too little" in one for one in steps(much))


def test_the_limit_from_both_sides() -> None:
    most = LEAST_PASS_LB
    assert in_passes((2.0, most), (20.0, 30.0), (22.0, 40.0)).moved == ""
    assert in_passes((2.0, 9.4), (20.0, 30.0), (22.0, 40.0)) == Parts(
        (0.0, 0.0), (22.0, 40.0), "early", (2.0, 9.4)
    )
    assert in_passes((2.0, 9.5), (20.0, 30.0), (22.0, 40.0)).moved == ""  # it is shown as 10
    assert in_passes((0.0, 0.0), (2.0, 9.0), (2.0, 9.0)).moved == ""  # nothing to add it to
    assert left_of((88.0, 120.0), 110.0) is None
    assert left_of((88.0, 120.0), 110.4) is None  # up to 10, as it is shown
    assert left_of((88.0, 120.0), 110.6) == (0.0, pytest.approx(9.4))
    assert early_on((9.0, 14.6), 5.0, "now") == EarlyOn(5.0, (9.0, 14.6), (4.0, 9.6), "now")
    assert spread_when("now", (9.6, 20.0), "main") == "now"
    assert left_of(None, 50.0) is None
    assert spread_when("now", (most, 20.0), "main") == "now"
    assert spread_when("now", (9.0, 20.0), "").endswith("of its own: leave it")


def test_what_the_early_part_lacks_is_added_to_the_main_one() -> None:
    on = early_on((30.0, 30.0), 28.0, "now")
    assert isinstance(on, EarlyOn)
    assert on.step.endswith("What it lacks is 2 lb N/ac, too little for a pass of its own: add it "
                            "to the main part.")  # fmt: skip


def test_late_and_little_is_left_alone() -> None:
    a = assess(THIN, yield_goal=5.0, stage=parse_stage("Feekes 5"))
    assert a.nitrogen is not None
    assert "All that is due is 6-8 lb N/ac, too little for a pass of its own: leave it." in steps(a)
    assert not any("Put on what is still due" in one for one in a.nitrogen.lines)


@pytest.mark.parametrize(
    ("rules", "goal"), [("georgia-county-nitrogen", 20.0), ("virginia-nitrogen", 30.0)]
)
def test_an_early_dose_in_print_is_no_more_than_a_small_whole(rules: str, goal: float) -> None:
    """Georgia's early 30 to 40 lb stood beside a whole of 22 to 30."""
    plan = assess(FEW, rules, stage="Feekes 3", yield_goal=goal).nitrogen
    assert plan is not None
    assert plan.early is not None
    assert plan.main is not None
    assert plan.total is not None
    assert 0 < plan.early[1] <= plan.total[1]
    assert plan.early[0] <= plan.total[0]
    assert plan.early[1] + plan.main[0] <= plan.total[1] + 1e-9
    assert "is the goal right?" in plan.unsure[0]
    usual = assess(FEW, rules, stage="Feekes 3", yield_goal=90.0).nitrogen
    assert usual is not None
    assert not any("more than the whole of" in line for line in usual.lines)
