"""Spring nitrogen on one screen, and the rounding of what is shown there."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.stand.fields import field, shoots_only
from tests.stand.test_topdress import THIN, made, text_of
from tillercount.definition import Definition
from tillercount.stand.dressbrief import brief_sections
from tillercount.stand.dressing import headline, record, sections
from tillercount.stand.products import product
from tillercount.stand.setting import amount_text, ends_text, load, set_dry, set_liquid
from tillercount.stand.spreading import Conditions
from tillercount.stand.topdress import Topdress
from tillercount.stand.words import rate_text


def brief(plan: Topdress) -> list[str]:
    return [line for _, lines in brief_sections(plan) for line in lines]


POOR = field([9, 10, 10, 10, 9, 10])
"""Thin enough to think of another crop: no nitrogen until that is decided."""


@pytest.mark.parametrize("counts", [THIN, POOR, None], ids=["thin", "poor", "none"])
@pytest.mark.parametrize("ground", [None, "frozen"])
def test_cautions_stay_and_nothing_comes_twice(counts: object, ground: str | None) -> None:
    plan = made(
        counts,
        stage="Feekes 3",
        products=[product("uan28")],
        conditions=Conditions(ground=ground),  # type: ignore[arg-type]
    )
    lines = brief(plan)
    text = " ".join(lines)
    for words in ("nutrient-management plan and to the dates", "label is the law", "protective",
                  "licensed or certified crop adviser", "not an insurance appraisal",
                  "do not destroy a stand before release",
                  "frozen, snow-covered or saturated"):  # fmt: skip
        assert words in text, words
    assert ("Goggles and gloves" in text) == bool(plan.doses)  # of use where something goes on
    assert len(lines) == len(set(lines))
    full = [line for _, more in sections(plan) for line in more]
    assert len(full) == len(set(full))
    if ground:
        assert headline(plan).startswith("Don't spread now")


@pytest.mark.parametrize(
    ("counts", "advice"),
    [(POOR, "keep first"), (field([0, 0, 0, 0, 0, 0]), "keep first"), (field([27]), "undecided")],
    ids=["thin", "bare", "one spot"],
)
def test_no_pounds_at_all_where_rates_are_withheld(counts: object, advice: str) -> None:
    """Neither the whole nor how it came about: either would read as a rate to put on."""
    plan = made(counts, stage="Feekes 3", products=[product("uan28")])
    assert plan.plan is not None
    assert (plan.plan.advice, plan.doses, plan.withheld) == (advice, (), True)
    assert plan.spreading == ()  # a report takes it from there
    assert plan.whole.net is not None  # it is known, and kept
    for said in ([headline(plan), *brief(plan)], [headline(plan), *text_of(plan).splitlines()]):
        text = "\n".join(said)
        assert not re.search(r"\d lb N?/?ac|lb N/ac|per bushel|In all|uan28|UAN", text)
    for title in ("Arithmetic", "How much of what", "Ceilings in print", "While it goes on"):
        assert title not in dict(sections(plan))
    kept = record(plan)
    assert kept["whole"]["net"] == list(plan.whole.net)


def test_a_tissue_test_gives_a_rate_where_the_count_is_undecided() -> None:
    plan = made(field([27]), stage="Feekes 5", tissue_percent=3.0)
    assert plan.plan is not None
    assert plan.plan.withheld
    assert not plan.withheld
    assert any("in all: " in line for line in brief(plan))


def test_every_section_of_the_brief_is_in_the_full_one() -> None:
    """Rates and dates are the same in both."""
    plan = made(stage="Feekes 3")
    short = brief(plan)
    assert "early: 22-36 lb N/ac (25-40 kg N/ha), once growth has started and not before" in short
    assert {line for line in short if line.startswith(("early:", "main:", "in all:"))} <= set(
        text_of(plan).splitlines()
    )


@pytest.mark.parametrize(
    ("each", "when", "rate"),
    [
        (41.0, "as soon as possible, on days that average above 32 °F", "40-50"),
        (71.0, "in January or February", "30-40"),
    ],
)
def test_virginia_says_one_date(each: float, when: str, rate: str) -> None:
    """Newsletter, February 2005: its own dates, not "once growth has started"."""
    counts = shoots_only([each, each + 1, each - 1, each], Definition.STEMS_3_LEAVES)
    plan = made(counts, "virginia-nitrogen", stage="Feekes 3")
    assert plan.doses[0].when == when
    assert headline(plan).startswith(f"{rate} lb N/ac {when}; then")
    said = "\n".join((headline(plan), *brief(plan), text_of(plan)))
    assert "once growth has started" not in said
    # a ceiling of its own for another band would contradict the rate that it prints for this one
    assert "Virginia" not in next(line for line in brief(plan) if "ceilings" in line)
    assert any(held.ceiling.by == "Virginia" for held in plan.ceilings)


def test_virginia_holds_until_march() -> None:
    counts = shoots_only([120, 121, 119, 122], Definition.STEMS_3_LEAVES)
    plan = made(counts, "virginia-nitrogen", stage="Feekes 3")
    assert [dose.name for dose in plan.doses] == ["main"]
    assert "not before March" in plan.doses[0].when
    assert headline(plan).startswith("Nothing early; 88-120 lb N/ac")


@pytest.mark.parametrize(("percent", "place"), [(2.0, "within"), (3.5, "below"), (2.9, "below")])
def test_tissue_beside_the_goal(percent: float, place: str) -> None:
    """120, 60 and 84 lb by the Virginia scale; 88-120 lb for 80 bu/ac (common practice)."""
    plan = made(stage="Feekes 5", tissue_percent=percent)
    assert f"{place} the 88-120 lb" in plan.reconciled
    assert f"{place} the 88-120 lb" in headline(plan)
    assert not any("taken up between" in line for line in plan.arithmetic)
    no_stage = made(tissue_percent=percent)
    assert not any("taken up between" in line for line in no_stage.arithmetic)
    assert made(stage="Feekes 5").reconciled == ""
    assert made(stage="Feekes 5", tissue_percent=percent, goal=None).reconciled == ""


def test_amounts_as_a_machine_is_set() -> None:
    plan = made(products=[product("uan28"), product("urea")], area_m2=404_685.64224)
    uan, urea = plan.doses[0].amounts
    # 22 and 36 lb N / 0.28 = 78.57 and 128.57 lb, / 10.67 = 7.36 and 12.05 gal; / 0.46 = 47.8, 78.3
    assert amount_text(uan) == "7.5-12 gal or 80-130 lb"
    assert amount_text(urea) == "48-80 lb"
    assert uan[0].lb_ac == pytest.approx(22 / 0.28)  # exact where it is kept
    assert ends_text([load(8624.3), load(14112.0)]) == "8,620-14,100"
    assert rate_text([83.27, 83.27]) == "83"
    assert rate_text([0.0, 59.6]) == "up to 60"


@given(st.floats(0.5, 5000))
def test_rounding_stays_close(value: float) -> None:
    assert abs(set_dry(value) - value) <= (0.5 if value < 50 else 2.5) + 1e-9
    assert abs(set_liquid(value) - value) <= (0.05 if value < 5 else 0.25) + 1e-9
    assert abs(load(value) - value) <= max(0.5, 0.005 * value) + 1e-9
