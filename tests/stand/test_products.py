"""Products, amounts and prices; the tissue test."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.stand import parse_stage
from tillercount.stand.products import (
    PRODUCTS,
    amount,
    parse_price,
    product,
)
from tillercount.stand.rates import names_no_area, rate_lb_ac
from tillercount.stand.tissue import BARLEY_TABLE, WHEAT_TABLE, tissue_rate
from tillercount.units import KG_PER_HA_PER_LB_PER_ACRE


@pytest.mark.parametrize(
    ("percent", "wheat", "barley"),
    [
        (2.00, 120, 100), (2.25, 110, 100), (2.50, 100, 100), (2.75, 90, 80), (3.00, 80, 50),
        (3.25, 70, 30), (3.50, 60, 0), (4.00, 40, 0), (4.50, 20, 0), (5.00, 0, 0),
    ],
)  # fmt: skip
def test_tissue_table(percent: float, wheat: float, barley: float) -> None:
    """Virginia Tech scale as printed by the University of Delaware 2019."""
    assert tissue_rate(percent).lb_ac == wheat
    assert tissue_rate(percent, "barley").lb_ac == barley
    assert tissue_rate(percent).printed
    assert wheat == pytest.approx(40 * (5 - percent))  # the line, from 2 to 5 %


@given(st.floats(2.0, 5.0))
def test_wheat_is_the_line_between_printed_rows_too(percent: float) -> None:
    assert tissue_rate(percent).lb_ac == pytest.approx(40 * (5 - percent), abs=1e-6)


@given(st.floats(0.5, 8.0), st.floats(0.5, 8.0))
def test_more_in_the_plant_never_asks_for_more(one: float, other: float) -> None:
    low, high = sorted((one, other))
    for crop, table in (("wheat", WHEAT_TABLE), ("barley", BARLEY_TABLE)):
        assert tissue_rate(low, crop).lb_ac >= tissue_rate(high, crop).lb_ac
        assert 0 <= tissue_rate(low, crop).lb_ac <= table[0][1]


def test_tissue_ends_and_stage() -> None:
    assert (tissue_rate(1.5).lb_ac, tissue_rate(1.5, "barley").lb_ac) == (120, 100)
    assert tissue_rate(6).lb_ac == 0
    between = tissue_rate(2.9, "barley")
    assert not between.printed
    assert 50 < between.lb_ac < 80
    assert not any("not for" in f for f in tissue_rate(3, stage=parse_stage("GS30")).flags)
    assert "not for Feekes 3" in tissue_rate(3, stage=parse_stage("Feekes 3")).flags[0]
    with pytest.raises(InputError, match="wheat and barley"):
        tissue_rate(3, "rye")
    with pytest.raises(InputError, match="check the report"):
        tissue_rate(0.03)


def test_pounds_of_nitrogen_in_a_gallon() -> None:
    """28 % at 10.67 and 32 % at 11.06 lb per gallon (fluid properties sheet); ATS 11.04."""
    assert product("uan28").lb_n_per_gal == pytest.approx(2.9876, abs=1e-9)
    assert product("uan32").lb_n_per_gal == pytest.approx(3.5392, abs=1e-9)
    assert product("ats").lb_n_per_gal == pytest.approx(1.3248, abs=1e-9)
    assert product("uan30").lb_n_per_gal == pytest.approx(3.258, abs=1e-9)  # density from memory
    assert product("urea").lb_n_per_gal is None


def test_purdue_example() -> None:
    """28 % at 10.6 lb: 2.968 lb a gallon; 20 gal 59.4 lb, 30 gal 89.0 (Purdue, Farm Progress)."""
    purdue = replace(product("uan28"), lb_per_gal=10.6)
    assert purdue.lb_n_per_gal == pytest.approx(2.968, abs=1e-9)
    for gallons, pounds in ((20, 59.4), (30, 89.0)):
        assert amount(pounds, purdue).gal_ac == pytest.approx(gallons, abs=0.02)


def test_memory_is_shown_as_memory() -> None:
    for key in ("urea", "uan30", "ams"):
        assert "from memory" in PRODUCTS[key].facts
    for key in ("uan28", "uan32", "ats"):
        assert "from memory" not in PRODUCTS[key].facts
        assert "fluid fertiliser properties sheet" in PRODUCTS[key].facts


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("urea", "urea"), ("UAN 28", "uan28"), ("uan-32", "uan32"), ("28%", "uan28"),
        ("30", "uan30"), ("Ammonium sulfate", "ams"), ("ammonium sulphate", "ams"),
        ("ATS", "ats"), ("12-0-0-26S", "ats"), ("46-0-0", "urea"),
    ],
)  # fmt: skip
def test_names(text: str, key: str) -> None:
    assert product(text).key == key


def test_names_refused() -> None:
    with pytest.raises(InputError, match="which strength"):
        product("UAN")
    with pytest.raises(InputError, match="isn't known; known: urea"):
        product("compost")


@given(st.floats(0.1, 300), st.floats(1.1, 10), st.sampled_from(sorted(PRODUCTS)))
def test_amounts_scale_and_units_agree(pounds: float, times: float, key: str) -> None:
    of = PRODUCTS[key]
    price = parse_price("400/ton")
    one = amount(pounds, of, price=price, area_m2=10_000.0)
    more = amount(pounds * times, of, price=price, area_m2=10_000.0)
    assert more.lb_ac == pytest.approx(one.lb_ac * times)
    assert one.lb_ac * of.n == pytest.approx(pounds)
    assert one.kg_ha / one.lb_ac == pytest.approx(KG_PER_HA_PER_LB_PER_ACRE)
    assert one.field_lb is not None
    assert one.field_lb * 0.45359237 == pytest.approx(one.kg_ha)  # a field of one hectare
    assert one.cost_ac == pytest.approx(one.lb_ac * 0.2)
    assert one.cost_ha is not None
    assert one.field_cost == pytest.approx(one.cost_ha)
    if of.lb_per_gal is None:
        assert (one.gal_ac, one.l_ha, one.field_gal) == (None, None, None)
    else:
        assert one.gal_ac is not None
        assert one.l_ha is not None
        assert one.gal_ac * of.lb_per_gal == pytest.approx(one.lb_ac)
        # 3.785411784 L to the gallon, 0.40468564224 ha to the acre, both exact
        assert one.l_ha == pytest.approx(one.gal_ac * 3.785411784 / 0.40468564224)
        assert one.field_gal == pytest.approx(one.l_ha / 3.785411784)


@pytest.mark.parametrize(
    ("text", "per_lb"),
    [
        ("420/ton", 0.21),
        ("$420 per ton", 0.21),
        ("1000/t", 0.45359237),
        ("0.25/lb", 0.25),
        ("1.067/gal", 0.1),
        ("0.50/lb N", 0.14),
    ],
)
def test_prices(text: str, per_lb: float) -> None:
    """Of UAN 28 at 10.67 lb per gallon; a ton is 2,000 lb, t is 1,000 kg."""
    assert parse_price(text).per_lb(product("uan28")) == pytest.approx(per_lb)


@given(st.floats(0.01, 5000))
def test_a_price_per_litre_is_a_price_per_gallon(value: float) -> None:
    of = product("uan32")
    litre = parse_price(f"{value:.6f}/L").per_lb(of)
    gallon = parse_price(f"{value:.6f}/gal").per_lb(of)
    assert litre == pytest.approx(gallon * 3.785411784)


@pytest.mark.parametrize("text", ["420", "420/bag", "0/ton", "-3/ton", "much/ton"])
def test_prices_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_price(text)


def test_no_gallons_of_a_dry_product() -> None:
    with pytest.raises(InputError, match="is dry"):
        amount(30, product("urea"), price=parse_price("1.50/gal"))
    with pytest.raises(InputError, match="0 or more"):
        amount(-1, product("urea"))


@pytest.mark.parametrize(
    ("text", "pounds"),
    [
        ("30 lb/ac", 30), ("0", 0), (30, 30), ("30 lb N/ac", 30), ("33.625536 kg/ha", 30),
        ("30 lb", 30), ("30 lbs", 30), ("30 lbs/acre", 30), ("30 LB per acre", 30),
        ("30lbs N/ac", 30), ("33.625536 kg N per ha", 30),
    ],
)  # fmt: skip
def test_rates(text: str | float, pounds: float) -> None:
    assert rate_lb_ac(text) == pytest.approx(pounds)


@pytest.mark.parametrize(
    ("text", "most"),
    [
        ("400 lb/ac", ""), ("450 kg/ha", ""), ("401 lb/ac", "400 lb/ac"),
        ("451 kg/ha", "450 kg/ha"),
    ],
)  # fmt: skip
def test_most_that_is_taken_is_said_in_the_unit_typed(text: str, most: str) -> None:
    if not most:
        assert rate_lb_ac(text, what="--given") == pytest.approx(400, rel=0.005)
        return
    with pytest.raises(InputError, match=f"--given .* can't be right: no more than {most} is"):
        rate_lb_ac(text, what="--given")


@pytest.mark.parametrize(
    "text",
    ["1-11 lb", "30-40 lb/ac", "30 – 40 lb/ac", "30 to 40 lb/ac", "30lb-40lb", "34-40 kg/ha"],
)
def test_a_range_is_asked_about(text: str) -> None:
    with pytest.raises(InputError, match=r"--given .* is a range, \d+ to \d+; give the one rate"):
        rate_lb_ac(text, what="--given")


@pytest.mark.parametrize("text", ["30/40 lb", "20/1 lb/ac", "1-11/2 lb", "3-4/2 lb", "10 20/2 lb"])
def test_two_numbers_are_no_fraction_of_a_rate(text: str) -> None:
    with pytest.raises(InputError, match=r"--given .* may be a fraction"):
        rate_lb_ac(text, what="--given")
    assert rate_lb_ac("7 1/2 lb/ac") == rate_lb_ac("7-1/2 lb/ac") == 7.5


def test_a_rate_needs_its_unit() -> None:
    with pytest.raises(InputError, match="'30' has no unit; write '30 lb/ac' or '30 kg/ha'"):
        rate_lb_ac("30")


@pytest.mark.parametrize(
    ("text", "none"),
    [
        ("30 lb", True), ("30lbs", True), ("30 LB ", True), ("30 lb/ac", False),
        ("30 lbs per acre", False), ("30 lb N/ac", False), ("34 kg/ha", False), ("0", False),
    ],
)  # fmt: skip
def test_pounds_without_an_area_are_told(text: str, none: bool) -> None:
    rate_lb_ac(text)
    assert names_no_area(text) is none


@pytest.mark.parametrize("text", ["", "some", "-3 lb/ac", "30 bu/ac", "30 lb/ha", "lbs"])
def test_rates_refused(text: str) -> None:
    with pytest.raises(InputError, match="nitrogen"):
        rate_lb_ac(text)
