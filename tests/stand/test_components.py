"""Yield from heads, kernels and their weight, against printed examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.stand.components import RowRule, grain_bu_ac, kernel_mg
from tillercount.units import bu_per_ac_to_t_per_ha, per_ft2


def test_constant_for_60_lb() -> None:
    """0.00160056 exactly, printed as 0.0016 (Johnson, Ontario 2017)."""
    assert grain_bu_ac(1, 1, 1) == pytest.approx(0.00160056, abs=5e-9)


@pytest.mark.parametrize(
    ("heads", "kernels", "per_lb", "bushels", "within"),
    [
        (12 * 4, 25, 16_000, 54.45, 5e-3),  # South Dakota State, which prints 52
        (12 * 4, 25, 16_754, 52.0, 5e-3),  # the weight that its 52 implies
        (8 * 5, 25, 1_000_000 / 60, 43.56, 5e-3),  # South Dakota 2014: 44, a million to a bushel
        (5, 22, 16_000, 4.99125, 5e-6),  # Nebraska and Colorado constants, for 1 plant
        (35, 60, 13_000, 117.28, 5e-3),  # Penn State 2012, whose 166 is a slip
    ],
)
def test_printed_examples(
    heads: float, kernels: float, per_lb: float, bushels: float, within: float
) -> None:
    assert grain_bu_ac(heads, kernels, kernel_mg(per_lb)) == pytest.approx(bushels, abs=within)


def test_ndsu_rule() -> None:
    """0.0319 for 3 ft of 7-in rows (NDSU A-290): 75 spikes of 35 kernels; 7.5-in rows x 7/7.5."""
    rule = RowRule(0.0319 * 7, 3.0, "NDSU A-290")
    assert rule.bu_ac(75, 35, 7.0) == pytest.approx(83.74, abs=5e-3)
    assert rule.bu_ac(75, 35, 7.5) == pytest.approx(78.16, abs=5e-3)


def test_uk_chain() -> None:
    """280 seeds x 85 % x 3.5 tillers x 45 % x 48 grains x 50 mg = 9 t/ha (Anglia Farmer 2020)."""
    plants = 280 * 0.85
    ears = plants * 3.5 * 0.45
    tonnes = bu_per_ac_to_t_per_ha(grain_bu_ac(per_ft2(ears), 48, 50))
    assert tonnes == pytest.approx(9.0, abs=0.005)


def test_mcleod_barley() -> None:
    """Studholme 1976, 125 kg/ha: 251 plants x 2.44 ears x 19.7 x 44.9 mg = 5.417 t/ha (McLeod)."""
    grain = grain_bu_ac(per_ft2(251 * 2.44), 19.7, 44.9, lb_per_bu=48)
    assert bu_per_ac_to_t_per_ha(grain, "barley") == pytest.approx(5.417, abs=5e-4)


@given(st.floats(1, 120), st.floats(5, 60), st.floats(20, 55), st.floats(4, 15), st.floats(1, 5))
def test_a_row_rule_is_the_components(
    heads_per_ft2: float, kernels: float, mg: float, spacing_in: float, row_ft: float
) -> None:
    """A rule built for a kernel weight gives that weight back, and the components' yield."""
    constant = grain_bu_ac(12 / row_ft, 1, mg)
    rule = RowRule(constant, row_ft, "built")
    assert rule.implied_mg == pytest.approx(mg)
    heads = heads_per_ft2 * row_ft * spacing_in / 12
    assert rule.bu_ac(heads, kernels, spacing_in) == pytest.approx(
        grain_bu_ac(heads_per_ft2, kernels, mg)
    )
