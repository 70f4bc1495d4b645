"""Hand counts with a size that can't be right."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tillercount.area import parse_counted_area
from tillercount.errors import InputError
from tillercount.field import collect
from tillercount.hand import HandCount
from tillercount.handfile import read_hand_counts
from tillercount.handlimits import USUAL_M2, hand_flags, meant, refuse_too_dense
from tillercount.plausible import MOST_PLANTS_PER_M2, MOST_SHOOTS_PER_M2

HEAD = "spot,observer,plants,shoots,area\n"


def count(plants: float | None, shoots: float | None, area: str) -> HandCount:
    return HandCount("1", "JM", plants, shoots, parse_counted_area(area))


@pytest.mark.parametrize(("typed", "was"), [("square:12cm", "square:12in"), ("0.1 ft2", None)])
def test_too_dense_is_refused_with_file_row_and_likely_cause(
    tmp_path: Path, typed: str, was: str | None
) -> None:
    path = tmp_path / "h.csv"
    path.write_text(f"{HEAD}1,JM,27,66,square:12in\n2,JM,27,66,{typed}\n")
    with pytest.raises(InputError, match=r"h\.csv, row 3, area .* can't be young wheat") as error:
        read_hand_counts(path)
    assert (f"was {was} meant?" in str(error.value)) == (was is not None)


def test_borders_of_the_refusal() -> None:
    refuse_too_dense(parse_counted_area("1 m2"), MOST_PLANTS_PER_M2, None)
    refuse_too_dense(parse_counted_area("1 m2"), None, MOST_SHOOTS_PER_M2)
    with pytest.raises(InputError, match="plants per ft²"):
        refuse_too_dense(parse_counted_area("1 m2"), MOST_PLANTS_PER_M2 * 1.01, None)
    with pytest.raises(InputError, match="shoots per ft²"):
        refuse_too_dense(parse_counted_area("1 m2"), None, MOST_SHOOTS_PER_M2 * 1.01)


def test_the_usual_areas_are_a_6_in_hoop_to_a_square_metre() -> None:
    hoop, metre = parse_counted_area("hoop:6in"), parse_counted_area("1 m2")
    assert (hoop.area_m2, metre.area_m2) == pytest.approx(USUAL_M2)  # type: ignore[union-attr]
    assert USUAL_M2[0] == pytest.approx(math.pi * 0.0762**2)


@pytest.mark.parametrize(
    ("plants", "area", "odd"),
    [
        (24, "square:12in", False),
        (24, "square:12ft", True),
        (1, "square:12in", False),  # nearly nothing left, but a usual area
        (240, "rect:3ftx4ft", False),  # a large area, but a usual density
        (11, "square:5in", False),  # 63 per ft² in a small one: below the limit of 70
        (13, "square:5in", True),  # 75
    ],
)
def test_odd_size_and_odd_density_together(plants: float, area: str, odd: bool) -> None:
    assert bool(hand_flags(count(plants, None, area))) is odd


@pytest.mark.parametrize(
    ("typed", "plants", "other"),
    [
        ("square:12cm", 27, "square:12in"),
        ("square:12 ft", 27, "square:12 in"),
        ("rect:10cmx20cm", 40, "rect:10inx20in"),
        ("hoop:13.54cm", 25, "hoop:13.54in"),
        ("row:19.2cm/7.5cm", 25, "row:19.2in/7.5in"),
        ("144 ft2", 27, None),
    ],
)
def test_the_unit_that_was_meant(typed: str, plants: float, other: str | None) -> None:
    assert meant(parse_counted_area(typed), plants, None) == other


def test_flag_reaches_the_spots_that_season_and_assess_share() -> None:
    (spot,) = collect([count(27, 66, "square:12ft")]).spots
    assert any("was square:12in meant?" in flag for flag in spot.flags)
