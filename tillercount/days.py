"""Days as people type them: ISO 8601, with the month's name, or in figures where only one reading
is a day: 3/18/2026 is 18 March, but 3/4/2026 is March in one country and April in another."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Collection

from tillercount.errors import InputError
from tillercount.monthnames import ALSO_WORDS, month_named

__all__ = [
    "day_in_file", "day_named", "day_typed", "days_apart", "has_year", "is_no_day", "odd_day",
    "or_text", "two_days", "without_year", "wrong_weekday",
]  # fmt: skip

_DAY = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?"
_MONTH = r"(?P<month>[^\W\d_]{3,10})\.?"
_YEAR = r"(?:,?\s+(?P<year>(?:19|20)\d\d))?"
_WEEKDAY = (
    r"(?:(?P<weekday>mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\.?,?\s+)?"
)
_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_NEAR = dt.timedelta(days=7)
"""So far from what clocks say may the day lie that a year is taken from them: a convention."""
_FIGURES = re.compile(r"(\d{1,2})[/.-](\d{1,2})[/.-]((?:19|20)?\d\d)")
"""Month and day in either order, then the year."""
_TWO_FIGURES = re.compile(r"(\d{1,2})(?:/|\.(?=\d+\.$))(\d{1,2})\.?")
"""The same without the year: 3/4, or 3.4. with its second point. 3-4 and 3.4 are other things."""
_ISO_DAY = re.compile(r"(19|20)\d\d-\d\d-\d\d")
_YEAR_FIRST = re.compile(r"((?:19|20)\d\d)[/.-](\d{1,2})[/.-](\d{1,2})")
_TIME = re.compile(r"[t ]\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?(?: ?[ap]\.?m\.?|z|[+-]\d\d:?\d\d)?$")
"""Of the day, behind it."""
_ISO = re.compile(r"((?:19|20)\d\d-\d\d-\d\d)(?:[t ]\d\d:\d\d.*)?")
_YEARS_BACK = 30
_SHEET = rf"(?P<day>\d{{1,2}})[-/]{_MONTH}(?:[-/](?P<year>(?:19|20)?\d\d))?"
"""What a spreadsheet makes of a day that was typed: 4-Mar, 4-Mar-26."""
_WRITTEN = (
    *(
        re.compile(_WEEKDAY + one + _YEAR)
        for one in (rf"{_DAY}\.?\s*(?:of\s+)?{_MONTH}", rf"{_MONTH}\s*{_DAY}")
    ),
    re.compile(_WEEKDAY + _SHEET),
)


def day_named(
    text: str, today: dt.date, ahead: int = 0, near: Collection[dt.date] = ()
) -> dt.date | None:
    """The day that a whole text plainly is, like ``4 March`` or ``March 4, 2026``; else None.

    Without a year the one that is within a week of one of the days ``near``, which clocks say;
    else the latest such day that is at most ``ahead`` days after ``today`` is taken; none that
    lies more than a year before (29 February, mostly), since that is a slip of the finger.
    A weekday that doesn't go with it is passed over; see `wrong_weekday`.
    """
    plain = _plain(text)
    if _ISO_DAY.fullmatch(plain):
        return _iso(plain)
    if _FIGURES.fullmatch(plain):
        readings = _readings(plain)
        return readings.popitem()[1] if len(set(readings.values())) == 1 else None
    written = _written(plain)
    if written is None:
        return None
    found, month = written
    if found["year"]:
        return _date(_year(found), month, int(found["day"]))
    last = today + dt.timedelta(days=ahead)
    years = {one.year + more for one in near for more in (-1, 0, 1)}
    those = [_date(year, month, int(found["day"])) for year in years]
    off = [(min(abs(day - one) for one in near), day) for day in those if day is not None]
    best = min((one for one in off if one[1] <= last), default=None)
    if best is not None and best[0] <= _NEAR:
        return best[1]
    days = (_date(last.year - back, month, int(found["day"])) for back in range(2))
    return next((day for day in days if day is not None and day <= last), None)


def has_year(text: str) -> bool:
    """Whether a day as typed says its year."""
    plain = _plain(text)
    written = _written(plain)
    if _FIGURES.fullmatch(plain) or (written and written[0]["year"]):
        return True
    return re.search(r"(19|20)\d\d", text) is not None


def wrong_weekday(text: str, day: dt.date) -> str:
    """Half a sentence where a text that is the ``day`` names another weekday; else ""."""
    written = _written(_plain(text))
    said = written[0]["weekday"] if written else None
    right = _WEEKDAYS[day.weekday()]
    if said is None or right.casefold().startswith(said):
        return ""
    named = next(one for one in _WEEKDAYS if one.casefold().startswith(said))
    return f"{text.strip()!r} says {named}, but {day} is a {right}"


def is_no_day(text: str) -> bool:
    """Whether a text is written as a day that there isn't, like ``30 February``."""
    plain = _plain(text)
    if _ISO_DAY.fullmatch(plain):
        return _iso(plain) is None
    if figures := _FIGURES.fullmatch(plain):
        return len(figures[3]) == 4 and not _readings(plain)  # 10.45.30 may be a time
    written = _written(plain)
    if written is None:
        return False
    found, month = written
    year = _year(found) if found["year"] else 2024  # a leap year
    return _date(year, month, int(found["day"])) is None


def two_days(text: str) -> tuple[dt.date, ...]:
    """Both days that figures like ``3/4/2026`` may be meant for; () where there is only one."""
    days = sorted(set(_readings(_plain(text)).values()))
    return tuple(days) if len(days) > 1 else ()


def without_year(text: str, today: dt.date) -> tuple[dt.date, ...] | None:
    """The days that figures without a year, like ``3/4``, may be meant for, each the last one up to
    ``today``; () where there is no such day, None where a text isn't written so."""
    found = _TWO_FIGURES.fullmatch(" ".join(text.split()))
    first, second = sorted(int(part) for part in found.groups()) if found else (0, 0)
    if not (1 <= first <= 12 and second <= 31):
        return None  # no month and day in any order: two numbers
    years = range(today.year, today.year - 9, -1)  # one of nine is a leap year, 1900 or not
    last = (
        next((day for year in years if (day := _date(year, *both)) and day <= today), None)
        for both in ((first, second), (second, first))
    )
    return tuple(sorted({day for day in last if day is not None}))


def odd_day(text: str, today: dt.date) -> str:
    """Half a sentence where a text is written as a day but is none, may be two, or is one in
    figures without its year; else ""."""
    days = two_days(text) or without_year(text, today)
    if days:
        why = f"it may be {or_text(days)}" if len(days) > 1 else f"it has no year ({days[0]}?)"
    elif days is not None or is_no_day(text):
        why = "there is no such day"
    else:
        return ""
    return f"{text.strip()!r} looks like a day, but {why}"


def or_text(days: Collection[dt.date]) -> str:
    """Days for a question, the first first."""
    return " or ".join(map(str, sorted(days)))


def day_in_file(text: str, beside: Collection[str] = ()) -> dt.date | None:
    """As `day_named`, of a day gone by in a file; the days ``beside`` it that have their year help
    where it has none, and those that only one order of day and month makes days where it is one of
    figures: with 3/18/2026 in a column, 3/4/2026 is 4 March."""
    today = dt.date.today()
    readings = _readings(_plain(text))
    if len(readings) > 1:
        orders = {next(iter(one)) for day in beside if len(one := _readings(_plain(day))) == 1}
        if len(orders) == 1:
            return readings[orders.pop()]
    near = [day for one in beside if has_year(one) and (day := day_named(one, today))]
    return day_named(text, today, 1, near)


def days_apart(one: str, other: str) -> int:
    """How many days lie between two days as written, at the least: in the nearest years where one
    has none, and by the nearer reading of ``3/4/2026``. 0 where one is none."""
    pairs = ((a, b) for a in _may_be(one) for b in _may_be(other))
    return min((abs(a - b).days for a, b in pairs), default=0)


def _may_be(text: str) -> set[dt.date]:
    """The days that a text can be meant for."""
    plain = _plain(text)
    if found := _ISO.fullmatch(plain):
        days = [_iso(found[1])]
    elif figures := _FIGURES.fullmatch(plain):
        days = list(_orders(figures).values())
    elif written := _written(plain):
        named, month = written
        until, year = dt.date.today().year + 1, named["year"]
        years = [_year(named)] if year else range(until - _YEARS_BACK, until + 1)
        days = [_date(one, month, int(named["day"])) for one in years]
    else:
        days = []
    return {day for day in days if day is not None}


def _readings(plain: str) -> dict[str, dt.date]:
    """The days that figures can be, by which comes first; none where they are no such day.

    ``18/3/26`` may have its year first, so only a year of four figures goes behind such a day.
    """
    found = _FIGURES.fullmatch(plain)
    if found is None or (len(found[3]) == 2 and int(found[1]) > 12):
        return {}
    return _orders(found)


def _orders(figures: re.Match[str]) -> dict[str, dt.date]:
    """The same with the year behind, whatever its length: enough to tell two days apart."""
    first, second, year = (int(part) for part in figures.groups())
    year += 2000 if year < 100 else 0
    both = {"month": _date(year, first, second), "day": _date(year, second, first)}
    return {order: day for order, day in both.items() if day is not None}


def day_typed(
    text: str,
    today: dt.date,
    ahead: int = 0,
    *,
    what: str = "date",
    near: Collection[dt.date] = (),
) -> dt.date:
    """As `day_named`, of a text that must be a day.

    Raises
    ------
    InputError
        It is none, can't be read without guessing, or isn't the weekday that is named with it.
    """
    day = day_named(text, today, ahead, near)
    if day is None:
        why = odd_day(text, today) or f"{text!r} can't be read"
        raise InputError(
            f"{what} {why}; write it like {today.isoformat()} or "
            f'"{today.day} {today:%B} {today.year}"'
        )
    if wrong := wrong_weekday(text, day):
        year = "" if has_year(text) else ", with its year"
        raise InputError(f"{what} {wrong}; which is right? Give the day without the weekday{year}")
    return day


def _plain(text: str) -> str:
    """Small letters, without the time of the day, and a year that stands first as in ISO 8601."""
    whole = unicodedata.normalize("NFC", " ".join(text.split()).casefold())  # ä as one letter
    day = _TIME.sub("", whole)
    if found := _YEAR_FIRST.fullmatch(day):
        return f"{found[1]}-{int(found[2]):02d}-{int(found[3]):02d}"
    return day


def _year(found: re.Match[str]) -> int:
    year = int(found["year"])
    return year if year > 99 else 2000 + year


def _written(plain: str) -> tuple[re.Match[str], int] | None:
    """A day written with its month's name, and that month; no text is both of `_WRITTEN`."""
    found = next((found for one in _WRITTEN if (found := one.fullmatch(plain))), None)
    if found is None or found["month"] in ALSO_WORDS:
        return None
    month = month_named(found["month"])
    return (found, month) if month else None


def _iso(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None
