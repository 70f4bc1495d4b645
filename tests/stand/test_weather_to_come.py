"""Days of weather that are still to come, and dates that they can't give."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from tests.stand.test_topdress import TARGET, made
from tillercount.stand.growth import jointing_dates
from tillercount.stand.season import look_at_season
from tillercount.stand.weather import Day, Weather

FIRST = dt.date(2023, 1, 1)


def weather(last: dt.date) -> Weather:
    days = itertools.takewhile(
        lambda day: day <= last, (FIRST + dt.timedelta(n) for n in range(3000))
    )
    return Weather(tuple(Day(day, 55.0, 40.0) for day in days), "made.csv", "F")


@pytest.mark.parametrize(("ahead", "said"), [(0, False), (1, True), (14, True)])
def test_days_to_come_are_marked(ahead: int, said: bool) -> None:
    today = dt.date(2027, 3, 6)
    season = look_at_season(weather(today + dt.timedelta(ahead)))
    flags = made(TARGET, season=season, today=today).flags
    assert any("is still to come, a forecast at best" in flag for flag in flags) == said


def test_a_date_that_may_be_weeks_late_stands_beside_no_dose() -> None:
    """1,350 degree-days are a rough figure; a sum that was asked for gives a date."""
    season = look_at_season(weather(dt.date(2027, 2, 1)))
    assert season.jointing.doubt  # type: ignore[union-attr]
    (dose,) = made(TARGET, season=season).doses
    assert dose.before is None
    assert "roughly before" not in dose.timing
    own = jointing_dates(weather(dt.date(2027, 2, 1)), 1000.0)
    assert not own.doubt  # type: ignore[union-attr]
