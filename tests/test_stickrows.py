"""How far apart rows are seen beside a stick, in a sample photo of known row spacing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tillercount.area import parse_area
from tillercount.field.rowspacing import seen_mm
from tillercount.frame import FrameFit, find_area
from tillercount.photo import read_photo
from tillercount.spot import Interval, SpotCount
from tillercount.stickrows import stick_rows_mm

SAMPLE = Path(__file__).parents[1] / "sample_images" / "lane_field" / "spot_01.jpg"


TRUE_MM = 190.5


@pytest.fixture(scope="module")
def fit() -> FrameFit:
    found = find_area(read_photo(SAMPLE), parse_area("row:19.2in/7.5in"))
    assert isinstance(found, FrameFit)
    return found


def seen(fit: FrameFit, area: str) -> float | None:
    return stick_rows_mm(read_photo(SAMPLE), fit, parse_area(area))


def test_the_photo_tells_whatever_spacing_was_typed(fit: FrameFit) -> None:
    for typed in ("7.5in", "6in", "10in"):
        assert seen(fit, f"row:19.2in/{typed}") == pytest.approx(TRUE_MM, rel=0.05)
    # the stick's length is the scale
    assert seen(fit, "row:16in/7.5in") == pytest.approx(TRUE_MM * 16 / 19.2, rel=0.05)


def test_without_a_stick_nothing_is_seen_beside_it(fit: FrameFit) -> None:
    assert seen(fit, "square:12in") is None
    assert seen(replace(fit, stick_px=None), "row:19.2in/7.5in") is None


def test_too_few_rows_in_view_say_nothing(fit: FrameFit) -> None:
    """Only what lies within 650 mm of the stick is looked at: were it four times as long, two."""
    assert seen(fit, "row:77in/7.5in") is None


def test_it_stands_in_the_counts_file() -> None:
    area = parse_area("row:19.2in/7.5in")
    ten = Interval(10.0, 8.0, 12.0)
    spot = SpotCount(Path("a.jpg"), "counted", area, 0.0929, plants=ten, shoots=ten)
    assert "stick_rows" not in spot.to_json()
    kept = SpotCount(
        Path("a.jpg"), "counted", area, 0.0929, plants=ten, shoots=ten, stick_rows_mm=188.04
    ).to_json()
    assert kept["stick_rows"] == {"spacing_mm": 188.0}
    assert seen_mm(kept) == 188.0
