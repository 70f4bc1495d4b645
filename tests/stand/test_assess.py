"""From counts to a verdict."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.stand.reckoned import factor
from tillercount.area import SquareArea
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.estimate import DensityEstimate
from tillercount.hand import HandCount
from tillercount.stand import assess, classify, list_rules, load_rules
from tillercount.stand.country import for_us
from tillercount.units import per_ft2, per_m2

FOOT = SquareArea(304.8)


def spots(plants: list[float], each: float | None = 3.0, **more: Any) -> list[SpotDensity]:
    """Spots with these plants per ft² and so many shoots to a plant."""
    more.setdefault("source", "hand")
    return [
        SpotDensity(
            spot=str(i),
            plants_per_m2=per_m2(p),
            shoots_per_m2=None if each is None else per_m2(p * each),
            **more,
        )
        for i, p in enumerate(plants)
    ]


KENNEBEC = [10.0, 16.0, 8.0, 6.0, 18.0]  # per ft², South Dakota State, Graham & Fanning


@pytest.mark.parametrize(
    ("plants", "class_"),
    [
        ([9, 11, 10, 12, 10], "rotate"),
        ([22, 23, 21, 22, 23], "push"),
        ([30, 31, 32, 31, 30, 31], "target"),
        ([44, 45, 47, 46, 45], "thick"),
    ],
)
def test_common_practice_verdicts(plants: list[float], class_: str) -> None:
    result = assess(spots(plants))
    assert result.verdict.class_ == class_
    assert result.verdict.clear
    assert result.verdict.settle == ""
    assert sum(result.verdict.probabilities.values()) == pytest.approx(1.0)


def test_five_even_spots_are_too_few_for_a_narrow_band() -> None:
    """A band of 27 to 35: 78 % for five spots of about 31, 84 % for six."""
    five, six = (assess(spots([30, 31, 32, 31, 30, 31][:n])) for n in (5, 6))
    assert (five.verdict.class_, five.verdict.clear) == ("target", False)
    assert five.verdict.probabilities["target"] == pytest.approx(0.777, abs=0.005)
    assert six.verdict.probabilities["target"] == pytest.approx(0.84, abs=0.01)


def test_published_counts_leave_12_to_15_undecided() -> None:
    """The 95 % interval of the five counts spans a limit of 12 to 15."""
    result = assess(spots(KENNEBEC), "kentucky-stand", level=0.95)
    assert result.plants is not None
    (mean,) = [step.figures for step in result.steps if step.what == "Plants per ft²"]
    ratio = factor(mean, 0.975)
    assert result.plants.low == pytest.approx(11.6 / ratio, abs=0.01)
    assert result.plants.high == pytest.approx(11.6 * ratio, abs=0.01)
    assert result.plants.low < 12 < 15 < result.plants.high


def test_too_close_to_call() -> None:
    result = assess(spots([17, 19, 16, 21, 18, 17]), stage="Feekes 3")
    verdict = result.verdict
    assert not verdict.clear
    assert verdict.headline.startswith(
        "Too close to call: “too thin” (decide first whether it stays) or “thin but worth keeping” "
        "(some nitrogen early). "
    )
    assert max(verdict.probabilities.values()) < 0.8
    assert verdict.actions[0].text == verdict.settle
    assert verdict.settle
    assert any("If it is “thin but worth keeping”" in action.text for action in verdict.actions)
    assert any("isn't sure" in line for line in result.nitrogen.lines)  # type: ignore[union-attr]


def test_how_many_more_spots_would_settle_it() -> None:
    result = assess(spots([20, 12, 16, 26, 19, 22])).plants
    assert result is not None
    assert not result.clear
    assert result.spots_needed is not None
    assert result.spots_needed > result.n
    values = np.array([20, 12, 16, 26, 19, 22], float)
    more = np.resize(values, result.spots_needed)  # much the same scatter, more of it
    again = assess(spots(list(more))).plants
    assert again is not None
    assert again.clear


def test_shared_photo_error_asks_for_hand_counts() -> None:
    photos = spots([21.5, 25.0, 17.2, 23.9, 19.6] * 4, source="photo", plants_bias_rel=0.25)
    verdict = assess(photos).verdict
    assert not verdict.clear
    assert re.match(r"Count about \d+ of these spots by hand", verdict.settle)
    assert "hand counts of the same spots correct it" in verdict.settle


@settings(deadline=None, max_examples=60)
@given(
    st.floats(0.0, 900.0),
    st.floats(0.1, 300.0),
    st.one_of(st.just(float("inf")), st.integers(1, 30).map(float)),
)
def test_probabilities_sum_to_one(mean: float, scale: float, df: float) -> None:
    estimate = DensityEstimate(mean, mean, mean, 0.9, 5, 0.2, scale, df)
    for rules in list_rules():
        for rule in rules.rules:
            result = classify(estimate, rule)
            assert sum(result.probabilities.values()) == pytest.approx(1.0)
            assert all(0 <= share <= 1 for share in result.probabilities.values())
            assert result.probabilities[result.class_] == max(result.probabilities.values())


def test_probability_agrees_with_the_interval() -> None:
    """A border on the interval's end leaves 5 % beyond it (next to nothing lies below zero)."""
    values = [22.0, 26.0, 19.0, 25.0, 20.5, 23.5]
    rule = load_rules("common-practice").rules[0]
    for _ in range(60):  # the interval grows with the mean: go up until its end is the border
        estimate = assess(spots(values)).field.plants
        assert estimate is not None
        shift = 27 - per_ft2(estimate.high)
        values = [v + shift / 2 for v in values]
    moved = assess(spots(values)).plants
    assert moved is not None
    assert moved.high == pytest.approx(27.0)
    assert moved.probabilities["target"] + moved.probabilities["thick"] == pytest.approx(
        0.05, abs=1e-3
    )
    assert rule.class_borders == (18.0, 27.0, 35.0)


def test_exactly_on_a_border() -> None:
    """27 per ft² on the dot is on target, whatever the way through per m² does to it."""
    result = assess(spots([27.0, 26.0, 28.0, 27.0])).plants
    assert result is not None
    assert result.rule.bands[result.rule.index_of(result.mean)].class_ == "target"


def test_both_rules_of_pennsylvania() -> None:
    result = assess(spots([26, 27, 25, 26, 27], each=4.0), "pennsylvania-stand")
    assert result.verdict.class_ == "full"
    assert result.shoots is not None
    assert result.shoots.class_ == "many tillers"
    assert "wait with the nitrogen until Feekes 5" in result.verdict.headline
    assert any("Wait with the nitrogen" in a.text for a in result.verdict.actions)
    few = assess(spots([26, 27, 25, 26, 27], each=2.0), "pennsylvania-stand")
    assert few.shoots is not None
    assert few.shoots.class_ == "few tillers"
    none = assess(spots([26, 27, 25, 26, 27], each=None), "pennsylvania-stand")
    assert none.shoots is None
    assert any(a.text.startswith("Count tillers too") for a in none.verdict.actions)


def test_no_nitrogen_before_the_stand_is_decided() -> None:
    result = assess(spots([9, 10, 11, 10], each=2.0), "pennsylvania-stand", yield_goal="80 bu/ac")
    assert result.nitrogen is not None
    assert result.nitrogen.advice == "keep first"
    assert result.nitrogen.early is None
    assert not any("green-up" in a.text for a in result.verdict.actions)
    assert any("insurance agent" in a.text for a in result.verdict.actions)


def test_three_leaf_tillers() -> None:
    """Virginia's 50 and 100 are for tillers with three leaves or more (newsletter, Feb 2005)."""
    with pytest.raises(
        InputError, match=r"can't judge these counts.*3 leaves.*can't be worked out"
    ):
        assess(spots([25, 26, 24]), "virginia-nitrogen")
    counts = [
        HandCount(str(i), "a", p, s, FOOT, Definition.TILLERS_3_LEAVES)
        for i, (p, s) in enumerate(((24, 12), (25, 14), (23, 13), (24, 13), (25, 12)))
    ]
    result = assess(counts, "virginia-nitrogen", yield_goal="80 bu/ac")
    assert result.verdict.class_ == "few tillers"
    assert result.nitrogen is not None
    assert result.nitrogen.early == (40, 50)
    assert result.field.definition is Definition.STEMS_3_LEAVES
    with pytest.raises(InputError, match="every shoot, however small"):
        assess([HandCount("1", "a", None, 60, FOOT, Definition.STEMS_3_LEAVES)], _rules("in"))


def _rules(main_stem: str) -> Any:
    shoots = load_rules("missouri-nitrogen")
    counting = shoots.counting.model_copy(update={"main_stem": main_stem, "min_leaves": 0})
    return shoots.model_copy(update={"counting": counting})


def test_main_stem_taken_out_where_the_rules_do() -> None:
    counts = spots([25, 26, 24, 25], each=3.8)  # 95 stems, 70 tillers
    assert assess(counts, _rules("in")).verdict.class_ == "wait"
    without = assess(counts, _rules("out"))
    assert without.verdict.class_ == "useful"
    assert without.shoots is not None
    assert without.shoots.mean == pytest.approx(70.0)
    assert any("shoots - plants = tillers" in flag for flag in without.flags)
    loose = [HandCount(str(i), "a", None, 95, FOOT) for i in range(3)]
    with pytest.raises(InputError, match="no plants to take off"):
        assess(loose, _rules("out"))


def test_counts_that_the_rules_do_not_judge() -> None:
    shoots_only = [HandCount(str(i), "a", None, 60 + i, FOOT) for i in range(4)]
    with pytest.raises(InputError, match="judge plants, which weren't counted"):
        assess(shoots_only, "common-practice")
    result = assess(shoots_only, "pennsylvania-stand")
    assert result.plants is None
    assert result.decided_by is result.shoots
    assert any("plants weren't counted" in flag for flag in result.flags)
    assert result.to_json()["field"]["plants_per_ft2"] is None


def test_crops() -> None:
    counts = spots([20, 21, 22])
    assert assess(counts, crop="Soft red winter wheat").crop == "wheat"
    with pytest.raises(InputError, match=r"not validated for barley; .* cover it: .*minnesota-sta"):
        assess(counts, crop="barley")
    with pytest.raises(InputError, match="none of the rule sets here covers it"):
        assess(counts, crop="triticale")
    barley = assess(counts, "minnesota-stand", crop="winter barley", yield_goal="80 bu/ac")
    assert barley.verdict.class_ == "keep"
    assert barley.nitrogen is None  # pounds per bushel are wheat's
    assert barley.yield_ is None


def test_stage_window() -> None:
    counts = spots([22, 23, 21, 22, 23])
    assert not [f for f in assess(counts, stage="Feekes 3").flags if "stages" in f]
    # GS30 is Feekes 4-5; by its later side it is past Pennsylvania's window
    late = assess(counts, "pennsylvania-stand", stage="GS30")
    assert any("later than the stages" in flag for flag in late.flags)
    early = assess(counts, stage="GS12")
    assert any("earlier than the stages" in flag for flag in early.flags)
    with pytest.raises(InputError, match="stage"):
        assess(counts, stage="spring")


@pytest.mark.parametrize(
    ("stage", "since"), [("Feekes 5", "is about to joint"), ("Feekes 6", "has jointed")]
)
def test_from_the_upright_stem_on_early_nitrogen_is_over(stage: str, since: str) -> None:
    """The nitrogen plan has one dose by then; the verdict mustn't ask for two."""
    counts = spots([22, 23, 21, 22, 23])
    result = assess(counts, stage=stage, yield_goal="80 bu/ac")
    assert result.nitrogen is not None
    assert result.nitrogen.advice == "jointed"
    assert result.nitrogen.early is None
    assert since in result.verdict.headline
    assert "push spring tillers with early nitrogen" not in result.verdict.headline
    assert not any("early part of the nitrogen" in a.text for a in result.verdict.actions)
    assert any("doesn't apply any more" in flag for flag in result.flags) == (since[:3] == "has")
    assert not any("no growth stage" in flag for flag in result.flags)


def test_a_missing_stage_is_said_where_early_nitrogen_is_spoken_of() -> None:
    counts = spots([22, 23, 21, 22, 23])
    said = [flag for flag in assess(counts).flags if "no growth stage was given" in flag]
    assert len(said) == 1
    assert "before Feekes 5 only" in said[0]
    silent = assess(counts, "minnesota-stand")
    assert not any("no growth stage" in flag for flag in silent.flags)


def test_nitrogen_by_common_practice() -> None:
    """1.1-1.5 lb per bushel; 70-75 % taken up from Feekes 6 to 10 (common practice)."""
    plan = assess(spots([22, 23, 21, 22, 23]), yield_goal="80 bu/ac").nitrogen
    assert plan is not None
    assert plan.total == pytest.approx((88, 120))
    assert plan.early == pytest.approx((22, 36))
    assert plan.main == pytest.approx((66, 84))
    assert plan.main[0] > plan.early[1]  # type: ignore[index]
    assert "once growth has started" in plan.lines[0]
    hold = assess(spots([30, 31, 32, 31]), yield_goal=80).nitrogen
    assert hold is not None
    assert hold.early == (0, 0)
    assert hold.main == pytest.approx((88, 120))
    unknown = assess(spots([22, 23, 21, 22, 23])).nitrogen
    assert unknown is not None
    assert (unknown.total, unknown.early, unknown.main) == (None, None, None)
    metric = assess(spots([22, 23, 21]), yield_goal="5.4 t/ha").nitrogen
    assert metric is not None
    assert metric.yield_goal_bu_ac == pytest.approx(80.3, abs=0.01)


def test_a_big_early_dose_is_flagged() -> None:
    """Maryland: no more than half of spring nitrogen at green-up (state notice 2013)."""
    result = assess(spots([20, 21, 20, 21], each=2.0), "kentucky-stand", yield_goal="50 bu/ac")
    assert any("more than half" in flag for flag in result.flags)


def test_yield_is_a_range() -> None:
    """About 1 bu per head (press 2011), 1.3-1.6 (common practice), 0.65-0.99 (Rawlins County), and
    by components 30, 35 and 30-32 kernels at 13,000-16,000 to the pound, 60 lb to the bushel."""
    result = assess(spots([22, 23, 21, 22, 23] * 2), yield_goal="120 bu/ac")
    assert result.heads is not None
    assert result.yield_ is not None
    factors = [row.factor for row in result.yield_.by_source]
    assert factors[3:] == [(1.3, 1.6), (1.0, 1.0), (0.65, 0.99)]
    for found, few, many in zip(factors, (30, 35, 30), (30, 35, 32), strict=False):
        assert found == pytest.approx((few * 43_560 / 16_000 / 60, many * 43_560 / 13_000 / 60))
    assert result.yield_.high > 1.5 * result.yield_.low
    shoots = result.field.shoots
    assert shoots is not None
    # Georgia 2011: 80-100 tillers make 50-70 heads
    georgia = result.heads.by_source[0]
    assert georgia.low == pytest.approx(per_ft2(shoots.mean) * 0.60)
    assert georgia.high == pytest.approx(per_ft2(shoots.mean) * 0.75)
    ends = [end / shoots.mean for end in (shoots.low, shoots.high)]
    assert result.yield_.sampling == pytest.approx(ends)
    assert result.nitrogen is not None
    assert "yield goal of 120" in result.nitrogen.lines[0]


def test_cautions_are_always_there() -> None:
    for rules in list_rules():
        plants = rules.rule("plants")
        if plants is None or plants.unit not in ("ft2", "m2"):
            continue
        result = assess(
            spots([22, 23, 21], source="photo"),
            rules.name,
            crop=rules.crops[0],
            model={"name": "m"},
        )
        text = " ".join(c.text for c in result.verdict.cautions)
        assert "not an insurance appraisal; do not destroy a stand before release" in text
        assert ("check this year's notice" in text) == for_us(rules)
        assert ("your country's limits on nitrogen" in text.lower()) == (not for_us(rules))
        assert "label is the law" in text
        assert "licensed" in text
        assert "frozen, snow-covered or saturated" in text
        assert "Photos can count wrong" in text
        assert all(c.source for c in result.verdict.cautions)
    by_hand = assess(spots([22, 23, 21])).verdict.cautions
    assert not any("Photo counts" in c.text for c in by_hand)


def test_json() -> None:
    result = assess(spots([22, 23, 21, 22, 23]), yield_goal="80 bu/ac", stage="GS25", name="Far")
    data = json.loads(json.dumps(result.to_json(), allow_nan=False))
    assert data["schema"] == "tillercount.assessment/1"
    field = data["field"]
    assert set(field["plants_per_ft2"]) >= {"mean", "low", "high", "level"}
    assert field["plants_per_ft2"]["mean"] == pytest.approx(22.2)
    assert field["shoots_per_ft2"]["mean"] == pytest.approx(66.6)
    assert field["plants_per_ft2"]["level"] == 0.9
    assert field["spots"] == 5
    assert field["cv_plants"] == pytest.approx(np.std([22, 23, 21, 22, 23], ddof=1) / 22.2)
    assert data["rules"] == "common-practice"
    verdict = data["verdict"]
    assert verdict["class"] == "push"
    assert set(verdict["probabilities"]) == {"rotate", "push", "target", "thick"}
    assert verdict["clear"] is True
    for key in ("actions", "cautions", "sources"):
        assert verdict[key]
        assert all(isinstance(line, str) for line in verdict[key])
    assert data["stage"] == "Feekes 3 (GS25)"


def test_one_spot_and_none() -> None:
    result = assess(spots([22.0]))
    assert result.to_json()["field"]["cv_plants"] is None
    assert not result.verdict.clear
    zero = assess(spots([0.0, 0.0, 0.0]))
    assert zero.verdict.class_ == "rotate"
    json.dumps(zero.to_json(), allow_nan=False)


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "hand.csv"
    path.write_text(
        "spot,observer,plants,shoots,area,row_length,row_spacing\n"
        "1,Ash,42,120,,3ft,7in\n2,Ash,44,130,,3ft,7in\n3,Ash,40,118,,3ft,7in\n"
    )
    result = assess(path, "pennsylvania-stand")
    # Rankin, Wisconsin 2009: 42 in 3 ft of 7-in rows are 24 per ft²
    assert result.plants is not None
    assert result.plants.mean == pytest.approx(24.0)


def test_unknown_rules() -> None:
    with pytest.raises(InputError, match="isn't known; known: common-practice"):
        assess(spots([20, 21]), "atlantis")
    with pytest.raises(InputError, match="yield goal"):
        assess(spots([20, 21]), yield_goal="plenty")


@pytest.mark.parametrize(("n", "where"), [(6, "any of 6 spots"), (1, "the one spot counted")])
def test_no_plants_at_all_is_no_thin_stand(n: int, where: str) -> None:
    """What rules say of a thin stand doesn't hold for bare ground."""
    result = assess(spots([0] * n), yield_goal="80 bu/ac", stage="Feekes 3")
    first, *rest = (one.text for one in result.verdict.actions)
    assert first.startswith(f"No plants at {where}: call your crop insurance agent")
    assert "look for living crowns before deciding" in first
    assert not any("thin even stand" in text or "nitrogen" in text for text in rest)
    assert result.nitrogen is not None
    assert result.nitrogen.withheld
    assert not any("lb" in line for line in result.nitrogen.lines)
