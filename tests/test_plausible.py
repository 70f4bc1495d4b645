"""Sizes in the wrong unit are refused, right ones pass, one odd sign is only flagged."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from tillercount.area import Area, parse_area
from tillercount.count import count_photo
from tillercount.plausible import (
    LEAF_MM,
    MOST_PLANTS_PER_M2,
    MOST_SHOOTS_PER_M2,
    NARROW_IN_TINY_MM,
    Seen,
    check_size,
    other_unit,
)
from tillercount.quality import HEIGHT_MM
from tillercount.units import M2_PER_FT2

SAMPLES = Path(__file__).parents[1] / "sample_images"
FOOT = parse_area("square:12in")
USUAL = Seen(
    area_m2=M2_PER_FT2,
    plants_per_m2=25 / M2_PER_FT2,
    shoots_per_m2=80 / M2_PER_FT2,
    leaf_mm=3.6,
    crop_share=0.2,
    height_mm=1000.0,
    usual_height_mm=HEIGHT_MM,
)


def levels(area: Area, seen: Seen) -> dict[str, str]:
    return {check.name: check.level for check in check_size(area, seen)}


def test_a_usual_stand_passes() -> None:
    assert set(levels(FOOT, USUAL).values()) == {"ok"}


@pytest.mark.parametrize(
    ("odd", "flagged"),
    [
        ({"leaf_mm": LEAF_MM[0] - 0.1}, {"leaf width"}),
        ({"leaf_mm": LEAF_MM[1] + 0.1, "crop_share": 0.1}, {"leaf width"}),
        ({"shoots_per_m2": 2100.0}, {"shoot density"}),
        ({"shoots_per_m2": 2100.0, "plants_per_m2": 800.0}, {"shoot density", "plant density"}),
        ({"height_mm": 200.0}, set()),  # has a check of its own
        # leaves that lie over each other look wide
        ({"leaf_mm": LEAF_MM[1] + 0.1, "crop_share": 0.6}, set()),
        ({"leaf_mm": math.nan}, set()),
        ({"area_m2": 0.0144}, {"marked size"}),  # leaves that speak for a small frame
        ({"area_m2": 2.0}, {"marked size"}),
    ],
)
def test_one_odd_sign_is_flagged(odd: dict[str, float], flagged: set[str]) -> None:
    found = levels(FOOT, replace(USUAL, **odd))
    assert {name for name, level in found.items() if level == "lower"} == flagged
    assert "refuse" not in found.values()


@pytest.mark.parametrize(
    "odd",
    [
        {"leaf_mm": 1.8, "height_mm": 200.0},
        {"leaf_mm": 1.8, "shoots_per_m2": 2100.0},
        {"area_m2": 0.0144, "leaf_mm": NARROW_IN_TINY_MM - 0.1},
        {"leaf_mm": 9.0, "crop_share": 0.1, "height_mm": 2600.0},
        {"shoots_per_m2": MOST_SHOOTS_PER_M2 + 1},
        {"plants_per_m2": MOST_PLANTS_PER_M2 + 1},
    ],
)
def test_two_signs_or_a_density_nobody_printed_refuse(odd: dict[str, float]) -> None:
    assert levels(FOOT, replace(USUAL, **odd))["size and unit"] == "refuse"


def test_signs_that_point_opposite_ways_dont_add_up() -> None:
    both = replace(USUAL, leaf_mm=1.8, height_mm=2600.0)
    assert levels(FOOT, both)["size and unit"] == "ok"


def test_borders_of_the_densest_stand_in_print() -> None:
    at = replace(USUAL, shoots_per_m2=MOST_SHOOTS_PER_M2)
    assert levels(FOOT, at)["size and unit"] == "ok"
    assert pytest.approx(278.7, abs=0.1) == MOST_SHOOTS_PER_M2 * M2_PER_FT2


@pytest.mark.parametrize(
    ("text", "small", "other"),
    [
        ("square:12cm", True, "square:12in"),
        ("hoop:13.54cm", True, "hoop:13.54in"),
        ("row:19.2cm/7.5cm", True, "row:19.2in/7.5in"),
        ("rect:100mmx200mm", True, "rect:10inx20in"),
        ("square:50in", False, "square:50cm"),
        ("square:12in", True, None),  # in inches already
        ("whole:0.64mm", True, None),
    ],
)
def test_the_same_numbers_in_the_other_unit(text: str, small: bool, other: str | None) -> None:
    assert other_unit(parse_area(text), small) == other


@pytest.mark.parametrize(
    ("photo", "wrong", "right"),
    [
        ("creek_field/spot_03.jpg", "square:12cm", "square:12in"),
        ("creek_field/spot_04.jpg", "square:12cm", "square:12in"),
        ("barn_field/spot_03.jpg", "hoop:13.54cm", "hoop:13.54in"),
        ("lane_field/spot_01.jpg", "row:19.2cm/7.5cm", "row:19.2in/7.5in"),
    ],
)
def test_samples_in_the_wrong_unit(photo: str, wrong: str, right: str) -> None:
    spot = count_photo(SAMPLES / photo, wrong)
    assert spot.status == "refused"
    assert spot.reason is not None
    assert wrong in spot.reason
    assert f"was {right} meant?" in spot.reason
    assert count_photo(SAMPLES / photo, right).status == "counted"


def test_a_right_size_gets_no_new_flag() -> None:
    right = count_photo(SAMPLES / "barn_field" / "spot_03.jpg", "hoop:13.54in")
    assert [flag.code for flag in right.flags] == []
