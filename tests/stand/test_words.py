"""Numbers in words: on their side of a border, and no probability of nothing or all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.stand import list_rules
from tillercount.stand.words import number_text, percent


@pytest.mark.parametrize(
    ("value", "borders", "text"),
    [
        (8.44, (), "8.4"),
        (22.5, (), "23"),  # half up: to even would be 22
        (23.5, (), "24"),
        (9.96, (), "10"),
        (18.42, (), "18"),
        (18.42, (18, 27), "18.4"),
        (17.6, (18, 27), "17.6"),
        (18.04, (18, 27), "18.04"),
        (26.996, (18, 27), "26.996"),
        (18.0, (18, 27), "18"),
        (18 * (1 + 1e-12), (18, 27), "18"),  # through per m² and back
        (22.4, (18, 27), "22"),
        (193.75, (193.75,), "193.8"),  # a border printed in the other unit
        (194.2, (193.75,), "194"),
        (193.6, (193.75,), "193.6"),
    ],
)
def test_beside_a_border(value: float, borders: tuple[float, ...], text: str) -> None:
    assert number_text(value, borders) == text


@given(st.floats(0.0, 60.0))
def test_never_on_the_wrong_side(value: float) -> None:
    for border in (8.0, 18.0, 27.0, 35.0):
        if abs(value - border) > 5e-4:
            shown = float(number_text(value, (8.0, 18.0, 27.0, 35.0)))
            assert (shown > border) == (value > border)
            assert shown != border


@pytest.mark.parametrize(
    ("share", "text"),
    [(1.0, "over 99"), (0.995, "over 99"), (0.99, "99"), (0.0, "under 1"), (0.005, "under 1"),
     (0.014, "1"), (0.5, "50")],
)  # fmt: skip
def test_no_probability_is_nothing_or_all(share: float, text: str) -> None:
    assert percent(share) == f"{text}\u00a0%"


def test_ranges_say_which_ends_belong() -> None:
    """Read off the rule sets as printed: "18 or fewer", then up to 27, from 27 to 35."""
    (rules,) = (one for one in list_rules() if one.name == "common-practice")
    plants = rules.rule("plants")
    assert plants is not None
    assert [plants.range_text(i) for i in range(len(plants.bands))] == [
        "18 or fewer", "more than 18, fewer than 27", "27 to 35", "more than 35"
    ]  # fmt: skip
