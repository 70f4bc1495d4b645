"""The chance that more spots give a clear verdict, against fields in which they are counted."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tests.stand.fields import field
from tillercount.field import SpotDensity, estimate_field
from tillercount.field.outcomes import DRAWS, outcomes
from tillercount.stand.classify import CLEAR, Classified, classify
from tillercount.stand.library import load_rules
from tillercount.stand.prospect import in_ten, prospects
from tillercount.units import per_m2

RULE = load_rules("common-practice").rules[0]
BORDERS = [per_m2(border) for border in RULE.borders]


def judged(spots: list[SpotDensity]) -> Classified:
    plants = estimate_field(spots).plants
    assert plants is not None
    return classify(plants, RULE)


def chance(result: Classified, kind: str, spots: int) -> float:
    (found,) = [p.chance for p in result.prospects if (p.kind, p.spots) == (kind, spots)]
    return found


def test_said_chances_come_true() -> None:
    """Fields of 12 to 45 plants per square foot with CVs as the prior has them, five spots counted,
    eight more counted.

    Of 1,000 that aren't clear after five, the share that is clear after thirteen is what was said,
    to five points, and where more was said more came true.
    """
    rng = np.random.default_rng(8)
    said, true = [], []
    while len(said) < 1000:
        mean, cv = rng.uniform(12, 45), min(1.2, 0.45 * math.exp(0.5 * rng.standard_normal()))
        counts = rng.gamma(1 / cv**2, mean * cv**2, 13).tolist()
        first = judged(field(counts[:5]))
        if first.clear or first.border is None:
            continue
        assert first.estimate is not None
        (eight,) = prospects(first.estimate, BORDERS, RULE, CLEAR, [8])
        said.append(eight.chance)
        true.append(judged(field(counts)).clear)
    assert abs(np.mean(said) - np.mean(true)) < 0.05  # three standard errors
    high = np.array(said) > np.median(said)
    assert np.mean(np.array(true)[high]) > np.mean(np.array(true)[~high]) + 0.15


def test_the_mean_moves() -> None:
    """Six spots whose mean lies on the border: as if it stayed there, no number would tell."""
    result = judged(field([20.0, 34.0, 25.0, 29.0, 22.0, 32.0]))
    assert result.mean == pytest.approx(27.0)
    assert all(one.spots is None for one in result.further)
    assert 0.1 < chance(result, "hand", 20) < 0.8


def test_more_spots_and_less_scatter_bring_more() -> None:
    result = judged(field([19.0, 13.0, 28.0, 16.0, 25.0, 15.0]))
    by_number = [one.chance for one in result.prospects]
    assert by_number[-1] > by_number[0]
    assert all(b > a - 0.06 for a, b in itertools.pairwise(by_number))  # of 1,000
    even = judged(field([19.0, 18.0, 21.0, 18.5, 20.0, 19.5]))
    assert even.mean == pytest.approx(result.mean)
    assert chance(even, "hand", 8) > chance(result, "hand", 8)


def test_photos_that_err_alike_bring_nothing() -> None:
    photos = [
        SpotDensity(str(i), "photo", per_m2(p), None, plants_bias_rel=0.3)
        for i, p in enumerate((25, 21, 29, 24, 27, 22))
    ]
    result = judged(photos)
    assert chance(result, "photo", 20) < 0.05
    assert chance(result, "hand", 20) > 0.3


def photos(plants: list[float], shared: float, own: float = 0.0) -> list[SpotDensity]:
    """With the error that all share, and each photo's own; relative."""
    return [
        SpotDensity(
            str(i), "photo", per_m2(p), None, plants_bias_rel=shared,
            plants_se=per_m2(p) * math.hypot(shared, own) if own else 0.0,
        )
        for i, p in enumerate(plants)
    ]  # fmt: skip


def test_hand_counts_beside_photos_bring_no_less_than_photos() -> None:
    """Just short of clear: where one more photo may tip it, so may one spot dug up; from four on
    they are made at the photos' spots and correct them."""
    result = judged(photos([24.2, 22.7, 27.3, 24.1, 20.4, 23.0], 0.1))
    assert 0.75 < result.probabilities[result.class_] < CLEAR
    for number in (1, 4, 8):
        assert chance(result, "hand", number) > chance(result, "photo", number) - 0.05
    by_hand = {one.spots: one.text for one in result.prospects if one.kind == "hand"}
    assert by_hand[1] == "1 more spot by hand"
    assert by_hand[4] == "4 of these spots by hand"
    assert by_hand[8] == "6 of these spots and 2 more by hand"


def test_said_chances_of_hand_counts_beside_photos_come_true() -> None:
    """Five photos that all err alike by some 12 % and each by 15 %, four of them then dug up.

    As the program puts them together, said and true to eight points, at a standard error of 2.5.
    """
    rng = np.random.default_rng(11)
    said, true = [], []
    while len(said) < 250:
        mean, cv = rng.uniform(12, 45), min(1.2, 0.45 * math.exp(0.5 * rng.standard_normal()))
        wrong = math.exp(0.12 * rng.standard_normal())
        counts = rng.gamma(1 / cv**2, mean * cv**2, 5)
        read = counts[:5] * wrong * np.exp(0.15 * rng.standard_normal(5))
        seen = photos(read.tolist(), 0.12, own=0.15)
        first = judged(seen)
        if first.clear or first.border is None:
            continue
        assert first.estimate is not None
        four = {one.kind: one for one in prospects(first.estimate, BORDERS, RULE, CLEAR, [4])}
        said.append(four["hand"].chance)
        dug = [SpotDensity(str(i), "hand", per_m2(p), None) for i, p in enumerate(counts[:4])]
        true.append(judged([*seen, *dug]).clear)
    assert abs(np.mean(said) - np.mean(true)) < 0.08


def test_pairs_are_reckoned_with() -> None:
    rng = np.random.default_rng(1)
    spots = []
    for i, p in enumerate(rng.normal(19.5, 5, 20)):
        spots.append(SpotDensity(str(i), "photo", per_m2(p), None))
        if i < 6:
            spots.append(SpotDensity(str(i), "hand", per_m2(p - 1 + rng.normal(0, 1.5)), None))
    result = judged(spots)
    assert result.estimate is not None
    assert result.estimate.ratio is None
    assert {one.kind for one in result.prospects} == {"photo", "hand"}
    assert all(0 <= one.chance <= 1 for one in result.prospects)


def test_means_to_come_are_those_of_now_on_average() -> None:
    """More counting can't be expected to move the mean either way, and it takes uncertainty off."""
    now = estimate_field(field([22.0, 16.0, 27.0, 18.0, 24.0, 19.0])).plants
    assert now is not None
    (few, many) = outcomes(now, "hand", [2, 20])
    for then in (few, many):
        error = 3 * float(then.mean.std()) / math.sqrt(DRAWS)
        # a lognormal's mean lies a little above its median
        assert now.mean - error < float(then.mean.mean()) < 1.02 * now.mean + error
    assert float(np.median(many.scale)) < float(np.median(few.scale))
    assert float(many.mean.std()) > float(few.mean.std())


def test_the_same_counts_get_the_same_answer() -> None:
    counts = [22.0, 16.0, 27.0, 18.0, 24.0, 19.0]
    assert judged(field(counts)).prospects == judged(field(counts)).prospects


def test_a_clear_verdict_needs_none() -> None:
    assert judged(field([9.0, 10.0, 11.0, 9.0, 10.0, 12.0])).prospects == ()
    nothing = estimate_field(field([0.0, 0.0])).plants
    assert nothing is not None
    assert prospects(nothing, [1.0], RULE, CLEAR) == ()


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "less than 1 in 10"),
        (0.06, "about 1 in 10"),
        (0.449, "about 4 in 10"),
        (0.94, "about 9 in 10"),
        (1.0, "more than 9 in 10"),
    ],
)
def test_in_ten(share: float, text: str) -> None:
    assert in_ten(share) == text
