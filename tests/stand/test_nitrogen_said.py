"""What a nitrogen plan says: what came off, how late, how rough a date is, what comes first."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest

from tests.stand.fields import field
from tests.stand.test_topdress import TARGET, THIN, made, text_of
from tillercount.stand import Assessment, assess, parse_stage
from tillercount.stand.already import AlreadyThere
from tillercount.stand.dressbrief import brief_sections
from tillercount.stand.dressing import headline, record, with_nitrogen
from tillercount.stand.late import late_lines, past_use
from tillercount.stand.season import Season, look_at_season
from tillercount.stand.topdress import Topdress
from tillercount.stand.weather import Day, Weather

FALL_AND_MANURE = AlreadyThere(fall_lb_ac=30, manure_lb_ac=20)
OFF = (
    "88-120 lb N/ac minus 30 lb N/ac of fall nitrogen minus 20 lb N/ac of manure = 38-70 lb N/ac "
    "(already taken off)"
)
ONE_SPOT = field([31.0], each=2.5)
NO_CLASS = field([12.0, 60.0, 25.0])


def screen(plan: Topdress) -> str:
    return "\n".join([headline(plan), *(line for _, more in brief_sections(plan) for line in more)])


def season(last: dt.date, *, warm_f: float = 55.0) -> Season:
    """Three like years and this one up to ``last``: ``warm_f`` by day from February on."""
    days, day = [], dt.date(last.year - 3, 1, 1)
    while day <= last:
        top = warm_f if day.month > 1 else 30.0
        days.append(Day(day, top, top - 10.0))
        day += dt.timedelta(1)
    return look_at_season(Weather(tuple(days), "days.csv", "F"))


# what is taken off


def test_credits_stand_with_what_they_are_taken_off() -> None:
    plan = made(there=FALL_AND_MANURE)
    assert plan.whole.balance == OFF
    for text in (screen(plan), text_of(plan)):
        assert f"in all: {OFF}" in text
        assert "ake off what" not in text
        assert "nothing taken off" not in text
    kept = record(plan)["whole"]
    assert (kept["balance"], kept["taken_off"]) == (OFF, True)
    assert [one["lb_ac"] for one in kept["credits"]] == [[30, 30], [20, 20]]


def test_without_credits_nothing_is_taken_off_yet() -> None:
    plan = made()
    assert "in all: 88-120 lb N/ac; nothing taken off yet for fall nitrogen" in screen(plan)
    assert "already taken off" not in screen(plan)
    assert record(plan)["whole"]["taken_off"] is False
    result = assess(THIN, yield_goal="80 bu/ac")
    assert result.nitrogen is not None
    assert any("nothing taken off yet" in line for line in result.nitrogen.lines)
    assert "nothing taken off yet" in result.to_json()["nitrogen"]["balance"]


def test_a_crop_before_that_costs_nitrogen_is_added() -> None:
    """Washington: after winter wheat 35 lb more, after barley 25 lb more."""
    plan = made(None, "washington-nitrogen", there=AlreadyThere(previous_crop="winter wheat"))
    (one,) = plan.whole.credits
    assert f"plus {-one.lb_ac[1]:g} lb N/ac for winter wheat before" in plan.whole.balance
    assert plan.whole.net is not None
    assert plan.whole.gross is not None
    assert plan.whole.net[0] == pytest.approx(plan.whole.gross[0] - one.lb_ac[1])


def test_a_report_takes_the_nitrogen_that_was_used() -> None:
    """Not the assessment's own, which knows nothing of credits or of another publisher."""
    judged = assess(THIN, yield_goal="80 bu/ac")
    plan = made(whole_by="kansas-nitrogen", there=AlreadyThere(15.0, 10.0, None, 2.0))
    both = with_nitrogen(judged, plan)
    steps = [step for step in both.steps if step.kind == "nitrogen"]
    assert [step.what for step in steps] == ["Nitrogen, worked out", "Nitrogen"]
    assert "80 bu/ac x 2.4 lb N per bushel = 192 lb N/ac" in steps[0].value
    assert "less organic matter: 2 % x 10 lb = 20 lb N/ac" in steps[0].value
    assert "soil nitrate: 10 lb" in steps[0].value
    text = " ".join((*(step.value for step in both.steps), *both.verdict.sources))
    assert "1.1-1.5" not in text
    assert "nothing taken off yet" not in text
    assert any("1.1-1.5" in step.value for step in judged.steps)  # so it would have been there
    assert both.to_json()["nitrogen"]["total"] == pytest.approx([147, 147])


# whose figure


def test_a_rule_set_without_nitrogen_names_whose_figure_it_is() -> None:
    counts = field([24.0, 25.0, 23.0, 24.0])
    lines = assess(counts, "kansas-replant@25/ft2", yield_goal="80 bu/ac").nitrogen
    assert lines is not None
    (said,) = [line for line in lines.lines if line.startswith("These pounds")]
    assert "common practice" in said
    assert "mid-Atlantic" in said
    assert "not by Kansas" in said
    own = assess(counts, yield_goal="80 bu/ac").nitrogen
    assert own is not None
    assert not any("These pounds" in line for line in own.lines)


# no rate before the class is known


@pytest.mark.parametrize("counts", [ONE_SPOT, NO_CLASS], ids=["one spot", "no class"])
def test_no_rates_where_the_class_is_not_known(counts: list[object]) -> None:
    plan = made(counts, stage="Feekes 3")
    assert plan.plan is not None
    assert plan.plan.advice == "undecided"
    assert plan.doses == ()
    assert headline(plan).startswith("No rates yet: ")
    assert re.search(r"\. (First: Count|More counting|Map the thin part)", headline(plan))
    assert "This plan is for" not in text_of(plan)
    assert record(plan)["undecided"] == headline(plan)
    assert record(plan)["this_spring"] is None


def test_rates_where_a_class_is_half_likely() -> None:
    counts = field([26.0, 28.0, 25.0, 29.0, 27.5, 26.3, 27.2, 26.6])
    plan = made(counts)
    assert plan.doses
    judged = assess(counts).plants
    assert judged is not None
    share = judged.probabilities[judged.class_]
    assert 0.5 <= share < 0.8
    assert f"the likelier case ({100 * share:.0f}\u00a0%), which isn't sure" in text_of(plan)


def test_a_stand_to_decide_on_first_stays_that() -> None:
    plan = made(field([9.0]))
    assert plan.doses == ()
    assert "until it is decided" in headline(plan)


def test_a_tissue_test_needs_no_class() -> None:
    """Virginia scale: 3.0 % is 80 lb."""
    plan = made(ONE_SPOT, stage="Feekes 5", tissue_percent=3.0)
    assert [dose.lb_ac for dose in plan.doses] == [(80, 80)]


@pytest.mark.parametrize(
    ("plants", "under"), [(22.0, "too thin"), (31.0, "thin but worth keeping"), (36.6, "on target")]
)
def test_few_tillers_names_the_class_below(plants: float, under: str) -> None:
    flags = assess(field([plants, plants + 0.4, plants - 0.4, plants], each=2.6)).flags
    (said,) = [flag for flag in flags if "besides each main stem" in flag]
    assert said.startswith("about 2 tillers besides each main stem; ")
    assert f"common practice wants 3 to 5: perhaps “{under}” rather than “" in said


def test_few_tillers_in_the_lowest_class() -> None:
    flags = assess(field([9.0, 9.2, 8.8, 9.0], each=2.0)).flags
    (said,) = [flag for flag in flags if "besides each main stem" in flag]
    assert said == ("about 1 tiller besides each main stem; common practice wants 3 to 5")


def test_few_tillers_takes_only_spots_with_both() -> None:
    """Shoots of one spot and plants of others tell nothing of a plant; two spots too little."""
    both, rest = field([22.0] * 3, each=4.1), field([40.0] * 4, each=None)
    rest = [replace(spot, spot=f"p{spot.spot}") for spot in rest]
    for spots in ([*both, *rest], field([22.0] * 2, each=2.0)):
        assert not any("perhaps “" in flag for flag in assess(spots).flags)


# dates


def test_the_stage_and_no_date_beside_the_dose_that_may_be_weeks_late() -> None:
    plan = made(season=season(dt.date(2027, 2, 10)), stage="Feekes 3")
    main = plan.doses[-1]
    assert main.before is None
    assert "split a stem, no node above the ground" in main.when
    (line,) = [text for text in screen(plan).splitlines() if text.startswith("main: ")]
    assert "roughly before" not in line
    (line,) = [text for text in screen(plan).splitlines() if "rough figure from Maryland" in text]
    assert re.search(r"jointing between \S+ and \S+ or weeks sooner, ", line)
    assert record(plan)["doses"][-1]["doubt"] is None


def test_now_once_growth_has_started() -> None:
    """350 °F-days: from February 18 °F-days a day, so reached after about 20 days of it."""
    late = made(season=season(dt.date(2027, 3, 6)), stage="Feekes 3")
    assert late.doses[0].now
    assert headline(late).startswith("22-36 lb N/ac now: growth has started")
    early = made(season=season(dt.date(2027, 2, 5)), stage="Feekes 3")
    assert not early.doses[0].now
    assert headline(early).startswith("22-36 lb N/ac once growth has started")
    assert not made(season=season(dt.date(2027, 3, 6), warm_f=33.0)).doses[0].now


@pytest.mark.parametrize(
    ("visited", "today", "now"),
    [
        (None, dt.date(2027, 3, 16), True),
        (None, dt.date(2027, 3, 17), False),
        (dt.date(2027, 3, 8), dt.date(2027, 6, 1), True),
        (dt.date(2027, 1, 20), dt.date(2027, 3, 6), False),
    ],
)
def test_now_only_beside_the_visit_or_today(
    visited: dt.date | None, today: dt.date, now: bool
) -> None:
    """Weather up to 6 March; the visit goes before today, and ten days are the most."""
    plan = made(season=season(dt.date(2027, 3, 6)), stage="Feekes 3", visited=visited, today=today)
    assert plan.doses[0].now == now
    assert ("now: growth has started" in headline(plan)) == now
    old = "by the weather up to 2027-03-06 it had started then: look again"
    assert (old in headline(plan)) == (not now)


def test_a_publishers_own_date_stays() -> None:
    from tests.stand.fields import shoots_only
    from tillercount.definition import Definition

    counts = shoots_only([41.0, 42.0, 40.0, 41.0], Definition.STEMS_3_LEAVES)
    plan = made(counts, "virginia-nitrogen", season=season(dt.date(2027, 3, 6)))
    assert plan.doses[0].when == "as soon as possible, on days that average above 32 °F"


def test_rules_without_a_split_read_as_a_sentence() -> None:
    plan = made(None, "kansas-nitrogen", season=season(dt.date(2027, 2, 10)))
    (dose,) = plan.doses
    assert dose.when.startswith("the larger part of it just before jointing")
    assert "in all;" not in dose.timing


@pytest.mark.parametrize(
    ("visited", "today", "says"),
    [
        (dt.date(2026, 1, 5), None, ["425 days apart"]),
        (dt.date(2027, 3, 1), dt.date(2027, 3, 6), []),
        (dt.date(2027, 3, 10), dt.date(2027, 3, 6), ["later than today (2027-03-06)"]),
        (dt.date(2027, 3, 21), dt.date(2027, 3, 6), ["later than today", "15 days apart"]),
        (None, dt.date(2027, 3, 6), []),
    ],
)
def test_a_visit_that_does_not_fit(
    visited: dt.date | None, today: dt.date | None, says: list[str]
) -> None:
    plan = made(season=season(dt.date(2027, 3, 6)), visited=visited, today=today)
    doubts = [flag for flag in plan.flags if "the visit is dated" in flag]
    assert len(doubts) == len(says)
    for doubt, words in zip(doubts, says, strict=True):
        assert words in doubt
    # a reminder that is over already isn't given
    assert (plan.again is None) == (visited == dt.date(2026, 1, 5))


# late


@pytest.mark.parametrize(
    ("stage", "late"),
    [("Feekes 5", False), ("Feekes 6", False), ("Feekes 7", True), ("GS39", True)],
)
def test_late_is_said(stage: str, late: bool) -> None:
    """Feekes 6 is about the last useful time (Delaware); no loss up to it (Ohio State 2023)."""
    plan = made(TARGET, stage=stage, season=season(dt.date(2027, 2, 10)))
    assert past_use(parse_stage(stage)) == late
    text = screen(plan)
    assert ("is late for nitrogen" in headline(plan)) == late
    (dose,) = plan.doses
    if late:
        assert "before" not in dose.timing
        for words in ("Ohio State", "Delaware", "still brings so late", "keep to tracks"):
            assert words in text
    else:
        assert dose.when.startswith("now")


def test_late_in_the_assessment() -> None:
    result = assess(TARGET, yield_goal="80 bu/ac", stage="Feekes 8")
    assert result.nitrogen is not None
    assert set(late_lines(parse_stage("Feekes 8"))) <= set(result.nitrogen.lines)
    assert not any("at once" in line for line in result.nitrogen.lines)
    six = assess(TARGET, yield_goal="80 bu/ac", stage="Feekes 6").nitrogen
    assert six is not None
    assert any("at once" in line for line in six.lines)


# the rate at the likely yield


def _too_high() -> tuple[Assessment, float]:
    result = assess(THIN, yield_goal="160 bu/ac")
    assert result.yield_ is not None
    return result, result.yield_.high


def test_the_rate_at_the_likely_yield_stands_beside_the_goals() -> None:
    """1.1-1.5 lb/bu (common practice) at what the stand makes likely at most."""
    result, most = _too_high()
    assert most < 160
    plan = made(goal=160.0, there=AlreadyThere(fall_lb_ac=10))
    assert plan.plan is not None
    assert plan.plan.likely is not None
    bushels, ends = plan.plan.likely
    assert bushels == most
    assert ends == pytest.approx((1.1 * most - 10, 1.5 * most - 10))  # the credit is off here too
    words = f"at the {most:.0f} bu/ac that this stand makes likely at most: {ends[0]:.0f}-"
    assert words in screen(plan)
    assert words[1:] in headline(plan)
    assert record(plan)["at_likely_yield"]["bu_ac"] == most
    assert result.nitrogen is not None
    assert any("makes likely at most" in line for line in result.nitrogen.lines)
    assert result.to_json()["nitrogen"]["at_likely_yield"]["bu_ac"] == most


def test_no_second_rate_for_a_goal_in_reach() -> None:
    _, most = _too_high()
    plan = made(goal=most)
    assert plan.plan is not None
    assert plan.plan.likely is None
    assert "likely at most" not in screen(plan)


# actions by case


def test_actions_are_grouped_by_case() -> None:
    actions = [a.text for a in assess(field([26.0, 28.0, 25.0, 29.0, 27.5, 26.3])).verdict.actions]
    cases = [re.match(r"If it is “([^”]+)”: ", text) for text in actions]
    named = [match[1] for match in cases if match]
    assert sorted(named) == sorted(set(named))  # one for each case
    (push,) = [text for text in actions if text.startswith("If it is “thin but worth keeping”: ")]
    for words in ("Put on the early part", "Keep the larger part", "Count shoots again"):
        assert words in push
    clear = [a.text for a in assess(THIN).verdict.actions]
    assert not any(text.startswith("If it is") for text in clear)
    assert sum("Put on the early part" in text for text in clear) == 1
