"""Days as people type them."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from tillercount.days import (
    day_in_file,
    day_named,
    day_typed,
    days_apart,
    has_year,
    is_no_day,
    wrong_weekday,
)
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
        ("3/4/2026", None),
        ("3/18/2026", "2026-03-18"),
        ("18.3.2026", "2026-03-18"),
        ("3/18/26", "2026-03-18"),
        ("18/3/26", None),  # the year may come first
        ("3/3/2026", "2026-03-03"),
        ("4-Mar", "2026-03-04"),  # what a spreadsheet makes of 3/4
        ("4-Mar-26", "2026-03-04"),
        ("04-Mar-2024", "2024-03-04"),
        ("31-Jun-26", None),
        ("2026/3/4", "2026-03-04"),
        ("2026-3-4", "2026-03-04"),
        ("2026-03-04 09:30", "2026-03-04"),
        ("2026-03-04T09:30:00+01:00", "2026-03-04"),
        ("3/18/2026 9:30 AM", "2026-03-18"),
        ("4 March 14:00", "2026-03-04"),
        ("4. März", "2026-03-04"),
        ("4. Ma\u0308rz 2024", "2024-03-04"),  # a and its dots apart, as some systems write names
        ("4 marz", "2026-03-04"),
        ("4 mars 2024", "2024-03-04"),
        ("4-Mrz-26", "2026-03-04"),
        ("12 octubre 2024", "2024-10-12"),
        ("set 4", None),  # the fourth one of something
        ("marsh 4", None),
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


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("soon", "'soon' can't be read"),
        ("31 Feb", "'31 Feb' looks like a day, but there is no such day"),
        ("2026-02-30", "'2026-02-30' looks like a day, but there is no such day"),
        ("3/4", "'3/4' looks like a day, but it may be 2025-04-03 or 2026-03-04"),
        ("3/4/2026", "'3/4/2026' looks like a day, but it may be 2026-03-04 or 2026-04-03"),
        ("3/18", "'3/18' looks like a day, but it has no year (2025-03-18?)"),
        ("2/31", "'2/31' looks like a day, but there is no such day"),
    ],
)
def test_what_is_no_day_is_said(text: str, why: str) -> None:
    said = f'--date {why}; write it like 2026-03-06 or "6 March 2026"'
    with pytest.raises(InputError, match=f"^{re.escape(said)}$"):
        day_typed(text, TODAY, what="--date")


@pytest.mark.parametrize(
    ("text", "clocks", "day"),
    [
        ("4 March", ["2024-03-04"], "2024-03-04"),
        ("4 March", ["2024-03-06", "2024-03-08"], "2024-03-04"),  # put on the camera's clock later
        ("4 March", ["2001-01-01"], "2026-03-04"),  # a clock that was never set
        ("30 December", ["2025-01-02"], "2024-12-30"),
        ("4 March 2025", ["2024-03-04"], "2025-03-04"),
        ("7 March", ["2026-03-07"], "2025-03-07"),  # a clock that is ahead
    ],
)
def test_a_year_by_the_photos_clocks(text: str, clocks: list[str], day: str) -> None:
    near = [dt.date.fromisoformat(one) for one in clocks]
    assert str(day_typed(text, TODAY, near=near)) == day


@pytest.mark.parametrize("text", ["Tuesday 4 March 2026", "tues. 4 Mar 2026", "Tue, March 4"])
def test_a_weekday_that_contradicts_the_day_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"says Tuesday, but 2026-03-04 is a Wednesday; which is"):
        day_typed(text, TODAY, what="--date")


@pytest.mark.parametrize("text", ["Wednesday 4 March 2026", "wed 4 march", "4 March", "2026-03-04"])
def test_a_weekday_that_goes_with_it(text: str) -> None:
    assert day_typed(text, TODAY) == dt.date(2026, 3, 4)
    assert wrong_weekday(text, dt.date(2026, 3, 4)) == ""


@pytest.mark.parametrize("short", ["Thu", "Thur", "Thurs.", "Thursday"])
def test_a_weekday_cut_short(short: str) -> None:
    assert day_typed(f"{short} 5 March", TODAY) == dt.date(2026, 3, 5)


@pytest.mark.parametrize(
    ("one", "other", "days"),
    [
        ("4 March", "2019-03-04", 0),
        ("31 Dec", "2 January", 2),
        ("28 Feb", "1 March", 1),  # two days in a leap year: at the least
        ("3/4/26", "4 March 2026", 0),
        ("3/4/26", "3 April 2026", 0),
        ("3/4/26", "3/12/26", 8),
        ("13/3/26", "28/3/26", 15),  # whichever end the year is at
        ("30 Feb", "4 March", 0),
        ("morning", "4 March", 0),
    ],
)
def test_days_lie_so_far_apart_at_the_least(one: str, other: str, days: int) -> None:
    assert days_apart(one, other) == days_apart(other, one) == days


@pytest.mark.parametrize(
    ("text", "none"),
    [
        ("30 Feb", True), ("29 Feb 2025", True), ("29 Feb", False), ("2026-13-01", True),
        ("4 March", False), ("3/4/26", False), ("morning", False), ("40 winks", False),
        ("13/13/2026", True), ("2/30/2026", True), ("10.45.30", False),
    ],
)  # fmt: skip
def test_a_day_that_no_year_has(text: str, none: bool) -> None:
    assert is_no_day(text) is none


def test_one_day_of_figures_tells_the_order_of_its_column() -> None:
    """18 can be no month, so 3/4 is 4 March; where days speak for both orders, none is read."""
    assert day_in_file("3/4/2026", ["3/4/2026", "3/18/2026"]) == dt.date(2026, 3, 4)
    assert day_in_file("3/4/2026", ["3/4/2026", "18/3/2026"]) == dt.date(2026, 4, 3)
    assert day_in_file("3/4/2026", ["3/18/2026", "18/3/2026"]) is None
    assert day_in_file("3/4/2026", ["3/4/2026", "2026-03-18"]) is None
    assert has_year("3/18/26")
    assert has_year("4-Mar-26")
    assert not has_year("4-Mar")
