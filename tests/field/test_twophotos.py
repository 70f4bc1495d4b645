"""Two photos of one spot that can't both be right."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tillercount.field import estimate_field
from tillercount.field.spots import SpotDensity
from tillercount.field.twophotos import photos_apart
from tillercount.stand import assess
from tillercount.units import per_m2


def photo(name: str, plants: float, se: float, spot: str = "4", **more: float) -> SpotDensity:
    return SpotDensity(
        spot, "photo", per_m2(plants), None, plants_se=per_m2(se), photo=f"in/{name}", placed=True,
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


def hand(spot: str, plants: float) -> SpotDensity:
    return SpotDensity(spot, "hand", per_m2(plants), None)


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ((30, 3), (10, 2), True),  # threefold, 25 to 35 against 6.7 to 13.3
        ((30, 3), (15.1, 2), False),  # under the fold
        ((30, 3), (14.9, 2), True),
        ((30, 8), (10, 5), False),  # 16.8 to 43 against 1.8 to 18.2: the intervals meet
        ((9.9, 0.5), (0, 0), False),  # too few to say anything
        ((20, 2), (0, 0), True),
    ],
)
def test_border(one: tuple[float, float], other: tuple[float, float], apart: bool) -> None:
    for pair in ((one, other), (other, one)):
        found = photos_apart([photo(f"{n}.jpg", *p) for n, p in enumerate(pair)])
        assert bool(found) is apart


def test_both_files_and_counts_are_named() -> None:
    (found,) = photos_apart([photo("a.jpg", 10, 2), photo("b.jpg", 30, 3)])
    assert "spot 4: 30.0 plants per ft² by b.jpg and 10.0 by a.jpg can't both be" in found.line
    assert "season remove --photo" in found.line


def test_mean_of_photos_that_differ_has_the_error_that_they_show() -> None:
    far = estimate_field([photo("a.jpg", 10, 2), photo("b.jpg", 30, 3)])
    near = estimate_field([photo("a.jpg", 19, 2), photo("b.jpg", 21, 3)])
    assert far.used[0].plants_per_m2 == near.used[0].plants_per_m2 == pytest.approx(per_m2(20))
    # two that differ by 20: standard error 10 (half of it); two alike: by their own errors
    assert far.used[0].plants_se == pytest.approx(per_m2(10))
    assert near.used[0].plants_se == pytest.approx(per_m2(math.hypot(2, 3) / 2))
    assert far.plants is not None
    assert near.plants is not None
    assert far.plants.high - far.plants.low > 1.1 * (near.plants.high - near.plants.low)
    assert not any("averaged" in flag for flag in far.flags)
    assert any("averaged" in flag for flag in near.flags)


def test_verdict_says_it_first_and_waits_where_half_the_spots_rest_on_it() -> None:
    two = [photo("a.jpg", 10, 2), photo("b.jpg", 30, 3)]
    held = assess([*two, hand("5", 25)])
    assert "a.jpg" in held.verdict.warnings[0]
    assert "b.jpg" in held.verdict.warnings[0]
    assert not held.verdict.clear
    assert held.decided_by.held is not None
    assert "two photos of one spot" in held.decided_by.held.why
    more = assess([*two, *(hand(str(n), 25 + n % 3) for n in range(5, 12))])
    assert "a.jpg" in more.verdict.warnings[0]
    assert more.decided_by.held is None


def test_hand_count_settles_it() -> None:
    spots = [photo("a.jpg", 10, 2), photo("b.jpg", 30, 3), hand("4", 29), hand("5", 25)]
    (found,) = photos_apart(spots)
    assert "the hand count is taken" in found.line
    assert assess(spots).decided_by.held is None


def test_photos_merely_named_alike_are_two_places() -> None:
    spots = [replace(photo(n, p, 2), placed=False) for n, p in (("a.jpg", 10), ("b.jpg", 30))]
    result = assess(spots)
    assert result.field.spots == 2
    assert not any("can't both be" in one for one in result.verdict.warnings)
