"""Two people's counts of the same spots."""

from __future__ import annotations

import pytest

from tillercount.field.observers import FOLD, observer_differences, spots_by_observer
from tillercount.field.spots import SpotDensity
from tillercount.units import per_m2


def counted(who: str, plants: list[float], first: int = 1) -> list[SpotDensity]:
    """One square foot at each spot."""
    return [
        SpotDensity(str(i), "hand", per_m2(p), None, observer=who)
        for i, p in enumerate(plants, start=first)
    ]


def test_twofold_on_three_spots_is_told_with_who_and_how_much() -> None:
    (found,) = observer_differences([*counted("me", [31, 29, 26]), *counted("Joe", [15, 16, 14])])
    assert (found.more, found.fewer) == ("me", "Joe")
    assert found.ratio == pytest.approx(86 / 45)
    assert found.low > 1.0
    assert found.differ
    assert "1.9 times as many plants" in found.line
    assert "31.0 and 15.0" in found.line


def test_order_of_the_files_does_not_matter() -> None:
    (found,) = observer_differences([*counted("Joe", [15, 16, 14]), *counted("me", [31, 29, 26])])
    assert (found.more, found.fewer, found.differ) == ("me", "Joe", True)
    assert found.more_per_m2[0] == pytest.approx(per_m2(31))


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    [
        ([30, 29, 26], [28, 31, 25], False),  # alike
        ([30, 30, 30], [21, 21, 20], False),  # 1.45 times: under the fold
        ([30, 30, 30], [19, 19, 19], True),  # 1.58 times, 90 against 57
        ([3, 2], [1, 1], False),  # 2.5 times, but of seven plants
        ([31], [15], False),  # one spot only
        ([0, 0], [0, 0], False),
        ([20, 22], [0, 0], True),
    ],
)
def test_border(one: list[float], other: list[float], differ: bool) -> None:
    found = observer_differences([*counted("A", one), *counted("B", other)])
    assert any(f.differ for f in found) is differ


def test_exact_interval() -> None:
    """Clopper-Pearson for 8 of 10: 0.4439 to 0.9748 (95 %), so a ratio of 0.798 to 38.6."""
    (found,) = observer_differences([*counted("A", [4, 4]), *counted("B", [1, 1])])
    assert found.low == pytest.approx(0.4439 / 0.5561, rel=1e-3)
    assert found.high == pytest.approx(0.9748 / 0.0252, rel=2e-2)
    assert found.ratio > FOLD
    assert not found.differ


def test_different_spots_are_no_test_but_named() -> None:
    spots = [*counted("JM", [30, 29]), *counted("RT", [12, 13], first=3)]
    assert observer_differences(spots) == []
    assert spots_by_observer(spots) == {"JM": ("1", "2"), "RT": ("3", "4")}


def test_same_name_written_otherwise_is_one_person() -> None:
    spots = [*counted("Joe", [30, 29]), *counted(" joe ", [12, 13], first=3)]
    assert spots_by_observer(spots) == {"Joe": ("1", "2", "3", "4")}
