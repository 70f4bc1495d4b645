"""Photos whose own clocks say another day than the visit's, one by one."""

from __future__ import annotations

import datetime as dt

import pytest

from tillercount.stand.checks import photo_days


@pytest.mark.parametrize(
    ("visit", "taken", "said"),
    [
        (5, [4, 25], "by their own clocks 1 of 2 photos is of 2027-03-25, 20 days apart; "),
        (5, [4, 5, 8, 25], "2 of 4 photos are of 2027-03-08 to 2027-03-25, 3 to 20 days apart; "),
        (15, [1, 30], "the photos' own clocks say 2027-03-01 to 2027-03-30, 14 to 15 days apart; "),
        (15, [1], "the photo's own clock says 2027-03-01, 14 days apart; "),
        (15, [1, 1], "the photos' own clocks say 2027-03-01, 14 days apart; "),
    ],
)
def test_each_photo_is_looked_at_by_itself(visit: int, taken: list[int], said: str) -> None:
    days = [f"2027-03-{day:02}T09:00:00" for day in taken]
    (line,) = photo_days(dt.date(2027, 3, visit), days)
    assert said in line
    assert ("whether they are of one visit" in line) == (len(set(taken)) > 1)


def test_a_day_is_left_for_other_time_zones() -> None:
    days = ["2027-03-04", "2027-03-05", "2027-03-06", "no date"]
    assert photo_days(dt.date(2027, 3, 5), days) == []
    assert photo_days(None, ["2027-03-25"]) == []
    assert photo_days(dt.date(2027, 3, 5), []) == []
