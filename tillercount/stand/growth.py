"""Growing degree days, and when they bring green-up, first nitrogen and jointing.

Thermal time is counted in degree-Fahrenheit-days above 32 °F (1.8 to the degree-Celsius-day above
0 °C). The floor can be applied in two ways, both in print, that differ by up to 83 % for wheat
(McMaster and Wilhelm 1997), so a sum always names its way, and a date is worked out by both.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from tillercount.stand.weather import Day, Weather

__all__ = [
    "BASE_F",
    "FIRST_N_GDD_F",
    "JOINTING_GDD_F",
    "WAYS",
    "Jointing",
    "NoDate",
    "Way",
    "degree_days",
    "first_nitrogen",
    "green_up",
    "growing_now",
    "jointing_dates",
    "running_sum",
]

BASE_F = 32.0
"""Oregon State EM 8578 and the Kansas State handbook: 0 °C, 32 °F for wheat."""

Way = Literal["floor after averaging", "floor before averaging"]
WAYS: tuple[Way, Way] = ("floor after averaging", "floor before averaging")
"""After: the day's mean, not below the base (Oregon State EM 8578). Before: highest and lowest
are each raised to the base first, then averaged. Both in McMaster and Wilhelm 1997."""

JOINTING_GDD_F = 1350.0
JOINTING_SOURCE = (
    "Maryland state notice 2013: second half of spring nitrogen after Feekes 5-6 or 1,350 growing "
    "degree days; start (1 January) and base (32 °F) are our reading. Jointing can come weeks "
    "earlier (from memory): in 2016 by 6 April in Pickaway County, Ohio (Ohio State University "
    "2017). Go by the stage"
)
"""The notice says from when on the second half may go on, so its sum may come after jointing. Of
the Ohio source an excerpt was read."""
JOINTING_DOUBT = (
    "a figure from Maryland, its start and base our own reading; it can be weeks late: split stems "
    "every week"
)
FIRST_N_GDD_F = (350.0, 400.0)
FIRST_N_SOURCE = (
    "Maryland notice in the press, 2017: 350-400 growing degree days from 1 January, crops can "
    "use first nitrogen (other notices say 1,200, so check this year's)"
)
GREEN_UP_SOURCE = "Michigan State University 2022: 7 straight days of growing degree days"

FEWEST_YEARS = 3
"""Past years that a range of dates needs at least: a convention of our own."""

_LATEST = (7, 31)


def degree_days(day: Day, way: Way, base_f: float = BASE_F) -> float:
    """°F-days of one day."""
    if way == "floor before averaging":
        return (max(day.max_f, base_f) + max(day.min_f, base_f)) / 2.0 - base_f
    return max(0.0, (day.max_f + day.min_f) / 2.0 - base_f)


def running_sum(days: Sequence[Day], way: Way, base_f: float = BASE_F) -> list[float]:
    """°F-days from the first of the days up to each of them."""
    out: list[float] = []
    total = 0.0
    for day in days:
        total += degree_days(day, way, base_f)
        out.append(total)
    return out


def green_up(weather: Weather, year: int) -> dt.date | None:
    """The day that completes the first 7 straight days of growth from 1 January; None if none did.

    By the mean of each day (floor after averaging). Source: `GREEN_UP_SOURCE`.
    """
    run, before = 0, None
    for day in weather.days:
        if day.date.year != year:
            continue
        follows = before is None or day.date - before == dt.timedelta(1)
        grows = degree_days(day, "floor after averaging") > 0
        run = (run if follows else 0) + 1 if grows else 0
        if run == 7:
            return day.date
        before = day.date
    return None


def growing_now(weather: Weather, days: int = 7) -> bool | None:
    """Whether there was any growth in the last days on file; None where they aren't all there."""
    first = weather.last - dt.timedelta(days - 1)
    if not weather.covers(first, weather.last):
        return None
    recent = weather.between(first, weather.last)
    return any(degree_days(day, "floor before averaging") > 0 for day in recent)


@dataclass(frozen=True)
class NoDate:
    """Why no date can be given, and what to do; false in a condition."""

    reason: str
    todo: str
    so_far_f: tuple[float, float] | None = None

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True)
class Jointing:
    """Expected range of dates of jointing.

    Attributes
    ----------
    first, last : date
        Over the past years on file, and both ways of applying the floor.
    middle : date
    years : int
        Past years behind it; 0 where the sum is already reached in this year's own days.
    so_far_f : (float, float)
        °F-days from 1 January to ``today``, by the two ways.
    by_way : tuple of (way, first, last)
    today : date
        Last day on file.
    """

    first: dt.date
    last: dt.date
    middle: dt.date
    years: int
    so_far_f: tuple[float, float]
    by_way: tuple[tuple[Way, dt.date, dt.date], ...]
    today: dt.date
    target_f: float = JOINTING_GDD_F
    source: str = JOINTING_SOURCE

    @property
    def doubt(self) -> str:
        """What the dates hang on; empty where the degree-days were asked for."""
        return JOINTING_DOUBT if self.source == JOINTING_SOURCE else ""

    @property
    def words(self) -> str:
        """The range in one sentence."""
        doubt = "by a rough figure from Maryland, " if self.doubt else ""
        if self.years == 0:
            return (
                f"{doubt}{self.target_f:,.0f} degree-days were reached between {self.first} and "
                f"{self.last}: look for the first node now"
            )
        return (
            f"{doubt}jointing between {self.first} and {self.last}"
            f"{' or weeks sooner' if doubt else ''}, the middle of the years "
            f"{self.middle} ({self.years} past years, floor applied both ways)"
        )


def jointing_dates(weather: Weather, target_f: float = JOINTING_GDD_F) -> Jointing | NoDate:
    """When ``target_f`` °F-days from 1 January are reached.

    This year's days are summed to the last one on file; each past year on file then says how the
    rest may go, so the spread is that of the years and of the two ways of applying the floor. A
    crop's own variety, sowing date and day length are not in it.
    """
    today = weather.last
    start = dt.date(today.year, 1, 1)
    if not weather.covers(start, today):
        return NoDate(
            f"{weather.source} doesn't hold every day from {start} to {today}",
            "add the missing days",
        )
    own = weather.between(start, today)
    dates: list[dt.date] = []
    by_way: list[tuple[Way, dt.date, dt.date]] = []
    so_far: list[float] = []
    years = 0
    for way in WAYS:
        sums = running_sum(own, way)
        so_far.append(sums[-1])
        reached = next((d.date for d, s in zip(own, sums, strict=True) if s >= target_f), None)
        found = [reached] if reached else _by_past_years(weather, today, target_f - sums[-1], way)
        if not reached:
            if len(found) < FEWEST_YEARS:
                return _too_few(weather, today, own, sums, target_f, len(found))
            years = max(years, len(found))
        dates.extend(found)
        by_way.append((way, min(found), max(found)))
    dates.sort()
    return Jointing(
        dates[0],
        dates[-1],
        dates[len(dates) // 2],
        years,
        (min(so_far), max(so_far)),
        tuple(by_way),
        today,
        target_f,
        JOINTING_SOURCE if target_f == JOINTING_GDD_F else "the degree-days that were asked for",
    )


def _by_past_years(weather: Weather, today: dt.date, left_f: float, way: Way) -> list[dt.date]:
    """For each past year on file: the date in this year at which the rest would be made."""
    out = []
    for year in sorted({day.date.year for day in weather.days if day.date.year < today.year}):
        leap_day = (today.month, today.day) == (2, 29)
        begin = dt.date(year, 2, 28) if leap_day else today.replace(year=year)
        begin += dt.timedelta(1)
        rest = [d for d in weather.days if begin <= d.date <= dt.date(year, *_LATEST)]
        sums = running_sum(rest, way)
        for number, (day, total) in enumerate(zip(rest, sums, strict=True)):
            if day.date != begin + dt.timedelta(number):
                break  # a gap: this year can't say
            if total >= left_f:
                out.append(today + dt.timedelta(number + 1))
                break
    return out


def _too_few(
    weather: Weather,
    today: dt.date,
    own: Sequence[Day],
    sums: Sequence[float],
    target_f: float,
    found: int,
) -> NoDate:
    pace = (sums[-1] - (sums[-15] if len(sums) > 14 else 0.0)) / min(14, len(sums))
    ahead = (
        f"at the pace of the last two weeks {(target_f - sums[-1]) / pace:.0f} days, and sooner "
        "as days get warmer"
        if pace > 0
        else "and no growth at all in the last two weeks"
    )
    both = [running_sum(own, way)[-1] for way in WAYS]
    return NoDate(
        f"{min(both):,.0f}-{max(both):,.0f} of {target_f:,.0f} degree-days so far ({today}), "
        f"{ahead}; but {found} past years on file can't say how the spring may go",
        f"add the days of at least {FEWEST_YEARS} past years to {weather.source}",
        (min(both), max(both)),
    )


def first_nitrogen(weather: Weather, year: int) -> tuple[dt.date | None, dt.date | None] | NoDate:
    """First dates at which 350 and 400 °F-days from 1 January were passed (`FIRST_N_SOURCE`).

    The earlier by the way that counts more, the later by the one that counts less; None where not
    reached yet.
    """
    start = dt.date(year, 1, 1)
    last = min(weather.last, dt.date(year, *_LATEST))
    if last < start or not weather.covers(start, last):
        return NoDate(f"{weather.source} has gaps after {start}", "add the missing days")
    days = weather.between(start, last)
    after, before = WAYS
    early, late = (
        next(
            (d.date for d, s in zip(days, running_sum(days, way), strict=True) if s >= least),
            None,
        )
        for way, least in ((before, FIRST_N_GDD_F[0]), (after, FIRST_N_GDD_F[1]))
    )
    return early, late
