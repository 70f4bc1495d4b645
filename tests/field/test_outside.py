"""Why the mean of photo and hand counts together lies outside both: worked out again here."""

from __future__ import annotations

import re

import numpy as np
import pytest

from tillercount.field import SpotDensity, double_sample, estimate_field
from tillercount.field.double import DoubleSample
from tillercount.field.outside import side_of_both, why_outside
from tillercount.stand import assess
from tillercount.units import per_ft2, per_m2

Pairs = list[tuple[float, float]]


def spots(pairs: Pairs, photos: list[float], hands: list[float] = []) -> list[SpotDensity]:  # noqa: B006
    """Per ft²: pairs of (hand, photo), other photos, spots by hand alone."""
    out = []
    for i, (hand, photo) in enumerate(pairs):
        out.append(SpotDensity(f"p{i}", "hand", per_m2(hand), None))
        out.append(SpotDensity(f"p{i}", "photo", per_m2(photo), None, plants_bias_rel=0.1))
    for i, photo in enumerate(photos):
        out.append(SpotDensity(f"x{i}", "photo", per_m2(photo), None, plants_bias_rel=0.1))
    out.extend(SpotDensity(f"h{i}", "hand", per_m2(hand), None) for i, hand in enumerate(hands))
    return out


def double(pairs: Pairs, photos: list[float], hands: list[float] = []) -> DoubleSample:  # noqa: B006
    found = double_sample(spots(pairs, photos, hands), "plants", 0.9)
    assert found is not None
    return found


def numbers(text: str) -> list[float]:
    """Every result of a sum in the text with what its own figures come to."""
    out = []
    for left, right in re.findall(r"(?:: |; )([^:;]+) = (-?[\d.]+)", text):
        out.append(eval(left.replace("x", "*"), {"__builtins__": {}}) - float(right))  # noqa: S307
    return out


THICK: Pairs = [(28.0, 31.0), (30.0, 34.0), (26.0, 28.5), (31.0, 33.0)]
"""Mean 28.75 by hand and 31.625 by photo: photos read 2.875 too many."""


def test_below_both() -> None:
    """Of eight photos with the mean 27.3125; the difference makes 27.3125 - 2.875 = 24.4375."""
    found = double(THICK, [22.0, 24.0, 21.0, 25.0])
    assert found.combined is not None
    assert per_ft2(found.combined.mean) == pytest.approx(24.4375)
    assert side_of_both(found) == "below"
    said = why_outside(found)
    assert "the 4 spots with both stand thicker than most (their photos read 31.6, all" in said
    assert "photos read too many (at those spots 31.6 where 28.8 were counted)" in said
    assert said.endswith(": 28.8 + 1.00 x (27.3 - 31.6) = 24.4")


def test_above_both() -> None:
    found = double([(p, h) for h, p in THICK], [44.0, 40.0, 39.0, 41.0])
    assert side_of_both(found) == "above"
    assert "thinner than most" in why_outside(found)
    assert "too few" in why_outside(found)


def test_between_nothing_is_said() -> None:
    assert why_outside(double(THICK, [38.0, 36.0, 39.0, 37.0])) == ""
    # too few pairs: nothing is put together, and the mean lies between
    assert why_outside(double(THICK[:1], [22.0], [18.0, 19.0])) == ""


def test_below_both_as_counted() -> None:
    """Three pairs correct nothing: (28 x 3 + 22) / 4 = 26.5, below 28 by hand and 28.9 by photo."""
    found = double(THICK[:3], [22.0])
    assert found.method == "as counted"
    said = why_outside(found)
    assert said.startswith("the field's mean lies below both")
    assert "at the 3 spots counted both ways the hand count stands (28.0)" in said
    assert said.endswith("(3 x 28.0 + 1 x 22.0) / 4 = 26.5")
    mean = estimate_field(spots(THICK[:3], [22.0])).plants
    assert mean is not None
    assert per_ft2(mean.mean) == pytest.approx(26.5)


def test_a_spot_by_hand_alone_has_its_own_weight() -> None:
    found = double(THICK, [22.0, 24.0, 21.0, 25.0], [29.0, 30.0])
    said = why_outside(found)
    assert "the 2 counted by hand alone, at 29.5, weigh 2 of 10 here and 2 of 6 among" in said
    assert said.endswith("; (8 x 24.4 + 2 x 29.5) / 10 = 25.4")


@pytest.mark.parametrize("seed", range(40))
def test_what_is_said_comes_to_the_mean(seed: int) -> None:
    """Any field: a reason is there exactly where it lies outside, and its sums come to the mean."""
    rng = np.random.default_rng(seed)
    n, k = int(rng.integers(4, 14)), int(rng.integers(0, 3))
    hand = rng.normal(24, 6, n)
    pairs = [(float(h), float(h * rng.uniform(0.8, 1.3) + rng.normal(0, 3))) for h in hand]
    others = rng.normal(24, 6, int(rng.integers(1, 20))).tolist()
    found = double(pairs, others, rng.normal(24, 6, k).tolist())
    assert found.combined is not None
    mean = per_ft2(found.combined.mean)
    alone = [per_ft2(one.mean) for one in (found.hand, found.photo)]
    said = why_outside(found)
    shown = [round(one, 1) for one in (mean, *alone)]
    assert bool(said) == (not min(shown[1:]) <= shown[0] <= max(shown[1:]))
    if said:
        assert ("below both" in said) == (mean < min(alone))
        assert float(said.rpartition(" = ")[2]) == pytest.approx(mean, abs=0.051)
        assert numbers(said)
        assert max(map(abs, numbers(said))) < 0.35  # figures with one decimal
        assert not said.split("since ")[1].startswith(":")  # some reason is always there


def test_the_steps_and_the_record_say_it() -> None:
    given = spots(THICK, [22.0, 24.0, 21.0, 25.0])
    found = estimate_field(given).double[0]
    result = assess(given).to_json()
    (step,) = [one for one in result["steps"] if one["what"] == "Plants both ways"]
    assert step["why"].endswith(why_outside(found))
    assert result["sampling"]["photo_and_hand"]["plants"]["why_outside"] == why_outside(found)
