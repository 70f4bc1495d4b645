"""Photos of a heading crop settle nothing, whatever they count."""

from __future__ import annotations

import pytest

from tillercount.field import SpotDensity
from tillercount.stand import assess, compare
from tillercount.units import per_m2

THIN = (8.0, 9.0, 8.5, 9.5, 8.0, 9.0)


def counted(source: str) -> list[SpotDensity]:
    return [
        SpotDensity(str(i), source, per_m2(p), per_m2(3 * p), photo="" if source == "hand" else "p")
        for i, p in enumerate(THIN)
    ]  # fmt: skip


@pytest.mark.parametrize("stage", ["GS55", "Feekes 10.1", "Feekes 10", "Feekes 9-10.5", "GS71"])
def test_photos_of_a_heading_crop_are_held(stage: str) -> None:
    result = assess(counted("photo"), stage=stage, yield_goal=80.0)
    assert result.verdict.headline.startswith("Not settled: at Feekes ")
    assert "a photo from above shows heads and flag leaves" in result.verdict.headline
    assert not result.verdict.clear
    assert not result.verdict.counting_helps  # not by more photos
    assert result.verdict.settle.startswith("Dig and count plants by hand")
    assert result.yield_ is None
    assert result.no_yield.startswith("no yield is told from photos of a heading crop")
    assert result.shoots is None or result.shoots.held is not None


@pytest.mark.parametrize("stage", ["Feekes 3", "Feekes 9", "GS37"])
def test_not_before(stage: str) -> None:
    assert "flag leaves" not in assess(counted("photo"), stage=stage).verdict.headline


def test_plants_dug_by_hand_are_judged() -> None:
    assert "flag leaves" not in assess(counted("hand"), stage="GS55").verdict.headline


def test_that_it_is_late_for_nitrogen_is_still_said() -> None:
    thick = [SpotDensity(str(i), "photo", per_m2(24.0 + i % 2), per_m2(70.0)) for i in range(6)]
    plan = assess(thick, stage="GS55").nitrogen
    assert plan is not None
    assert plan.withheld
    assert plan.lines[0].startswith("No rates: at Feekes 10.3 (GS55) a photo from above")
    assert "is late for nitrogen" in plan.lines[1]


def test_no_pounds_for_a_thin_stand_that_only_photos_saw() -> None:
    plan = assess(counted("photo"), stage="GS55", yield_goal=80.0).nitrogen
    assert plan is not None
    assert plan.withheld
    assert not any("lb" in line for line in plan.lines)


def test_a_stand_in_question_at_jointing_gets_no_pounds_but_the_time() -> None:
    result = assess(counted("hand"), stage="Feekes 6", yield_goal=80.0)
    assert result.verdict.clear
    assert result.plants is not None
    assert result.plants.band.early == "keep first"
    plan = result.nitrogen
    assert plan is not None
    assert plan.withheld
    assert plan.lines[0].startswith("Spend no nitrogen on this field until it is decided")
    assert "the last useful time is about Feekes 6" in plan.lines[1]
    assert not any("lb" in line or "Put on" in line for line in plan.lines)


def test_undecided_at_jointing_hears_that_time_is_short() -> None:
    few = [SpotDensity("1", "hand", per_m2(22.0), per_m2(66.0))]  # one spot settles nothing
    plan = assess(few, stage="Feekes 5", yield_goal=80.0).nitrogen
    assert plan is not None
    assert plan.withheld
    assert "Settle without delay what is still due: the last useful time" in plan.lines[1]
    early = assess(few, stage="Feekes 3", yield_goal=80.0).nitrogen
    assert early is not None
    assert len(early.lines) == 1


def test_side_by_side_no_set_fits_so_late() -> None:
    result = compare(counted("photo"), stage="GS55")
    assert result.rows == ()
    assert any("Feekes" in one.kind for one in result.left_out)
