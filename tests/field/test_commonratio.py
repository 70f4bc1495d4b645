"""Photos that are all off from hand counts of the same spots by about the same factor."""

from __future__ import annotations

import pytest

from tests.field.test_contradiction import spot
from tillercount.field import SpotDensity
from tillercount.field.commonratio import common_ratio
from tillercount.stand import assess
from tillercount.twoforms import on_paper


def counted(plants: float, shoots: float, pairs: int = 2, others: int = 3) -> list[SpotDensity]:
    """Hand counts of 24 plants and more, photos so many times as many, and photos alone."""
    out = []
    for i in range(pairs):
        hand = 24.0 + 4 * i
        out += [
            spot(f"spot_{i}", "photo", 3 * hand * shoots, hand * plants),
            spot(str(i), "hand", 3 * hand, hand),
        ]
    return out + [
        spot(f"spot_{9 + i}", "photo", 75.0 * shoots, (24.0 + i) * plants) for i in range(others)
    ]


def test_two_pairs_at_half_hold_the_verdict_and_are_said_first() -> None:
    result = assess(counted(0.48, 0.5))
    assert not result.verdict.clear
    assert result.verdict.headline.startswith(
        "Not settled: photos show about half of the plants and shoots that were counted by hand at "
        "the same 2 spots."
    )
    first = result.flags[0]
    assert "measure the frame's inside and check --area" in first
    assert "1.4 times too large" in first  # √(1 / 0.48)
    assert "--area" not in on_paper(first)


def test_photos_that_show_too_much() -> None:
    found = common_ratio(counted(2.25, 2.25))
    assert found is not None
    assert "1.5 times too small" in found.line


@pytest.mark.parametrize(("plants", "shoots"), [(0.7, 0.7), (1.33, 1.5)])
def test_usual_errors_pass(plants: float, shoots: float) -> None:
    assert common_ratio(counted(plants, shoots)) is None


def test_one_pair_says_little_and_pairs_that_disagree_nothing() -> None:
    assert common_ratio(counted(0.5, 0.5, pairs=1)) is None
    mixed = [*counted(0.5, 0.5), spot("7", "photo", 70.0, 24.0), spot("7", "hand", 72.0, 25.0)]
    assert common_ratio(mixed) is None


def test_plants_alone_are_no_matter_of_size() -> None:
    found = common_ratio(counted(0.5, 1.0))
    assert found is not None
    assert found.measures == ("plants",)
    assert "shoots agree, so it isn't the size" in found.line
    assert "--area" not in found.line


@pytest.mark.parametrize("others", [0, 3])
@pytest.mark.parametrize("pairs", [4, 10])
def test_no_number_of_pairs_makes_it_sure(pairs: int, others: int) -> None:
    """Which of the two has the wrong size is open, whether pairs correct the photos or not."""
    result = assess(counted(0.5, 0.5, pairs=pairs, others=others))
    assert result.flags[0].startswith("photos show about half")
    assert result.verdict.headline.startswith("Not settled: photos show about half")
    assert not result.verdict.clear
    assert "go by the hand counts alone" in result.verdict.settle


def test_hand_counts_alone_are_judged() -> None:
    hands = [one for one in counted(0.5, 0.5, pairs=6) if one.source == "hand"]
    assert not assess(hands).verdict.headline.startswith("Not settled")


def test_where_shoots_agree_plants_by_hand_correct_the_photos() -> None:
    result = assess(counted(0.5, 1.0, pairs=4))
    assert result.flags[0].startswith("photos show about half of the plants")
    assert result.plants is not None
    assert result.plants.held is None
