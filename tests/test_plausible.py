"""Sizes in the wrong unit are refused, right ones pass, one odd sign is only flagged."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from tillercount.area import Area, WholePhoto, parse_area
from tillercount.count import count_photo
from tillercount.plausible import Seen, check_size, other_unit
from tillercount.quality import usual_height_mm
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
    usual_height_mm=(300.0, 2000.0),
)


def levels(area: Area, seen: Seen) -> dict[str, str]:
    return {check.name: check.level for check in check_size(area, seen)}


def test_a_usual_stand_passes() -> None:
    assert set(levels(FOOT, USUAL).values()) == {"ok"}


# Leaves of winter wheat are 3.7 to 6.5 mm wide (echap and WALTer, CeCILL-C) and were read 2.5 to
# 6 mm wide on photos of the right size; ADAS printed 3,000 shoots/m² (Farmers Weekly 2020) and
# Teagasc hopes for 1,000 to 1,200; Penn State's densest band ends at 35 plants/ft² (377 per m²).
@pytest.mark.parametrize(
    ("odd", "flagged"),
    [
        ({"leaf_mm": 2.6}, {"leaf width"}),
        ({"leaf_mm": 2.0}, {"leaf width"}),
        ({"leaf_mm": 6.7, "crop_share": 0.3}, {"leaf width"}),
        ({"leaf_mm": 12.0, "crop_share": 0.3}, {"leaf width"}),
        ({"shoots_per_m2": 2100.0}, {"shoot density"}),
        ({"shoots_per_m2": 2100.0, "plants_per_m2": 800.0}, {"shoot density", "plant density"}),
        ({"height_mm": 200.0}, set()),  # has a check of its own
        ({"shoots_per_m2": 140.0, "plants_per_m2": 60.0}, {"cover per shoot"}),  # 14 cm² each
        # leaves that lie over each other look wide, and hide the ground
        ({"leaf_mm": 8.0, "crop_share": 0.6, "shoots_per_m2": 300.0}, set()),
        ({"leaf_mm": math.nan}, set()),
        ({"area_m2": 0.0144}, {"marked size"}),  # 12 cm square, leaves as they should be
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
        {"area_m2": 0.0144, "leaf_mm": 1.8},
        {"area_m2": 0.0144, "leaf_mm": 2.6, "shoots_per_m2": 2100.0},
        {"leaf_mm": 2.6, "shoots_per_m2": 2100.0, "height_mm": 200.0},
        {"leaf_mm": 12.0, "height_mm": 2600.0},
        {"leaf_mm": 7.8, "height_mm": 2600.0, "shoots_per_m2": 140.0, "plants_per_m2": 60.0},
        {"leaf_mm": 9.0, "shoots_per_m2": 100.0, "plants_per_m2": 40.0},  # 20 cm² for each shoot
        # one thing that goes beyond all that is printed or measured
        {"shoots_per_m2": 3001.0},
        {"plants_per_m2": 1131.0},  # three times 35 per ft²
        {"shoots_per_m2": 65.0, "plants_per_m2": 30.0},  # 31 cm² for each shoot
    ],
)
def test_two_signs_or_one_beyond_all_known_refuse(odd: dict[str, float]) -> None:
    assert levels(FOOT, replace(USUAL, **odd))["size and unit"] == "refuse"


def seen_in(area: Area, **changes: float) -> Seen:
    assert not isinstance(area, WholePhoto)
    usual = usual_height_mm(area.area_m2)
    return replace(USUAL, area_m2=area.area_m2, usual_height_mm=usual, **changes)


@pytest.mark.parametrize(
    ("text", "changes", "flagged"),
    [
        # a 6-in hoop and square are usual; what is smaller needs leaves and more to be refused
        ("hoop:6in", {"leaf_mm": 3.2}, set()),
        ("square:6in", {"leaf_mm": 2.5, "height_mm": 280.0}, {"leaf width"}),
        ("row:6in/5in", {"leaf_mm": 3.2}, set()),
        ("square:10cm", {"leaf_mm": 3.0}, {"marked size"}),
        ("square:10cm", {"leaf_mm": 2.6}, {"marked size", "leaf width"}),
        # barley's leaves are wider than wheat's
        ("square:12in", {"leaf_mm": 7.5, "crop_share": 0.15, "height_mm": 2100.0}, {"leaf width"}),
        # wide leaves have wide shoots: barley with five leaves, 16 cm² of ground for each shoot
        (
            "square:16in",
            {"leaf_mm": 7.0, "crop_share": 0.22, "plants_per_m2": 75.0, "shoots_per_m2": 137.0},
            {"leaf width", "cover per shoot"},
        ),
        # 75 plants per ft² with one leaf each, as after a double seeding
        (
            "square:12in",
            {"plants_per_m2": 807.0, "shoots_per_m2": 807.0, "leaf_mm": 2.6, "crop_share": 0.08},
            {"plant density", "leaf width"},
        ),
    ],
)
def test_right_sizes_at_the_edge_of_the_usual_are_counted(
    text: str, changes: dict[str, float], flagged: set[str]
) -> None:
    area = parse_area(text)
    found = levels(area, seen_in(area, **changes))
    assert found["size and unit"] == "ok"
    assert {name for name, level in found.items() if level == "lower"} == flagged


@pytest.mark.parametrize(
    ("text", "changes", "meant"),
    [
        # 30 cm typed as inches: 25 plants and 76 shoots per ft² become 3.9 and 11.8
        (
            "square:30in",
            {"plants_per_m2": 42.0, "shoots_per_m2": 127.0, "leaf_mm": 9.1, "crop_share": 0.3,
             "height_mm": 750.0},
            "square:30cm",
        ),
        # the stick's length in the wrong unit
        (
            "row:50in/19cm",
            {"plants_per_m2": 64.0, "shoots_per_m2": 192.0, "leaf_mm": 9.1, "crop_share": 0.39},
            "row:50cm/19cm",
        ),
        # the row spacing in the wrong unit leaves the scale as it is
        ("row:20in/7.5cm", {"plants_per_m2": 683.0, "shoots_per_m2": 1900.0}, "row:20in/7.5in"),
        # the radius for the diameter: 25 plants and 75 shoots per ft² become 100 and 300
        ("hoop:6.77in", {"plants_per_m2": 1076.0, "shoots_per_m2": 3229.0, "leaf_mm": 1.8}, ""),
        ("hoop:6.77in", {"plants_per_m2": 700.0, "shoots_per_m2": 2100.0, "leaf_mm": 1.8}, ""),
    ],
)  # fmt: skip
def test_wrong_sizes_that_do_harm_are_refused(
    text: str, changes: dict[str, float], meant: str
) -> None:
    area = parse_area(text)
    (last,) = (c for c in check_size(area, seen_in(area, **changes)) if c.name == "size and unit")
    assert last.level == "refuse"
    assert (f"was {meant} meant?" in last.text) == bool(meant)


def test_small_frames_are_photographed_from_nearer() -> None:
    assert usual_height_mm(0.0929) == pytest.approx((300, 2000), abs=0.1)  # a square foot
    assert usual_height_mm(0.0929 / 4) == pytest.approx((212, 2000), abs=1)  # half as long
    assert usual_height_mm(1.0) == (300, 2000)
    assert usual_height_mm(math.nan) == (300, 2000)
    # yet a 12-in square typed as 12 cm puts a phone held knee-high, 18 in, into the grass
    assert 18 * 25.4 / 2.54 < usual_height_mm(0.12**2)[0] == pytest.approx(188, abs=1)


def test_signs_that_point_opposite_ways_dont_add_up() -> None:
    both = replace(USUAL, leaf_mm=1.8, height_mm=2600.0)
    assert levels(FOOT, both)["size and unit"] == "ok"


def test_borders_of_the_densest_stand_in_print() -> None:
    """3,000 shoots/m², 279 per ft² (ADAS in Farmers Weekly 2020), are still taken."""
    assert levels(FOOT, replace(USUAL, shoots_per_m2=3000.0))["size and unit"] == "ok"


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
        # only the length in that unit changes
        ("row:20in/7.5cm", True, "row:20in/7.5in"),
        ("row:50in/19cm", False, "row:50cm/19cm"),
        ("row: 6 in / 5 in", True, None),
    ],
)
def test_the_same_numbers_in_the_other_unit(text: str, small: bool, other: str | None) -> None:
    assert other_unit(parse_area(text), small) == other


@pytest.mark.parametrize(
    ("photo", "wrong", "right"),
    [
        ("creek_field/spot_01.jpg", "square:12cm", "square:12in"),
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
