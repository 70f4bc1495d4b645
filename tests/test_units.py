"""Conversions against the definitions of the units, and quantities as people type them."""

from __future__ import annotations

import functools
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount import units
from tillercount.errors import InputError

POSITIVE = st.floats(1e-3, 1e6, allow_nan=False)


def test_exact_factors() -> None:
    """1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 acre = 43,560 ft² (definitions of the units)."""
    assert units.per_m2(1.0) == pytest.approx(10.76391, abs=5e-6)
    assert units.per_acre(units.per_m2(1.0)) == pytest.approx(43_560.0)
    assert units.acre_to_per_m2(1.0) * 10_000 == pytest.approx(2.4710538, abs=5e-8)
    assert units.kg_per_ha(1.0) == pytest.approx(1.1208512, abs=5e-8)


@pytest.mark.parametrize(
    ("crop", "factor"),
    [("wheat", 0.0672511), ("barley", 0.0538009), ("oats", 0.0358672), ("rye", 0.0627677)],
)
def test_bushels(crop: str, factor: float) -> None:
    """Bushels of 60, 48, 32 and 56 lb (the first three agree with NDSU A-290, 2005)."""
    assert units.bu_per_ac_to_t_per_ha(1.0, crop) == pytest.approx(factor, abs=5e-8)


def test_landmarks() -> None:
    """15 plants/ft² is "just over 650,000" an acre (University of Minnesota 2015)."""
    assert units.per_acre(units.per_m2(15.0)) == pytest.approx(653_400)
    for ft2, m2 in ((15, 161), (23, 248), (30, 323), (50, 538), (70, 753), (100, 1076)):
        assert round(units.per_m2(ft2)) == m2


@given(POSITIVE)
def test_there_and_back(value: float) -> None:
    assert units.per_ft2(units.per_m2(value)) == pytest.approx(value)
    assert units.acre_to_per_m2(units.per_acre(value)) == pytest.approx(value)
    assert units.lb_per_ac(units.kg_per_ha(value)) == pytest.approx(value)
    back = units.t_per_ha_to_bu_per_ac(units.bu_per_ac_to_t_per_ha(value, "oats"), "oats")
    assert back == pytest.approx(value)


@settings(deadline=None)  # the unit library takes its time to start
@given(
    st.floats(0.01, 5000).map(lambda v: round(v, 6)),
    st.sampled_from(["mm", "cm", "m", "in", "ft", "inch", "foot", "meter", "yd", "km"]),
    st.sampled_from(["", " ", "  "]),
)
def test_lengths_agree_with_a_unit_library(value: float, unit: str, gap: str) -> None:
    wanted = _registry().Quantity(value, unit).to("mm").magnitude
    assert units.length_mm(f"{value:f}{gap}{unit}") == pytest.approx(wanted, rel=1e-9, abs=1e-7)


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("12 in", 304.8),
        ("12in.", 304.8),
        ("1ft", 304.8),
        ("7.5in", 190.5),
        ('7.5"', 190.5),
        ("7 1/2in", 190.5),
        ("7-1/2 in", 190.5),
        ("7½ in", 190.5),
        ("1/2 in", 12.7),
        ("½in", 12.7),
        (".5in", 12.7),
        ("1 ft 6 in", 457.2),
        ("1'6\"", 457.2),
        ("30cm", 300.0),
        ("0.5 m", 500.0),
        ("19.2 IN", 487.68),
        ("1 yd", 914.4),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert units.length_mm(text) == mm


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "no unit"),
        ("", "isn't a number"),
        ("in", "isn't a number"),
        ("12,500 cm", r"comma.*12\.500 cm"),
        ("1,200 mm", "comma"),
        ("nan in", "finite"),
        ("inf in", "finite"),
        ("-inf mm", "finite"),
        ("1e999 mm", "too large"),
        ("0 in", "above zero"),
        ("-3 in", "above zero"),
        ("3 kg", "isn't a unit of length"),
        ("3 in2", "isn't a unit of length"),
        ("3 __import__", "isn't a unit of length"),
        ("1/0 in", "divides by zero"),
        ("12 12in", "unit of length"),
    ],
)
def test_lengths_refused(text: str, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        units.length_mm(text, what="side")
    assert "\n" not in str(caught.value)
    assert "side" in str(caught.value)


@settings(deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (units.length_mm, units.area_m2, units.density_per_m2, units.number):
        try:
            value = read(text)
        except InputError:
            continue
        assert math.isfinite(value)


@pytest.mark.parametrize(
    ("text", "bu"),
    [
        ("80 bu/ac", 80.0),
        ("80 bushels per acre", 80.0),
        ("80bpa", 80.0),
        ("4800 lb/ac", 80.0),
        ("5.4 t/ha", 80.296),
        ("5400 kg/ha", 80.296),
    ],
)
def test_yields(text: str, bu: float) -> None:
    assert units.bu_per_ac(text) == pytest.approx(bu, abs=5e-4)


@pytest.mark.parametrize("text", ["80bu", "80 bushels", "80 bu"])
def test_bushels_alone_are_those_of_an_acre(text: str) -> None:
    assert units.bu_per_ac(text) == 80.0


@pytest.mark.parametrize(
    ("text", "like"),
    [
        ("5-6 t/ha", "'5 t/ha'"),
        ("5 t/ha to 6 t/ha", "'5 t/ha'"),
        ("4800–5000 lb/ac", "'4800 lb/ac'"),
        ("70-80", "'80 bu/ac'"),
    ],
)
def test_a_range_is_told_in_its_own_unit(text: str, like: str) -> None:
    with pytest.raises(InputError, match=rf"is a range; .* like {like}$"):
        units.bu_per_ac(text)


def test_a_range_says_what_to_type() -> None:
    with pytest.raises(InputError, match=r"is a range; give the one yield .* like '80 bu/ac'"):
        units.bu_per_ac("80-90 bu/ac")


def test_yield_of_barley() -> None:
    assert units.bu_per_ac("4800 lb/ac", crop="barley") == pytest.approx(100.0)
    with pytest.raises(InputError, match="bushel of 'triticale' isn't known"):
        units.bu_per_ac("5 t/ha", crop="triticale")


@pytest.mark.parametrize(
    "text",
    [
        *("80", "80 sacks", "80-90 bu/ac", "80 to 90 bu/ac", "0 bu/ac", "-5 bu/ac", "nan bu/ac"),
        *("999 bu/ac", "300 bu/ac", "20 t/ha"),
    ],
)
def test_yields_refused(text: str) -> None:
    with pytest.raises(InputError, match="yield goal"):
        units.bu_per_ac(text)
    if text == "20 t/ha":
        with pytest.raises(InputError, match="297 bu/ac, more than any field has yielded"):
            units.bu_per_ac(text)


def test_light_bushels_may_be_more() -> None:
    """300 bu/ac of oats are 10.8 t/ha."""
    assert units.bu_per_ac("300 bu/ac", crop="oats") == 300.0
    for crop in ("oats", "barley"):
        with pytest.raises(InputError, match="more than any field has yielded; check") as raised:
            units.bu_per_ac("360 bu/ac", crop=crop)
        assert "wheat" not in str(raised.value)
    with pytest.raises(InputError, match="highest wheat yields on record"):
        units.bu_per_ac("360 bu/ac")


@pytest.mark.parametrize(
    ("text", "m2"),
    [
        ("25/ft2", 269.0978),
        ("260 per m2", 260.0),
        ("1.1M/ac", 271.8159),
        ("25 plants/ft²", 269.0978),
        ("225 / sq yd", 269.0978),
    ],
)
def test_densities(text: str, m2: float) -> None:
    """A count per square yard is nine times that per square foot."""
    assert units.density_per_m2(text) == pytest.approx(m2, abs=5e-5)


def test_a_bare_distance_over_ground_is_offered_feet_and_metres() -> None:
    with pytest.raises(InputError, match="write '30 ft' if feet, '30 m' if metres"):
        units.length_mm("30", what="--keep-off", over_ground=True)
    with pytest.raises(InputError, match="30in if inches"):
        units.length_mm("30")
