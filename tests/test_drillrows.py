"""Row spacings of drills, and units that were meant."""

from __future__ import annotations

import pytest

from tillercount.area import RowArea, parse_area
from tillercount.drillrows import drill_doubt, row_meant
from tillercount.otherunit import other_unit
from tillercount.plausible import Seen, check_size


@pytest.mark.parametrize(
    ("text", "odd", "meant"),
    [
        ("row:12in/7.5in", False, None),
        ("row:12in/15in", False, None),
        ("row:12in/16in", False, None),
        ("row:12in/16.5in", True, "row:16.5in/12in"),
        ("row:12in/75in", True, "row:12in/7.5in"),
        ("row:30in/75in", True, "row:30in/7.5in"),
        ("row:7.5in/19.2in", True, "row:19.2in/7.5in"),
        ("row:40cm/19cm", False, None),
        ("row:12in/3in", True, None),
    ],
)
def test_spacings_of_drills(text: str, odd: bool, meant: str | None) -> None:
    area = parse_area(text)
    assert isinstance(area, RowArea)
    said = drill_doubt(area)
    assert bool(said) == odd
    if odd:
        assert row_meant(area) == meant
        assert (f"was {meant} meant?" in said) == (meant is not None)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("square:12ft", "square:12in"),
        ("rect:1ftx2ft", None),
        ("rect:10ftx15ft", "rect:10inx15in"),
        ("hoop:14 feet", "hoop:14in"),
        ("square:4m", None),
        ("row:5m/19cm", "row:5cm/19cm"),
    ],
)
def test_feet_for_inches(text: str, meant: str | None) -> None:
    """Nobody marks a square of 1 in or 4 cm, which `parse_area` refuses: no such hints."""
    assert other_unit(parse_area(text), small=False) == meant


def test_photos_with_swapped_row_sizes_ask_for_the_swap() -> None:
    area = parse_area("row:7.5in/19.2in")
    found = {c.name: c for c in check_size(area, Seen(0.093, 250.0, 800.0, 4.5, 0.3))}
    assert found["marked size"].level == "lower"
    assert "was row:19.2in/7.5in meant?" in found["marked size"].text
