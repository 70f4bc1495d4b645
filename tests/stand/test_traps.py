"""Slips and contradictions in print that the program must not fall for, one test or more each.

T1 to T16 number the traps; the publication stands beside each.
"""

from __future__ import annotations

import math
import re
from importlib import resources

import pytest

from tests.stand.fields import FOOT, field, shoots_only
from tillercount.area import HoopArea, RowArea, SquareArea
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.hand import HandCount
from tillercount.stand import assess, list_rules, load_rules, parse_stage
from tillercount.stand.cautions import PLAN
from tillercount.stand.compare import compare
from tillercount.stand.components import RowRule, grain_bu_ac, kernel_mg
from tillercount.stand.expect import BU_PER_HEAD
from tillercount.stand.local import Local, per_area
from tillercount.stand.potential import KERNELS_PER_HEAD
from tillercount.stand.rowluck import luck_of, row_luck
from tillercount.units import MM_PER_IN, per_ft2, per_m2


def test_t1_each_set_says_what_a_tiller_is() -> None:
    """Penn State and Ohio count main stems in; Sampson County any stem with three leaves;
    Virginia tillers with three leaves; Delaware leaves it open; a cooperative counts per yd²."""
    counting = {rules.name: rules.counting for rules in list_rules()}
    assert counting["pennsylvania-stand"].main_stem == "in"
    assert counting["ohio-stems"].main_stem == "in"
    assert counting["north-carolina-sampson-nitrogen"].min_leaves == 3
    assert counting["north-carolina-sampson-nitrogen"].main_stem == "in"
    assert counting["virginia-nitrogen"].min_leaves == 3
    assert counting["delaware-nitrogen"].min_leaves == "not stated"
    assert load_rules("midsouth-nitrogen").rules[0].unit == "yd2"
    assert all(one.words for one in counting.values())


def test_t1_tillers_and_plants_make_stems() -> None:
    """25 plants with 50 tillers besides their main stems are 75 stems."""
    tillers = [HandCount(str(i), "a", 25, 50, FOOT, Definition.TILLERS) for i in range(3)]
    result = assess(tillers, "ohio-stems", stage="Feekes 5").shoots
    assert result is not None
    assert result.mean == pytest.approx(75.0)
    with pytest.raises(InputError, match="plants weren't counted"):
        assess(shoots_only([50, 51, 52], Definition.TILLERS), "ohio-stems")


def test_t1_three_leaves_can_be_neither_added_nor_taken_away() -> None:
    small = shoots_only([60, 61, 62])
    large = shoots_only([60, 61, 62], Definition.STEMS_3_LEAVES)
    with pytest.raises(InputError, match="can't be worked out"):
        assess(small, "north-carolina-sampson-nitrogen")
    assert assess(large, "north-carolina-sampson-nitrogen").verdict.class_ == "on the way"
    with pytest.raises(InputError, match="can't be worked out"):
        assess(large, "pennsylvania-stand")


def test_t1_square_yards() -> None:
    """700 per yd² are 77.8 per ft² (cooperative 2021)."""
    rule = per_area(load_rules("midsouth-nitrogen").rules[0])
    assert rule.borders == pytest.approx((500 / 9, 700 / 9))
    assert assess(field([18, 22.4, 17.8, 22.2], each=5.0), "midsouth-nitrogen").verdict.clear
    thick = assess(field([20, 20.4, 19.8, 20.2], each=4.2), "midsouth-nitrogen")
    assert thick.verdict.class_ == "enough tillers"


def test_t2_opposite_advice_at_60() -> None:
    """Sampson County waits; NCDA&CS and Virginia give 30-40 lb; Missouri calls it urgent;
    Kentucky gives pounds; Penn State some or all at green-up."""
    photos = compare(field([20, 20, 20, 20.1]))
    leafy = compare(shoots_only([60, 60, 60.3, 60], Definition.STEMS_3_LEAVES))
    rows = {
        r.rules.name: r for r in (*photos.rows, *leafy.rows) if r.result.rule.measures[0] == "s"
    }
    band = {name: r.result.rule.bands[r.result.rule.index_of(60)] for name, r in rows.items()}
    assert band["north-carolina-sampson-nitrogen"].early == "hold"
    assert band["north-carolina-ncdacs-nitrogen"].early_n_lb_ac == (30, 40)
    assert band["virginia-nitrogen"].early_n_lb_ac == (30, 40)
    assert band["missouri-nitrogen"].early == "push"
    assert band["kentucky-stand"].early_n_lb_ac == (50, 50)
    assert band["pennsylvania-stand"].early == "push"
    text = str(photos.to_json()).lower()
    assert len(photos.of("shoots")) > 10  # side by side, and nothing made of them together
    assert "average of" not in text
    assert "consensus" not in text


def test_t3_row_length_comes_from_geometry() -> None:
    """144 / spacing; an Ohio article of 2013 gives 19.2 in for 7-in rows."""
    for spacing_in, length_in in ((7.0, 144 / 7), (7.5, 19.2), (10.0, 14.4)):
        area = RowArea(length_in * MM_PER_IN, spacing_in * MM_PER_IN)
        assert area.area_ft2 == pytest.approx(1.0)
    slip = RowArea(19.2 * MM_PER_IN, 7.0 * MM_PER_IN)
    assert slip.area_ft2 == pytest.approx(0.9333, abs=1e-4)


def test_t4_the_length_that_was_counted() -> None:
    """44 stems in 1 ft of a 7.5-in row are 70.4 per ft²; in 19 in they are 44.5 (Sampson Co.)."""

    def density(length_in: float) -> float:
        row = RowArea(length_in * MM_PER_IN, 7.5 * MM_PER_IN)
        per = HandCount("1", "a", None, 44, row).shoots_per_m2
        assert per is not None
        return per_ft2(per)

    assert density(12) == pytest.approx(70.4)
    assert density(19) == pytest.approx(44.46, abs=0.01)
    assert any("State the length" in n for n in load_rules("north-carolina-sampson-nitrogen").notes)


def test_t5_constant_048() -> None:
    """Florida 2013: heads in 1 ft; a press page has the same 0.48 for 5 ft, five times too much."""
    rule = RowRule(0.48, 1.0, "Florida 2013")
    assert rule.implied_mg == pytest.approx(25.0, abs=0.05)
    with pytest.raises(InputError, match="kernels of 125 mg, which don't exist"):
        RowRule(0.48, 5.0, "press")


def test_t6_constant_0142() -> None:
    """NDSU 2000 and 2020: 0.142 hides 22.2 mg; NDSU A-290: 0.0319 (7-in rows) hides 34.9 mg."""
    spikelets = RowRule(0.142, 3.0, "NDSU 2020")
    spikes = RowRule(0.0319 * 7, 3.0, "NDSU A-290")
    assert spikelets.implied_mg == pytest.approx(kernel_mg(20_450), abs=0.05)
    assert spikelets.implied_mg == pytest.approx(22.2, abs=0.05)
    assert spikes.implied_mg == pytest.approx(34.9, abs=0.05)


def test_t7_166_bushels() -> None:
    """35 heads x 60 kernels at 13,000 per lb: 117.28 bu, not the page's 166 (Penn State 2012)."""
    assert grain_bu_ac(35, 60, kernel_mg(13_000)) == pytest.approx(117.28, abs=5e-3)


@pytest.mark.parametrize(
    ("inches", "factor"),
    [(18, 24662), (21, 18119), (24, 13872), (27, 10961), (30, 8878), (33, 7337), (36, 6165)],
)
def test_t8_hoop_tables(inches: float, factor: float) -> None:
    """Purdue's table has pi = 3.14: within 0.1 % of the true one, and not equal to it."""
    exact = 43_560 / HoopArea(inches * MM_PER_IN).area_ft2
    assert factor == pytest.approx(exact, rel=1e-3)
    assert factor > exact


def test_t9_a_56_cm_hoop_is_no_quarter_square_meter() -> None:
    """0.2463 m²; 56.42 cm would be (Canola Council 2012 says 56)."""
    assert HoopArea(560.0).area_m2 == pytest.approx(0.2463, abs=5e-5)
    assert HoopArea(564.19).area_m2 == pytest.approx(0.25, abs=1e-5)


def test_t10_a_narrow_frame_catches_rows_by_luck() -> None:
    """12 in over 7.5-in rows: -37.5 % or +25 %, two rows 60 % of the time; 10-in rows: -17, +67 %.

    Geometry; in the long run the mean of random placements is right.
    """
    luck = row_luck(304.8, 7.5 * MM_PER_IN)
    assert (luck.fewest, luck.most) == (1, 2)
    assert (luck.low_rel, luck.high_rel) == (pytest.approx(-0.375), pytest.approx(0.25))
    assert luck.share_most == pytest.approx(0.6)
    wide = row_luck(304.8, 254.0)
    assert (wide.low_rel, wide.high_rel) == (
        pytest.approx(-1 / 6),
        pytest.approx(2 / 3),
    )
    for each in (luck, wide):
        mean = each.share_most * each.high_rel + (1 - each.share_most) * each.low_rel
        assert mean == pytest.approx(0.0)
    assert row_luck(15 * MM_PER_IN, 7.5 * MM_PER_IN).words == ""  # a whole multiple
    assert luck_of(RowArea(487.68, 190.5), 190.5) == ""
    local = Local(row_spacing_mm=190.5)
    flags = compare(field([20, 21, 22]), local=local, area=SquareArea(304.8)).flags
    assert any("-37.5% or +25.0%" in flag for flag in flags)


def test_t11_gs30_takes_the_later_side() -> None:
    """Feekes 4 in Georgia, 4-5 in North Carolina and Wisconsin, 5 in Delaware."""
    stage = parse_stage("GS30")
    assert stage.feekes == (4, 5)
    result = compare(field([20, 21, 22]), stage="GS30")
    names = {row.rules.name for row in result.rows}
    assert "ohio-stems" in names  # made for Feekes 5
    assert "missouri-nitrogen" not in names  # made for up to Feekes 4
    late = next(one for one in result.left_out if one.rules.name == "missouri-nitrogen")
    assert stage.feature in late.reason  # what to look for
    assert "1/2 in" in stage.feature


def test_t12_terminal_spikelet_belongs_to_no_stage_here() -> None:
    """Feekes 5 in Ohio 2023, early Feekes 6 in a Michigan article: not used to tell stages."""
    for code in range(10, 100):
        assert "spikelet" not in parse_stage(f"GS{code}").feature or code >= 50
    for file in (resources.files("tillercount.stand") / "rules").iterdir():
        assert "terminal spikelet" not in file.read_text(encoding="utf-8").lower(), file.name


def test_t13_ontario_is_per_foot_of_row() -> None:
    """7 per foot are 11.2 per ft², 121 per m², only in 7.5-in rows (OMAFRA 2012)."""
    rule = load_rules("ontario-stand").rules[0]
    assert rule.unit == "ft of row"
    assert 7 in rule.borders
    narrow = per_area(rule, Local(row_spacing_mm=7.5 * MM_PER_IN))
    assert 11.2 in narrow.borders
    assert per_m2(narrow.class_borders[0]) == pytest.approx(121, abs=0.6)
    wide = per_area(rule, Local(row_spacing_mm=10 * MM_PER_IN))
    assert 11.2 not in wide.borders
    left = compare(field([20, 21, 22])).left_out
    assert any(one.rules.name == "ontario-stand" and "row spacing" in one.reason for one in left)


def test_t14_two_editions_of_one_equation() -> None:
    """Tri-State 1995: 83.75 lb by the equation and 70 in the table at 75 bu; 2020: 1.33 Y - 13."""
    old = load_rules("tri-state-nitrogen-1995").nitrogen_by_yield
    new = load_rules("tri-state-nitrogen-2020").nitrogen_by_yield
    assert old is not None
    assert new is not None
    assert (old.edition, new.edition) == (1995, 2020)
    assert [old.lb_per_ac(bu) for bu in (50, 75, 90)] == [40, 83.75, 110]
    assert old.clashes == ((75, 83.75, 70),)
    for goal, lb in ((100, 120.0), (90, 106.7), (80, 93.4), (70, 80.1)):
        assert new.lb_per_ac(goal) == pytest.approx(lb)
    assert new.clashes == ()  # its table is rounded to 10 lb
    assert new.lb_per_ac(0) == 0
    for year in (1995, 2020):
        with pytest.raises(InputError, match="judge no density"):
            assess(field([20, 21]), f"tri-state-nitrogen-{year}")


def test_t15_manure_date_is_the_states_own() -> None:
    """1 March in Maryland's own text; a broadcaster's report of 2024 says 15 March."""
    assert "manure not before 1 March" in PLAN.text
    assert "15 March" not in PLAN.text
    assert "check this year's notice" in PLAN.text


def test_t16_yield_per_head_is_a_range() -> None:
    """About 1 (press 2011), 1.3-1.6 (common practice), 0.65-0.99 with 0.82 between (Rawlins Co.),
    and 1.96 by components of 65 heads x 35 kernels at 35 mg."""
    parts = grain_bu_ac(65, 35, 35)
    assert parts == pytest.approx(127, abs=0.5)
    assert parts / 65 == pytest.approx(1.96, abs=5e-3)
    rawlins = RowRule(0.513 * 19.213 / 20, 1.0, "Rawlins County, for 20 kernels a head")
    assert rawlins.bu_ac(50, 20, 7.5) == pytest.approx(65.7, abs=0.05)
    assert 0.65 < 0.513 * 19.213 / 12 < 0.99
    result = assess(field([22, 23, 21, 22]))
    assert result.yield_ is not None
    assert len(result.yield_.by_source) == len(KERNELS_PER_HEAD) + 1 + len(BU_PER_HEAD)
    assert result.yield_.high > 1.5 * result.yield_.low
    one_number = re.compile(r"about \d+ bu/ac likely")
    assert not any(one_number.search(step.value) for step in result.steps)
    assert math.isfinite(result.yield_.low)
