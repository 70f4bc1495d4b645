"""Days as people type them."""

from __future__ import annotations

import datetime as dt

import pytest

from tillercount.days import day_named, day_typed
from tillercount.errors import InputError

TODAY = dt.date(2026, 3, 6)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-04", "2026-03-04"),
        ("4 March", "2026-03-04"),
        ("March 4", "2026-03-04"),
        (" mar  4th ", "2026-03-04"),
        ("Wed, 4 Mar.", "2026-03-04"),
        ("the 4th", None),
        ("March 4, 2024", "2024-03-04"),
        ("4 March 2024", "2024-03-04"),
        ("7 March", "2025-03-07"),  # to come this year
        ("29 Feb", None),  # neither this year nor the last has one: a slip
        ("29 Feb 2024", "2024-02-29"),
        ("30 Feb", None),
        ("2026-02-30", None),
        ("3/4", None),  # March or April
        ("visit 4", None),
        ("4 March north end", None),
        ("may 4 be", None),
        ("March 2026", None),
    ],
)
def test_a_name_that_is_a_day(text: str, day: str | None) -> None:
    found = day_named(text, TODAY)
    assert (None if found is None else found.isoformat()) == day


def test_a_leap_day_of_this_winter() -> None:
    assert day_named("29 Feb", dt.date(2024, 3, 6)) == dt.date(2024, 2, 29)
    assert day_named("29 Feb", dt.date(2025, 1, 6)) == dt.date(2024, 2, 29)
    assert day_named("29 Feb", dt.date(2023, 12, 1), ahead=182) == dt.date(2024, 2, 29)


def test_around_new_year() -> None:
    assert day_named("30 December", dt.date(2027, 1, 2)) == dt.date(2026, 12, 30)
    assert day_named("2 January", dt.date(2026, 12, 30), ahead=10) == dt.date(2027, 1, 2)


def test_a_plan_is_made_before_the_day() -> None:
    assert day_named("7 March", TODAY, ahead=10) == dt.date(2026, 3, 7)
    assert day_named("7 April", TODAY, ahead=10) == dt.date(2025, 4, 7)


def test_what_is_no_day_is_said() -> None:
    with pytest.raises(InputError, match=r"--date '3/4' can't be read; .*6 March 2026"):
        day_typed("3/4", TODAY, what="--date")
