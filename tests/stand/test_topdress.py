"""A field's spring nitrogen put together."""

from __future__ import annotations

import datetime as dt
import json
import re
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.stand.fields import field, shoots_only
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.stand import assess, list_rules, load_rules, parse_stage
from tillercount.stand.already import AlreadyThere
from tillercount.stand.dressing import headline, record, sections, with_nitrogen
from tillercount.stand.expect import expected_yield
from tillercount.stand.nitrogen import rest_of
from tillercount.stand.onalready import EARLY, EarlyOn, early_on
from tillercount.stand.overlap import Boom, overlap
from tillercount.stand.potential import Kernels, parse_kernels, yield_potential
from tillercount.stand.products import parse_price, product
from tillercount.stand.spreading import Conditions
from tillercount.stand.topdress import Topdress, topdress
from tillercount.stand.weeds import weed_loss
from tillercount.units import bu_per_ac_to_t_per_ha, per_ft2

THIN = field([22, 23, 21, 22, 23])
TARGET = field([30, 31, 30, 31, 30], each=4.0)


def made(counts: Any = THIN, rules: str = "common-practice", **more: Any) -> Topdress:
    goal = more.pop("goal", 80.0)
    crop = more.pop("crop", "wheat")
    stage = more.pop("stage", None)
    at = parse_stage(stage) if stage else None
    judged = None
    if counts is not None:
        judged = assess(
            counts, rules, yield_goal=goal, crop=crop, stage=at, insist=more.pop("insist", False)
        )
    return topdress(rules, assessment=judged, goal_bu_ac=goal, crop=crop, stage=at, **more)


def text_of(plan: Topdress) -> str:
    return "\n".join(line for _, lines in sections(plan) for line in lines)


def test_split_by_density() -> None:
    """1.1-1.5 lb/bu and 25-30 % early on a thin stand, none early on target (common practice)."""
    thin = made()
    assert [d.name for d in thin.doses] == ["early", "main"]
    assert thin.doses[0].lb_ac == pytest.approx((22, 36))
    assert thin.doses[1].lb_ac == pytest.approx((66, 84))
    full = made(TARGET)
    assert [d.name for d in full.doses] == ["main"]
    assert full.doses[0].lb_ac == pytest.approx((88, 120))
    assert headline(full).startswith("Nothing early; 88-120 lb N/ac just before jointing")


def test_no_nitrogen_before_the_stand_is_decided() -> None:
    poor = made(field([10, 11, 10, 9, 10]))
    assert poor.doses == ()
    assert "until it is decided" in headline(poor)


def test_after_gs30_there_is_no_early_part() -> None:
    """Few new tillers after GS30 (CIMMYT)."""
    for stage in ("Feekes 5", "GS30", "Feekes 6"):
        plan = made(stage=stage)
        assert [d.name for d in plan.doses] == ["main"]
        assert plan.doses[0].lb_ac == pytest.approx((88, 120))
        assert "now" in plan.doses[0].when
    assert any("few new tillers" in flag for flag in made(stage="Feekes 5").flags)
    assert [d.name for d in made(stage="Feekes 4").doses] == ["early", "main"]


def test_what_is_on_already() -> None:
    plan = made(given_lb_ac=30)
    assert [d.name for d in plan.doses] == ["main"]
    assert plan.doses[0].lb_ac == pytest.approx((58, 90))
    assert headline(plan).startswith(
        "30 lb N/ac are on already, which is the early part (22-36 lb N/ac): 58-90 lb N/ac more "
    )
    much = made(given_lb_ac=200)
    assert headline(much).startswith("200 lb N/ac are on already, more than the whole of 88-120 lb")
    assert "200 lb N/ac said to be on already are more than the whole of 88-120" in much.first[0]


def test_less_than_the_early_part_leaves_the_rest_of_it() -> None:
    """Ten of 22-36 lb: no tillers are pushed by a dose that waits for jointing."""
    plan = made(given_lb_ac=10)
    assert [d.name for d in plan.doses] == ["early", "main"]
    assert plan.doses[0].lb_ac == pytest.approx((12, 26))
    assert plan.doses[1].lb_ac == pytest.approx((66, 84))
    assert plan.total == pytest.approx((88, 120))
    said = "not yet all of the early part (22-36 lb N/ac): 12-26 lb N/ac more once"
    assert said in headline(plan)
    held = {one.ceiling.by: one for one in made(given_lb_ac=21).ceilings}
    assert not held["Virginia"].over  # 22-36 with what is on, not 1-15 and not 43-57


def test_no_pass_for_the_last_pounds_of_the_early_part() -> None:
    """Virginia 2005 prints 40-50 lb: of 41 there is nothing to add, of 38 up to 12 are missing."""
    few = shoots_only([40, 41, 42, 40], Definition.STEMS_3_LEAVES)
    assert [d.name for d in made(few, "virginia-nitrogen", given_lb_ac=38).doses] == [
        "early", "main"
    ]  # fmt: skip
    assert [d.name for d in made(few, "virginia-nitrogen", given_lb_ac=41).doses] == ["main"]
    assert early_on((30.0, 30.0), 28.0, "now") == EarlyOn(28.0, (30.0, 30.0))


def test_the_rates_add_up_and_the_arithmetic_is_one() -> None:
    plan = made(given_lb_ac=30)
    told = text_of(plan)
    assert "on already: 30 lb N/ac (34 kg N/ha)" in told
    assert "jointing: 88-120 lb N/ac less 30 lb N/ac on already this spring: 58-90" in told
    assert "66-84" not in told  # the main part beside an early part that wasn't put on


@pytest.mark.parametrize("given", [10.0, 30.0, 60.0])
def test_no_step_asks_for_the_early_dose_again(given: float) -> None:
    judged = assess(THIN, "common-practice", yield_goal=80.0)
    dose = "Put on the early part"
    assert any(dose in one.text for one in judged.verdict.actions)
    plan = topdress("common-practice", assessment=judged, goal_bu_ac=80.0, given_lb_ac=given)
    steps = [one.text for one in with_nitrogen(judged, plan).verdict.actions]
    assert not any(dose in one for one in steps)
    assert any(f"{given:g} lb N/ac are on already" in one for one in steps)
    assert any("Keep the larger part" in one for one in steps)


def test_what_completes_one_class_needn_t_complete_another() -> None:
    """On target nothing goes on early; if it is thin after all, 5 lb aren't its early part."""
    judged = assess(field([30, 31, 29, 30, 31], each=3.0), "common-practice", yield_goal=80.0)
    plan = topdress("common-practice", assessment=judged, goal_bu_ac=80.0, given_lb_ac=5.0)
    steps = [one.text for one in with_nitrogen(judged, plan).verdict.actions]
    (thin,) = [one for one in steps if "“thin but worth keeping”: 5 lb" in one]
    assert "5 lb N/ac are on already: take them off what would go on early." in thin


def test_the_rest_goes_on_when_the_rules_say() -> None:
    few = shoots_only([40, 41, 42, 40], Definition.STEMS_3_LEAVES)
    judged = assess(few, "virginia-nitrogen", yield_goal=80.0)
    plan = topdress("virginia-nitrogen", assessment=judged, goal_bu_ac=80.0, given_lb_ac=5.0)
    said = "35-45 lb N/ac that it lacks, as soon as possible, on days that average above 32 °F."
    assert any(said in one.text for one in with_nitrogen(judged, plan).verdict.actions)


def test_after_a_tissue_test_no_early_dose_is_left() -> None:
    """It is taken at Feekes 5, also where nobody typed the stage."""
    judged = assess(THIN, "common-practice", yield_goal=80.0)
    plan = topdress(
        "common-practice", assessment=judged, goal_bu_ac=80.0, given_lb_ac=5.0, tissue_percent=3.1
    )
    steps = [one.text for one in with_nitrogen(judged, plan).verdict.actions]
    assert "5 lb N/ac are on already and taken for the early part: put no more on early." in steps
    assert not any("it lacks" in one for one in steps)


@pytest.mark.parametrize(("on", "in_all"), [(88.0, ""), (100.0, "100-120"), (200.0, "200")])
def test_in_all_is_never_less_than_what_is_on(on: float, in_all: str) -> None:
    plan = made(given_lb_ac=on)
    assert plan.total == plan.comes_to
    told = [line for line in text_of(plan).split("\n") if line.startswith("in all: ")]
    if in_all:
        assert told[0].startswith(f"in all: {in_all} lb N/ac with what is on already; the whole")
    else:
        assert told[0].startswith("in all: 88-120 lb N/ac; ")


def test_what_is_on_early_is_held_against_the_ceilings() -> None:
    """60 lb on a stand that asks for 22-36 are above what Kentucky gives early, dose or no dose."""
    held = {one.ceiling.by: one for one in made(given_lb_ac=60).ceilings}
    assert held["Kentucky"].over
    assert not held["North Carolina"].over
    none_early = {one.ceiling.by: one.over for one in made(TARGET, given_lb_ac=51).ceilings}
    assert none_early["Virginia"]


def test_nothing_is_taken_for_an_early_part_that_isn_t_asked_for() -> None:
    judged = assess(TARGET, "common-practice")
    plan = topdress("common-practice", assessment=judged, given_lb_ac=20.0)
    assert "20 lb N/ac are on already: put no more on early." in text_of(plan)


def test_without_a_goal_what_is_on_is_said_all_the_same() -> None:
    judged = assess(THIN, "common-practice")
    plan = topdress("common-practice", assessment=judged, given_lb_ac=20.0)
    assert "20 lb N/ac are on already: take them off what would go on early." in text_of(plan)


def test_the_first_step_of_every_set_is_the_early_dose() -> None:
    """What `without_early` goes by."""
    for one in list_rules():
        for rule in load_rules(one.name).rules:
            for band in rule.bands:
                if band.early in EARLY:
                    first = band.do_nitrogen[0].lower()
                    assert re.search(r"put |early|nitrogen at green-up|split", first), (
                        one.name,
                        first,
                    )


def test_tissue_test_is_the_main_dose() -> None:
    """3.0 %: 80 lb; no more than 120 lb in spring (Virginia scale, Delaware 2019)."""
    plan = made(stage="Feekes 5", tissue_percent=3.0)
    assert [d.lb_ac for d in plan.doses] == [(80, 80)]
    capped = made(stage="Feekes 5", tissue_percent=2.0, given_lb_ac=30)
    assert capped.doses[0].lb_ac == (90, 90)
    assert any("no more than 120" in line for line in capped.arithmetic)


def test_rules_without_density_give_the_whole() -> None:
    """Ohio: 1.33 x 80 - 13; any time from green-up to Feekes 6, tillers don't decide."""
    plan = made(None, "tri-state-nitrogen-2020")
    assert [d.name for d in plan.doses] == ["whole"]
    assert plan.doses[0].lb_ac == pytest.approx((93.4, 93.4))
    assert "green-up to Feekes 6" in plan.doses[0].when
    assert plan.plan is None


def test_whole_by_another_publisher_is_said() -> None:
    plan = made(whole_by="tri-state-nitrogen-2020")
    assert plan.whole.net == pytest.approx((93.4, 93.4))
    assert plan.doses[0].lb_ac == pytest.approx((0.25 * 93.4, 0.30 * 93.4))
    assert any("two publishers" in flag for flag in plan.flags)
    assert not any("two publishers" in flag for flag in made().flags)


def test_the_publishers_own_ceiling_is_kept() -> None:
    """NCDA&CS 2010: up to half of the spring nitrogen, about 60 lb; of 66-90 lb that is 45."""
    plan = made(field([15, 15, 15, 15, 15]), "north-carolina-ncdacs-nitrogen", goal=60.0)
    assert plan.doses[0].lb_ac == (0, 45)
    assert plan.doses[1].lb_ac == (21, 90)
    assert any("kept to the publisher's ceiling" in line for line in plan.arithmetic)


def test_pounds_printed_for_the_band_stand() -> None:
    """Virginia 2005: fewer than 50 tillers with three leaves, 40-50 lb."""
    plan = made(shoots_only([40, 41, 42, 40], Definition.STEMS_3_LEAVES), "virginia-nitrogen")
    assert plan.doses[0].lb_ac == (40, 50)
    held = {h.ceiling.by: h.over for h in plan.ceilings}
    assert held["Virginia"] is False


def test_a_share_printed_for_the_band_stands() -> None:
    """Delaware 2018: fewer than 50 tillers, at least half of the spring nitrogen now; of 80-120."""
    plan = made(field([15, 15, 15, 15, 15]), "delaware-nitrogen", goal=None)
    assert [d.lb_ac for d in plan.doses] == [(40, 120), (0, 60)]
    assert any("as printed" in line and "50-100 %" in line for line in plan.arithmetic)
    assert any("more than half" in flag for flag in plan.flags)


def test_another_publishers_split_says_whose_it_is() -> None:
    """Wisconsin names no pounds: 25-30 % early is common practice's."""
    plan = made(field([20, 20, 20, 20.1], each=2.5), "wisconsin-stand")
    assert any("common practice; these rules name no pounds" in a for a in plan.arithmetic)
    assert not any("these rules name no pounds" in a for a in made().arithmetic)


@given(
    st.tuples(st.floats(0, 150), st.floats(0, 150)), st.tuples(st.floats(0, 80), st.floats(0, 80))
)
def test_the_rest_is_a_range_from_none_up(
    total: tuple[float, float], early: tuple[float, float]
) -> None:
    low, high = rest_of((min(total), max(total)), (min(early), max(early)))
    assert 0 <= low <= high <= max(total)


def test_credits_come_off_before_the_split() -> None:
    plan = made(there=AlreadyThere(fall_lb_ac=20))
    assert plan.whole.net == pytest.approx((68, 100))
    assert sum(d.lb_ac[1] for d in plan.doses) >= 68
    assert any("fall nitrogen" in line for line in plan.arithmetic)
    assert not any("Take off what is already there" in line for line in text_of(plan).splitlines())


def test_flags_of_the_chosen_case_only() -> None:
    plan = made(field([20, 20.4, 19.8, 20.2], each=4.0), "kentucky-stand", case="no-till")
    assert plan.whole.net == (80, 120)
    assert not any("say which holds" in flag for flag in plan.flags)


def test_barley_by_insisting() -> None:
    """Delaware 60-90 lb on barley; its tillers are wheat's, so not validated."""
    plan = made(
        shoots_only([40, 41, 42, 40]), "delaware-nitrogen", crop="barley", insist=True, goal=None
    )
    assert plan.whole.net == (60, 90)
    assert plan.flags[0].startswith("Not validated for barley")
    assert not record(plan)["validated"]


def test_other_rules_than_the_assessment() -> None:
    judged = assess(THIN, "common-practice")
    with pytest.raises(InputError, match="judged by rules 'common-practice'"):
        topdress("missouri-nitrogen", assessment=judged)


def test_frozen_ground_comes_first() -> None:
    plan = made(conditions=Conditions(ground="frozen"), products=[product("urea")])
    assert headline(plan).startswith("Don't spread now: the ground is frozen")
    assert record(plan)["do_not_spread"].startswith("Don't spread now")


def test_amounts_are_those_of_the_doses() -> None:
    plan = made(
        products=[product("uan28"), product("urea")],
        prices={"uan28": parse_price("320/ton")},
        area_m2=404_685.64224,
    )
    low, high = plan.doses[0].amounts[0]
    assert (low.lb_n_ac, high.lb_n_ac) == pytest.approx(plan.doses[0].lb_ac)
    assert low.cost_ac == pytest.approx(22 / 0.28 * 0.16)
    assert high.field_lb == pytest.approx(36 / 0.28 * 100)  # a field of 100 acres
    text = text_of(plan)
    assert "22 lb N / 0.28 = 78.57 lb of UAN 28 per acre" in text
    assert "from memory" in text


def test_overlap_doubles_and_warns() -> None:
    found = overlap(shapely.box(0, 0, 400, 200), Boom(15))
    plan = made(overlap=found, area_m2=found.field_m2)
    assert "44-72 lb N/ac there instead of 22-36" in text_of(plan)
    assert any("240 lb N/ac" in advice.text for advice in plan.lodging)
    none = overlap(shapely.box(0, 0, 400, 200), Boom(20))
    assert not made(overlap=none).lodging
    thick = made(field([30, 30, 30, 30], each=4.0))
    assert any("more than 100" in advice.text for advice in thick.lodging)


def test_cautions_are_always_there() -> None:
    for plan in (made(), made(None, "tri-state-nitrogen-2020"), made(field([10, 10, 10]))):
        text = text_of(plan)
        for words in ("not an insurance appraisal", "check this year's notice", "label is the law",
                      "certified crop adviser", "frozen, snow-covered or saturated"):  # fmt: skip
            assert words in text, words


def test_record_is_plain_and_whole() -> None:
    found = overlap(shapely.box(0, 0, 400, 200), Boom(15))
    plan = made(
        overlap=found,
        stage="Feekes 3",
        products=[product("uan32")],
        weeds=[weed_loss("henbit", 40)],
        visited=dt.date(2026, 3, 5),
    )
    kept = json.loads(json.dumps(record(plan), allow_nan=False))
    assert kept["schema"] == "tillercount.nitrogen/1"
    assert kept["doses"][0]["lb_ac"] == pytest.approx([22, 36])
    assert kept["overlap"]["map"]["type"] == "FeatureCollection"
    assert kept["look_again"] == {"first": "2026-03-19", "last": "2026-03-26"}
    assert kept["weeds"][0]["loss_percent"] == [0, 13]
    titles = [one["title"] for one in kept["sections"]]
    assert titles[0] == "Nitrogen"
    assert len(titles) == len(set(titles))
    assert "tillers formed" in text_of(plan)  # decisive feature of the stage


def test_no_pounds_without_a_goal() -> None:
    plan = made(goal=None)
    assert plan.doses == ()
    assert "yield goal" in headline(plan)


@settings(max_examples=25, deadline=None)
@given(st.floats(30, 150), st.floats(0, 60))
def test_doses_add_up_to_what_is_left(goal: float, fall: float) -> None:
    plan = topdress(
        "common-practice",
        assessment=assess(THIN),
        goal_bu_ac=goal,
        there=AlreadyThere(fall_lb_ac=fall),
    )
    assert plan.whole.net is not None
    if plan.whole.net[1] < 10:  # too little for a pass
        assert [d.lb_ac for d in plan.doses] == [(0.0, 0.0)]
        assert plan.nothing
        return
    for end in (0, 1):
        assert sum(d.lb_ac[end] for d in plan.doses) == pytest.approx(plan.whole.net[end], abs=1e-6)


def test_potential_side_by_side() -> None:
    """Kernels per head: 30 (Virginia), 35 (Kentucky), 30-32; 13,000-16,000 per lb (Oklahoma)."""
    result = assess(THIN, yield_goal="80 bu/ac")
    assert result.heads is not None
    assert result.yield_ is not None
    rules = load_rules("common-practice")
    found = yield_potential(result.heads, rules, rules)
    assert found == result.yield_  # one range, whichever command names it
    assert len(found.by_source) == 3 + len(expected_yield(result.heads, rules, rules).by_source)
    kentucky = found.by_source[1]
    # 35 kernels x 43,560 ft² / (16,000 x 60) bushels for each head per ft²
    assert kentucky.factor[0] == pytest.approx(35 * 43_560 / (16_000 * 60))
    assert kentucky.factor[1] == pytest.approx(35 * 43_560 / (13_000 * 60))
    assert found.high > found.low
    own = yield_potential(result.heads, rules, rules, Kernels((33, 33), (30, 30)))
    assert own.by_source[0].factor[0] == pytest.approx(33 * 30 * 0.00160056, rel=1e-5)
    assert "your kernels" in own.by_source[0].source


def test_a_bushel_of_barley_is_lighter() -> None:
    """48 lb against wheat's 60 (standard bushels): a quarter more of them from the same kernels."""
    heads = assess(THIN).heads
    assert heads is not None
    rules = load_rules("common-practice")
    wheat, barley = (yield_potential(heads, rules, rules, crop=c) for c in ("wheat", "barley"))
    for one, other in zip(wheat.by_source[:3], barley.by_source[:3], strict=True):
        assert other.low == pytest.approx(one.low * 60 / 48)
    assert barley.by_source[3:] == wheat.by_source[3:]


def test_goal_is_held_against_the_one_range() -> None:
    """What print makes likely, or the user's own kernels where they are given."""
    rules = load_rules("common-practice")
    plain = assess(THIN, rules).yield_
    assert plain is not None
    goal = plain.high + 1
    judged = assess(THIN, rules, yield_goal=goal)
    assert judged.nitrogen is not None
    (said,) = judged.nitrogen.unsure
    assert f"{plain.low:.0f}-{plain.high:.0f} bu/ac" in said
    made = topdress(rules, assessment=judged, goal_bu_ac=goal)
    assert made.yield_ == plain
    assert made.first == (said,)
    heavy = topdress(rules, assessment=judged, goal_bu_ac=goal, kernels=Kernels((45, 45), (45, 45)))
    assert heavy.yield_ is not None
    assert heavy.yield_.high > goal
    assert heavy.first == ()
    assert not any("yield goal" in f for one in (judged, made, heavy) for f in one.flags)
    light = topdress(rules, assessment=judged, goal_bu_ac=goal, kernels=Kernels((20, 20), (20, 20)))
    assert light.yield_ is not None
    (own,) = light.first
    assert f"{light.yield_.low:.0f}-{light.yield_.high:.0f} bu/ac" in own


def test_kernels_typed() -> None:
    assert parse_kernels("33", what="kernels") == (33, 33)
    assert parse_kernels("30-35", what="kernels") == (30, 35)
    with pytest.raises(InputError, match="kernels"):
        parse_kernels("many", what="kernels")
    with pytest.raises(InputError, match="kernels per head 35 to 30"):
        Kernels(per_head=(35, 30))
    with pytest.raises(InputError, match="kernel weight"):
        Kernels(mg=(5, 30))


@pytest.mark.parametrize(
    ("plants", "heads", "kernels", "mg", "measured"),
    [
        (112.12, 4.36, 21.25, 46.11, 3.97),  # 50 kg/ha
        (162.75, 3.26, 19.95, 45.10, 4.26),  # 75 kg/ha
        (202.62, 2.73, 19.16, 44.66, 4.38),  # 100 kg/ha
    ],
)
def test_mcleod_means(
    plants: float,
    heads: float,
    kernels: float,
    mg: float,
    measured: float,
) -> None:
    """McLeod barley 1982, means of 8 sites (published output), yield t/ha.

    Over single rows components came to 0.926 to 1.440 of what was measured.
    """
    from tillercount.stand.components import grain_bu_ac

    grain = grain_bu_ac(per_ft2(plants * heads), kernels, mg, lb_per_bu=48)
    assert 0.926 < bu_per_ac_to_t_per_ha(grain, "barley") / measured < 1.440


def test_mcleod_one_row() -> None:
    """Studholme 1976, 125 kg/ha: 251 plants/m² with 3.12 shoots each are 783 shoots/m²."""
    counted = assess(field([per_ft2(251.0)] * 4, each=3.12)).field
    assert counted.shoots is not None
    assert counted.shoots.mean == pytest.approx(783, abs=0.5)
