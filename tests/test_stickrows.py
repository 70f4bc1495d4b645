"""How far apart rows are seen beside a stick, in a sample photo of known row spacing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tillercount.area import RowArea, parse_area
from tillercount.field.rowspacing import seen_mm
from tillercount.frame import FrameFit, find_area
from tillercount.frame.beside import Rows, rows_beside
from tillercount.frame.finder import picture_of
from tillercount.frame.projection import apply
from tillercount.photo import read_photo
from tillercount.spot import Interval, SpotCount

SAMPLE = Path(__file__).parents[1] / "sample_images" / "lane_field" / "spot_01.jpg"


TRUE_MM = 190.5


@pytest.fixture(scope="module")
def fit() -> FrameFit:
    found = find_area(read_photo(SAMPLE), parse_area("row:19.2in/7.5in"))
    assert isinstance(found, FrameFit)
    return found


def seen(fit: FrameFit, area: str) -> Rows:
    photo, typed = read_photo(SAMPLE), parse_area(area)
    picture = picture_of(photo.rgb, photo.focal_px)
    assert isinstance(typed, RowArea)
    return rows_beside(picture, apply(np.linalg.inv(picture.to_photo), fit.stick_px), typed)


def test_the_photo_tells_whatever_spacing_was_typed(fit: FrameFit) -> None:
    for typed in ("7.5in", "6in", "10in"):
        rows = seen(fit, f"row:19.2in/{typed}")
        assert rows.told
        assert rows.period_mm == pytest.approx(TRUE_MM, rel=0.05)
    # the stick's length is the scale
    rows = seen(fit, "row:16in/7.5in")
    assert rows.period_mm == pytest.approx(TRUE_MM * 16 / 19.2, rel=0.05)


def test_a_fit_carries_what_was_seen(fit: FrameFit) -> None:
    assert fit.rows_mm == pytest.approx(seen(fit, "row:19.2in/7.5in").period_mm, rel=0.03)
    assert fit.rows_mm == pytest.approx(TRUE_MM, rel=0.05)
    ends = find_area(read_photo(SAMPLE), parse_area("row:19.2in/7.5in"), corners=fit.stick_px)
    assert isinstance(ends, FrameFit)
    assert ends.method == "by hand"
    assert ends.rows_mm == pytest.approx(fit.rows_mm, rel=0.03)


def test_without_a_stick_nothing_is_seen_beside_it() -> None:
    ring = np.array([[500, 500], [900, 500], [900, 900], [500, 900]])
    square = find_area(read_photo(SAMPLE), parse_area("square:12in"), corners=ring)
    assert isinstance(square, FrameFit)
    assert square.rows_mm is None


def test_too_few_rows_in_view_say_nothing(fit: FrameFit) -> None:
    """Only what lies within 650 mm of the stick is looked at: were it four times as long, two."""
    assert not seen(fit, "row:77in/7.5in").told


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
