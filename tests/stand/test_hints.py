"""What came of the look at each plant's tillers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.stand.fields import field
from tillercount.stand import assess

PLANTS = [31.0, 31.4, 30.6, 31.0, 30.5, 31.5]
"""Plants per ft², mean 31: on target, if each plant has 3 to 5 tillers."""


@pytest.mark.parametrize(
    ("each", "outcome"),
    [
        (2.6, "common practice wants 3 to 5: perhaps “thin but worth keeping” rather than “on"),
        (104 / 31, "but 104 shoots per ft² are enough all the same: don't treat the field as thin"),
        (4.2, "about 3 tillers besides each main stem; common practice wants 3 to 5: enough"),
    ],
)
def test_the_outcome_instead_of_the_check(each: float, outcome: str) -> None:
    result = assess(field(PLANTS, each=each))
    assert result.verdict.class_ == "target"
    (said,) = [flag for flag in result.flags if "besides each main stem" in flag]
    assert outcome in said
    assert ("perhaps “thin" in said) == (each == 2.6)
    assert not any("Check that plants have" in one.text for one in result.verdict.actions)


@pytest.mark.parametrize(("stage", "said"), [("Feekes 5", 1), ("Feekes 6", 1), ("Feekes 7", 0)])
def test_nothing_is_said_of_tillers_when_it_is_too_late(stage: str, said: int) -> None:
    flags = assess(field(PLANTS, each=2.6), stage=stage).flags
    assert sum("besides each main stem" in flag for flag in flags) == said


@pytest.mark.parametrize("spots", [field(PLANTS, each=None), field(PLANTS[:2], each=2.6)])
def test_the_check_stays_where_tillers_are_not_known(spots: object) -> None:
    """Not counted, or at two spots only."""
    result = assess(spots)
    assert any("Check that plants have 3 to 5 tillers" in a.text for a in result.verdict.actions)
    assert not any("besides each main stem" in flag for flag in result.flags)


@pytest.mark.parametrize(
    ("stage", "each", "asked"),
    [
        ("GS13", 4.0, True),
        ("GS13", 2.6, True),
        ("GS13", 2.0, False),
        ("GS12", 2.0, True),
        ("GS12", 1.2, False),
        ("GS14", 3.0, False),
        ("GS14", 4.0, True),
        ("GS15", 4.0, False),
        ("GS17", 9.0, False),
        ("Feekes 1", 3.0, True),
        ("Feekes 1", 2.0, False),
        ("Feekes 1-3", 4.0, False),
        ("Feekes 2", 4.0, False),
        ("Feekes 3", 4.0, False),
    ],
)
def test_tillers_that_the_stage_does_not_have(stage: str, each: float, asked: bool) -> None:
    """Three leaves make two shoots at most, and Feekes 1 has none but the main stem."""
    for rules in ("common-practice", "kentucky-stand"):
        result = assess(field([24.0, 25.0, 23.0], each=each), rules, stage=stage)
        said = [flag for flag in result.flags if "Either the stage is later" in flag]
        assert bool(said) == asked
    few = assess(field([24.0, 25.0], each=each), stage=stage)
    assert not any("Either the stage is later" in flag for flag in few.flags)


def test_the_question_names_stage_and_figure() -> None:
    (said,) = [f for f in assess(field([24.0] * 4, each=4.0), stage="GS13").flags if "given" in f]
    assert said.startswith("Feekes 1 (GS13) was given, in which a plant has 1 tiller at most")
    assert "about 3 on each were counted" in said


def hint(each: list[float], **more: object) -> str:
    pairs = zip(PLANTS, each, strict=True)
    spots = [
        replace(field([plants], each=one)[0], spot=str(number), **more)
        for number, (plants, one) in enumerate(pairs)
    ]
    (said,) = [flag for flag in assess(spots).flags if "besides each main stem" in flag]
    return said


def test_hardly_a_tiller_only_where_the_upper_limit_agrees() -> None:
    """The ratio of two means has an interval as well as each of them."""
    assert hint([1.2, 1.3, 1.2, 1.3, 1.2, 1.3]).startswith("hardly a tiller besides")
    uneven = hint([0.9, 2.3, 1.0, 1.9, 1.1, 1.4])  # 1.43 on average
    assert uneven.startswith("between none and 1 tiller (90% interval) besides")
    assert "perhaps “thin but worth keeping” rather than" in uneven  # 1 is fewer than 3 too


def test_a_class_is_not_put_forward_by_tillers_that_may_be_enough() -> None:
    said = hint([2.0, 5.5, 2.2, 5.0, 2.1, 1.8])
    assert said.startswith("about 2 tillers (1 to 3, 90% interval) besides")
    assert "that isn't sure: look at a few plants" in said
    assert "perhaps “thin" not in said


def test_photos_that_may_all_be_off_make_tillers_less_sure() -> None:
    """They share an error that no number of them takes away."""
    few = [1.2, 1.3, 1.2, 1.3, 1.2, 1.3]
    off = {"source": "photo", "plants_bias_rel": 0.25, "shoots_bias_rel": 0.2}
    assert hint(few, **off).startswith("between none and 1 tiller")


def test_enough_by_the_mean_alone_is_said_so() -> None:
    assert "enough by the mean, though it may be fewer" in hint([3.0, 6.5, 2.8, 5.0, 2.6, 4.4])
