"""Spots outside the outline of the field they are judged for."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.field.offfield import off_field
from tillercount.plan import read_field
from tillercount.stand import assess

SQUARE = "38.000,-77.000 38.004,-77.000 38.004,-76.996 38.000,-76.996"
"""Some 440 by 350 m."""
MIDDLE = 38.002, -76.998
NORTH = 38.010, -76.998
"""Some 670 m north of it."""


def spots(*places: tuple[float, float] | None) -> list[SpotDensity]:
    return [
        SpotDensity(str(i), "hand", 200.0 + i, 600.0, lat=at and at[0], lon=at and at[1])
        for i, at in enumerate(places, start=1)
    ]


def test_inside_or_without_a_position_nothing_is_said() -> None:
    field = read_field(SQUARE)
    assert off_field(spots(MIDDLE, MIDDLE, None), field) == []
    assert off_field(spots(None, None), field) == []
    assert off_field(spots(MIDDLE, (38.0041, -76.998)), field) == []  # 11 m: as good as a phone


def test_some_outside_are_named_with_their_distance() -> None:
    (text,) = off_field(spots(MIDDLE, MIDDLE, NORTH), read_field(SQUARE))
    assert text.startswith("1 of 3 positions lies outside the boundary")
    assert "spot 3: 2,18" in text
    assert "(666 m)" in text
    result = assess(spots(MIDDLE, MIDDLE, NORTH), outline=read_field(SQUARE))
    assert text in result.verdict.warnings


@pytest.mark.parametrize("places", [(NORTH, NORTH, NORTH), (NORTH, NORTH, None), (NORTH,)])
def test_all_outside_is_refused_with_what_to_do(places: tuple[tuple[float, float] | None]) -> None:
    with pytest.raises(InputError, match=r"outside the boundary.* leave --boundary out"):
        assess(spots(*places), outline=read_field(SQUARE))


def test_one_odd_position_among_many_without_is_no_refusal() -> None:
    (text,) = off_field(spots(NORTH, None, None, None), read_field(SQUARE))
    assert text.startswith("the only position lies outside")
