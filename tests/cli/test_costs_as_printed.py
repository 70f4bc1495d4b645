"""Printed costs are those of the printed amounts; product is told from a pass's least rate on."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.helpers import GOAL, POLE, flat
from tillercount.stand.dose import Dose
from tillercount.stand.products import amount, parse_price, product
from tillercount.stand.setting import amount_text, field_text

Run = Callable[..., Any]
TONNE = 2204.6226218  # lb
GALLON = 3.785411784  # L


def ends(text: str) -> list[float]:
    return [float(one.replace(",", "")) for one in re.findall(r"\d[\d,]*(?:\.\d+)?", text)]


def printed(pattern: str, text: str) -> list[float]:
    found = re.search(pattern, text)
    assert found is not None, (pattern, text)
    return ends(found[1])


@given(st.floats(10, 60), st.floats(60, 150))
def test_cost_is_product_times_price(low: float, high: float) -> None:
    urea = [amount(lb, product("urea"), price=parse_price("550/t")) for lb in (low, high)]
    text = amount_text(urea, all_metric=True)
    cost, per_ha = (printed(p, text) for p in (r"cost ([\d.,-]+) ", r"\(([\d.,-]+) per hectare"))
    for lb, money in zip(printed(r"^([\d,-]+) lb", text), cost, strict=True):
        assert money == pytest.approx(lb * 550 / TONNE, abs=0.0051)
    for kg, money in zip(printed(r"\(([\d,-]+) kg/ha", text), per_ha, strict=True):
        assert money == pytest.approx(kg * 0.55, abs=0.0051)
    liquid = [amount(lb, product("uan28"), price=parse_price("1.55/gal")) for lb in (low, high)]
    text = amount_text(liquid, all_metric=True)
    cost, per_ha = (printed(p, text) for p in (r"cost ([\d.,-]+) ", r"\(([\d.,-]+) per hectare"))
    for gal, money in zip(printed(r"^([\d.,-]+) gal", text), cost, strict=True):
        assert money == pytest.approx(gal * 1.55, abs=0.0051)
    for litres, money in zip(printed(r"\(([\d,-]+) L/ha", text), per_ha, strict=True):
        assert money == pytest.approx(litres * 1.55 / GALLON, abs=0.0051)


@pytest.mark.parametrize(
    ("price", "unit", "each"), [("550/t", "kg", 0.55), ("500/ton", "lb", 0.25)]
)
def test_so_is_that_of_the_load(price: str, unit: str, each: float) -> None:
    urea = amount(81.3, product("urea"), price=parse_price(price), area_m2=1_234_567.0)
    text = field_text([urea], metric=True)
    load = printed(rf"([\d,]+) {unit}", text)[0]
    assert printed(r"cost ([\d,]+)", text)[0] == pytest.approx(load * each, abs=0.51)


def test_half_a_cent_goes_up() -> None:
    one = amount(16.4, product("uan28"), price=parse_price("1.55/gal"))  # 5.5 gal, 8.525
    assert amount_text([one]).endswith("cost 8.53")


def test_without_a_price_there_is_none() -> None:
    assert "cost" not in amount_text([amount(50, product("urea"))])
    assert "cost" not in field_text([amount(50, product("urea"), area_m2=1e5)])


def test_on_the_screen(run: Run) -> None:
    said = flat(run("nitrogen", POLE, *GOAL, "--product", "urea", "--price", "550/t").stdout)
    assert "early, urea an acre: 48-80 lb, cost 11.97-19.96" in said
    assert "costs are of these amounts, in the currency of --price" in said


def test_a_dose_that_may_be_no_pass(run: Run, tmp_path: Path) -> None:
    """2-16 lb N/ac are left of the early part: 10 lb N/ac take 22 lb of urea, 16 lb 35."""
    kept, page = tmp_path / "n.json", tmp_path / "r.html"
    ask = (POLE, *GOAL, "--given", "20 lb/ac", "--product", "urea", "--price", "550/t")
    said = flat(run("nitrogen", *ask, "--json", kept).stdout)
    assert (
        "early, urea an acre as a pass of its own, from 10 lb N/ac on: 22-35 lb, cost 5.49-8.73"
        in said
    )
    assert "4-35 lb" not in said
    assert "main, urea an acre: 145-185 lb" in said
    full = flat(run("nitrogen", *ask, "--explain").stdout)
    assert "early as a pass of its own, from 10 lb N/ac on: urea, per acre 22-35 lb" in full
    early, main = json.loads(kept.read_text("utf-8"))["doses"]
    assert (early["pass_from_lb_ac"], main["pass_from_lb_ac"]) == (10.0, None)
    assert early["amounts"][0]["lb_n_ac"] == 10.0
    assert run("report", *ask, "--html", page).exit_code == 0
    text = re.sub(r"<[^>]+>", "", page.read_text("utf-8"))
    assert "22 to 35 lb as a pass of its own, from 10 lb N/ac on" in text
    assert "4 to 35" not in text
    assert "5.49 to 8.73" in text


@given(st.floats(0, 40), st.floats(0, 40))
def test_product_is_for_what_is_worth_a_pass(one: float, other: float) -> None:
    low, high = sorted((one, other))
    dose = Dose("early", "", (low, high))
    first, last = dose.lb_spread
    assert first <= last == high
    assert (dose.pass_from is None) == (low >= 9.5 or high < 9.5)
    assert first == (low if dose.pass_from is None else min(10.0, high))
