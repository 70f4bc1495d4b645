"""Two photos of one spot that can't both be right."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.store.helpers import at
from tillercount.field import estimate_field
from tillercount.field.spots import SpotDensity
from tillercount.field.twophotos import apart_lines, photos_apart
from tillercount.stand import assess
from tillercount.units import per_m2


def photo(name: str, plants: float, se: float, spot: str = "4", **more: Any) -> SpotDensity:
    """Without a position, put to its spot by name."""
    shoots = more.pop("shoots", None)
    return SpotDensity(
        spot, "photo", per_m2(plants), None if shoots is None else per_m2(shoots),
        plants_se=per_m2(se), photo=f"in/{name}", placed=True, **{"named": True, **more},
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
        ((25, 0), (11, 2), False),  # no error stated (or a person's count): threefold, as by hand
        ((34, 0), (11, 2), True),
    ],
)
def test_border(one: tuple[float, float], other: tuple[float, float], apart: bool) -> None:
    for pair in ((one, other), (other, one)):
        found = photos_apart([photo(f"{n}.jpg", *p) for n, p in enumerate(pair)])
        assert bool(found) is apart


def test_both_files_and_counts_are_named() -> None:
    (found,) = photos_apart([photo("a.jpg", 10, 2), photo("b.jpg", 30, 3)])
    assert "spot 4: 30.0 plants per ft² by b.jpg and 10.0 by a.jpg can hardly both be" in found.line
    assert "tillercount season remove, with --photo" in found.line
    assert "SEASON" not in found.line
    assert found.line.endswith("or count the spot by hand")


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
    assert "by hand" not in found.remedy
    assert assess(spots).decided_by.held is None


def test_photos_merely_named_alike_are_two_places() -> None:
    spots = [replace(photo(n, p, 2), placed=False) for n, p in (("a.jpg", 10), ("b.jpg", 30))]
    result = assess(spots)
    assert result.field.spots == 2
    assert not any("hardly both" in one for one in result.verdict.warnings)


def located(name: str, plants: float, east_m: float) -> SpotDensity:
    lat, lon = at(east_m, 0)
    return photo(name, plants, 2, lat=lat, lon=lon, named=False)


@pytest.mark.parametrize(("away_m", "one_place"), [(0, True), (4.5, True), (5.5, False)])
def test_photos_round_one_stop_may_differ(away_m: float, one_place: bool) -> None:
    """A planned spot takes photos from up to 100 ft; stands differ twofold over far less."""
    spots = [located("a.jpg", 10, 0), located("b.jpg", 30, away_m)]
    result = assess(spots)
    assert bool(photos_apart(spots)) is one_place
    assert any("hardly both" in one for one in result.verdict.warnings) is one_place
    held = result.decided_by.held
    assert (held is not None and "two photos" in held.why) is one_place
    said = [flag for flag in result.field.flags if "averaged" in flag]
    if one_place:
        assert not said
    else:
        assert said == [
            "spot 4: 2 photo counts averaged into one value; they differ twofold or more (10.0 to "
            "30.0 plants per ft², up to 18 ft (6 m) apart)"
        ]


@pytest.mark.parametrize(
    "other",
    [located("b.jpg", 30, 0), photo("b.jpg", 30, 2, named=False)],
    ids=["one has a position", "put there by its time"],
)
def test_photos_that_nothing_says_are_of_one_place(other: SpotDensity) -> None:
    assert not photos_apart([photo("a.jpg", 10, 2), other])


def test_of_many_photos_the_two_that_contradict_each_other_are_found() -> None:
    spots = [located("a.jpg", 10, 0), located("b.jpg", 40, 20), located("c.jpg", 25, 2)]
    (found,) = photos_apart(spots)
    assert (found.fewer, found.more) == ("a.jpg", "c.jpg")


def both(name: str, plants: float, shoots: float) -> SpotDensity:
    return photo(name, plants, 1, shoots=shoots, shoots_se=per_m2(3))


def test_a_hand_count_of_plants_silences_no_shoots() -> None:
    spots = [both("a.jpg", 20, 20), both("b.jpg", 21, 100), hand("4", 20), hand("5", 25)]
    result = assess(spots)
    (line,) = [one for one in result.verdict.warnings if "hardly both" in one]
    assert "100 shoots per ft² by b.jpg and 20 by a.jpg" in line
    assert "their mean is no count of it" in line
    # plants decide here and were counted by hand
    held = result.decided_by.held
    assert result.decided_by.rule.measures == "plants"
    assert held is None or "two photos" not in held.why


def test_both_are_said_where_only_one_was_counted_by_hand() -> None:
    spots = [both("a.jpg", 8, 20), both("b.jpg", 30, 100), hand("4", 20)]
    first, second = apart_lines(spots)
    assert "plants" in first
    assert "the hand count is taken" in first
    assert "shoots" in second
    assert "their mean is no count of it" in second
    assert len(apart_lines(spots[:2])) == 1


def test_what_agrees_is_still_said_to_be_averaged() -> None:
    flags = estimate_field([both("a.jpg", 20, 20), both("b.jpg", 21, 100)]).flags
    assert "spot 4: plants of 2 photo counts averaged into one value" in flags
    flags = estimate_field([both("a.jpg", 20, 50), both("b.jpg", 21, 60), hand("4", 20)]).flags
    assert "spot 4: 2 photo counts averaged into one value" in flags


def test_errors_of_honest_photos_are_not_made_larger() -> None:
    """Over many pairs that differ by their own errors the mean's error is theirs, no more."""
    rng = np.random.default_rng(5)
    got = []
    for one, other in rng.normal(20, 3, (200, 2)):
        found = estimate_field([photo("a.jpg", one, 3), photo("b.jpg", other, 3)])
        got.append(found.used[0].plants_se)
    assert np.mean(np.square(got)) == pytest.approx(per_m2(3) ** 2 / 2, rel=0.02)
