"""The whole nitrogen: each publisher's own figures, at and around their borders, and credits."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.stand import check_rules, describe, list_rules, load_rules
from tillercount.stand.already import AlreadyThere
from tillercount.stand.whole import Whole, whole_nitrogen

TRADE = load_rules("common-practice")


def whole(name: str, goal: float | None, **more: object) -> Whole:
    return whole_nitrogen(load_rules(name), TRADE, goal, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("goal", "pounds"), [(100, 120.0), (90, 106.7), (80, 93.4), (70, 80.1), (9, 0.0)]
)
def test_tri_state_2020(goal: float, pounds: float) -> None:
    """1.33 x YP - 13 (Ohio State, C.O.R.N. 2023-07); its table has 120, 110, 90 and 80 lb."""
    found = whole("tri-state-nitrogen-2020", goal)
    assert found.gross == pytest.approx((pounds, pounds), abs=0.05)
    assert "1.33" in found.arithmetic[0]
    assert "2020" in found.arithmetic[0]


@pytest.mark.parametrize(("goal", "pounds"), [(50, 40.0), (90, 110.0), (75, 83.75)])
def test_tri_state_1995(goal: float, pounds: float) -> None:
    """40 + 1.75 x (YP - 50) (Ohio State 2017); at 75 bu the table beside it has 70 lb."""
    found = whole("tri-state-nitrogen-1995", goal)
    assert found.gross == pytest.approx((pounds, pounds))
    assert any("table has 70 lb" in flag for flag in found.flags) == (goal == 75)


def test_outside_the_printed_table_is_said() -> None:
    assert any("outside the 70-100" in f for f in whole("tri-state-nitrogen-2020", 110).flags)
    assert not whole("tri-state-nitrogen-2020", 100).flags


@pytest.mark.parametrize(
    ("goal", "pounds"),
    [(39, None), (40, (80, 100)), (70, (80, 100)), (70.1, (120, 120)), (95, (120, 120))],
)
def test_georgia(goal: float, pounds: tuple[float, float] | None) -> None:
    """40-70 bu: 80-100 lb; more than 70: 120 (University of Georgia 2011)."""
    found = whole("georgia-nitrogen", goal)
    assert found.net == pounds
    if pounds is None:
        assert "isn't in print" in found.flags[0]
        assert "40-70 bu/ac" in found.flags[0]


def test_flat_ranges_need_no_goal() -> None:
    """Delaware: 80-120 lb on wheat, 60-90 on barley (Weekly Crop Update 2019)."""
    assert whole("delaware-nitrogen", None).net == (80, 120)
    assert whole("delaware-nitrogen", None, crop="barley").net == (60, 90)
    assert whole("common-practice", None).net is None


def test_kentucky_cases() -> None:
    """60-100 lb tilled, 80-120 no-till (University of Kentucky 2013); both where none is said."""
    assert whole("kentucky-stand", 80, case="tilled").net == (60, 100)
    assert whole("kentucky-stand", 80, case="no-till").net == (80, 120)
    both = whole("kentucky-stand", 80)
    assert both.net == (60, 120)
    assert both.cases == ("tilled", "no-till")
    assert any("say which holds" in flag for flag in both.flags)
    with pytest.raises(InputError, match="case 'ploughed'; it has tilled or no-till"):
        whole("kentucky-stand", 80, case="ploughed")
    with pytest.raises(InputError, match="has none"):
        whole("delaware-nitrogen", 80, case="tilled")


@pytest.mark.parametrize(
    ("name", "case", "pounds"),
    [
        ("oklahoma-nitrogen", "", (120, 120)),  # 2.0 lb/bu: Oklahoma State nutrient blog
        ("pennsylvania-stand", "", (66, 90)),  # names no whole: common practice's
        ("washington-nitrogen", "hard red winter", (180, 180)),  # 3.0: Wheat Life worksheet
        ("washington-nitrogen", "hard white", (192, 192)),  # 3.2
        ("washington-nitrogen", "dark northern spring", (216, 216)),  # 3.6
        ("kansas-nitrogen", "", (144, 144)),  # 2.4: from memory
        ("common-practice", "", (66, 90)),  # 1.1-1.5: common practice
        ("virginia-nitrogen", "", (66, 90)),  # names no whole: common practice's
    ],
)
def test_pounds_per_bushel_at_60(name: str, case: str, pounds: tuple[float, float]) -> None:
    found = whole(name, 60, case=case)
    assert found.net == pytest.approx(pounds)
    borrowed = name in ("pennsylvania-stand", "virginia-nitrogen")
    assert any("common practice" in f for f in found.flags) == borrowed


def test_figures_from_memory_say_so() -> None:
    assert "from memory" in whole("kansas-nitrogen", 60).by
    assert "from memory" in whole("kansas-nitrogen", 60).arithmetic[0]


@pytest.mark.parametrize(("fall", "taken"), [(0, 0), (19.9, 19.9), (20, 20), (20.1, 20), (50, 20)])
def test_fall_nitrogen_up_to_20(fall: float, taken: float) -> None:
    """Ohio State 2023: subtract fall nitrogen up to 20 lb."""
    found = whole("tri-state-nitrogen-2020", 100, there=AlreadyThere(fall_lb_ac=fall))
    assert found.net == pytest.approx((120 - taken, 120 - taken))
    assert "C.O.R.N." in found.credits[0].source


def test_no_soybean_credit_in_ohio() -> None:
    """Ohio State 2023: no soybean credit; where nothing is in print that is said instead."""
    ohio = whole("tri-state-nitrogen-2020", 100, there=AlreadyThere(previous_crop="Soybeans"))
    assert ohio.net == ohio.gross
    assert ohio.credits[0].lb_ac == (0, 0)
    other = whole("common-practice", 80, there=AlreadyThere(previous_crop="soybeans"))
    assert not other.credits
    assert any("names no credit" in flag for flag in other.flags)


def test_washington_credit_and_debit() -> None:
    """OM 15-20 lb per percent off; 35 lb more after winter wheat (Wheat Life worksheet)."""
    there = AlreadyThere(organic_matter_percent=2.0, previous_crop="winter wheat")
    found = whole("washington-nitrogen", 60, case="hard red winter", there=there)
    assert found.net == (180 - 40 + 35, 180 - 30 + 35)
    assert any("more after winter wheat: 35" in line for line in found.arithmetic)


def test_credits_that_no_one_printed_are_the_trades() -> None:
    there = AlreadyThere(nitrate_lb_ac=15, manure_lb_ac=25, organic_matter_percent=3)
    found = whole("common-practice", 80, there=there)
    assert found.net == pytest.approx((88 - 40, 120 - 40))
    assert all("common practice" in credit.source for credit in found.credits)
    assert any("organic matter" in flag for flag in found.flags)
    oklahoma = whole("oklahoma-nitrogen", 60, there=AlreadyThere(nitrate_lb_ac=30))
    assert oklahoma.net == (90, 90)
    assert "osunpk.com" in oklahoma.credits[0].source


def test_never_below_none() -> None:
    found = whole("common-practice", 20, there=AlreadyThere(manure_lb_ac=100))
    assert found.net == (0, 0)


@given(st.floats(20, 150), st.floats(1.01, 3))
def test_pounds_per_bushel_scale_with_the_goal(goal: float, times: float) -> None:
    for name in ("common-practice", "oklahoma-nitrogen", "kansas-nitrogen"):
        one, more = whole(name, goal).net, whole(name, goal * times).net
        assert one is not None
        assert more == pytest.approx((one[0] * times, one[1] * times))


@given(st.floats(0, 200), st.floats(0, 200))
def test_more_there_means_less_to_put_on(less: float, more: float) -> None:
    a, b = (
        whole("oklahoma-nitrogen", 90, there=AlreadyThere(nitrate_lb_ac=n)).net
        for n in sorted((less, more))
    )
    assert a is not None
    assert b is not None
    assert b[1] <= a[1] <= 180


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ({"fall_lb_ac": -1}, "fall nitrogen"),
        ({"manure_lb_ac": 500}, "manure nitrogen"),
        ({"organic_matter_percent": 60}, "organic matter"),
    ],
)
def test_impossible_credits(bad: dict[str, float], says: str) -> None:
    with pytest.raises(InputError, match=says):
        AlreadyThere(**bad)  # type: ignore[arg-type]


def test_another_crop_gets_no_wheat_pounds() -> None:
    found = whole("common-practice", 60, crop="rye")
    assert found.net is None
    assert "rye" in found.flags[0]


def test_every_whole_in_print_has_a_source_or_says_from_memory() -> None:
    for rules in list_rules():
        for row in rules.nitrogen_whole:
            assert row.sources or (row.mark or rules.mark) == "from memory", rules.name


def test_rules_show_them() -> None:
    lines = dict(describe(load_rules("washington-nitrogen")))
    assert lines["Nitrogen already there"] == "after barley: +25 lb"
    assert ("Nitrogen in all", "wheat: 80-120 lb N/ac, at most 120") in describe(
        load_rules("delaware-nitrogen")
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("lb_per_bu = [2.0, 2.0]", "lb_per_bu = [2.0, 1.0]", "smaller one first"),
        ("lb_per_bu = [2.0, 2.0]", "", "either lb_per_bu or lb_ac"),
        ('what = "soil nitrate"', 'what = "organic matter"', "lb_per_percent"),
        ('what = "soil nitrate"', 'what = "previous crop"', "'after' and 'lb'"),
        ('[[nitrogen_whole]]\nlb_per_bu = [2.0, 2.0]\nsources = ["blog"]',
         '[[nitrogen_whole]]\nlb_per_bu = [2.0, 2.0]\nsources = ["blag"]', "isn't listed"),
    ],
)  # fmt: skip
def test_bad_tables_are_refused(tmp_path: Path, old: str, new: str, says: str) -> None:
    import tillercount.stand.library as library

    text = (Path(library.__file__).parent / "rules" / "oklahoma-nitrogen.toml").read_text("utf-8")
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=says):
        check_rules(path)
