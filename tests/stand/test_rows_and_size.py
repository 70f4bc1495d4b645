"""Rows that no usual drill sows: said first, and no field is given up by such a size."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.stand.fields import field
from tillercount.field import SpotDensity
from tillercount.field.spots import SeenRows
from tillercount.report.page import page_html
from tillercount.stand import Assessment, assess
from tillercount.stand.compare import compare
from tillercount.stand.local import Local
from tillercount.units import MM_PER_IN

THIN = [4.2, 5.1, 2.5, 4.0, 4.4]
KEPT = [24.0, 22.5, 25.5, 23.0, 25.0]


def photos(plants: list[float], inches: float, drill: str = "") -> list[SpotDensity]:
    rows = SeenRows(inches * MM_PER_IN, "hoop:508mm", drill)
    return [replace(s, source="photo", seen_rows=rows) for s in field(plants, each=1.5)]


def judged(spots: list[SpotDensity], **more: Any) -> Assessment:
    return assess(spots, stage="Feekes 3", **more)


def test_a_field_is_not_given_up_by_rows_that_few_drills_have() -> None:
    result = judged(photos(THIN, 11.1))
    first, *_ = result.verdict.warnings
    assert first.startswith("rows stand 11.1 in (28 cm) apart in 5 photos by the size in --area")
    assert result.flags[0] == first
    assert result.verdict.headline.startswith("Not settled: rows stand 11.1 in (28 cm) apart, as")
    assert "rotating" not in result.verdict.headline
    (step,) = result.verdict.actions
    assert step.text.startswith("Measure the frame, and check the size that was given")
    record = result.to_json()["verdict"]
    assert record["warnings"][0] == first
    assert record["held_back"].startswith("rows stand 11.1 in")
    steps = " ".join(one.value for one in result.steps)
    assert "held back because rows stand 11.1 in" in steps
    page = page_html(result)
    assert "apart in 5 photos by the size that was given, and most drills" in page
    assert "--row-spacing" not in page


@pytest.mark.parametrize(
    ("inches", "drill"), [(7.5, ""), (10.2, ""), (11.1, "11 in"), (15.1, "15 in")]
)
def test_usual_rows_or_the_drills_own_change_nothing(inches: float, drill: str) -> None:
    result = judged(photos(THIN, inches, drill))
    bare = judged([replace(spot, seen_rows=None) for spot in photos(THIN, inches)])
    assert result.verdict == bare.verdict
    assert result.flags == bare.flags
    assert "rotating" in result.verdict.headline


def test_a_stand_that_stays_is_warned_of_and_not_held() -> None:
    result = judged(photos(KEPT, 15.0))
    assert result.plants is not None
    assert result.plants.held is None
    assert "rows stand 15.0 in" in result.verdict.warnings[0]


def test_the_drills_spacing_can_be_given_when_it_is_judged() -> None:
    assert judged(photos(THIN, 11.1), row_spacing="11 in").verdict.clear
    wrong = judged(photos(KEPT, 11.1), row_spacing="7.5 in")
    assert "and the drill's are 7.5 in: the size in --area may be" in wrong.verdict.warnings[0]
    assert wrong.plants is not None
    assert wrong.plants.held is not None  # whatever the class


def test_where_most_was_counted_by_hand_nothing_is_held() -> None:
    mixed = [*photos(THIN[:2], 11.1), *(replace(s, spot=f"h{s.spot}") for s in field(THIN[2:]))]
    result = judged([replace(s, source="hand") if s.seen_rows is None else s for s in mixed])
    assert result.plants is not None
    assert result.plants.held is None
    assert any("rows stand 11.1 in" in line for line in result.verdict.warnings)


def test_rules_side_by_side_say_it_too() -> None:
    spots = photos(THIN, 11.1)
    assert any("rows stand 11.1 in" in flag for flag in compare(spots).flags)
    known = compare(spots, local=Local(row_spacing_mm=11 * MM_PER_IN))
    assert not any("rows stand" in flag for flag in known.flags)
