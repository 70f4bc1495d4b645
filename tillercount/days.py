"""Days as people type them: ISO 8601, or with the month's name. A day of figures alone other than
ISO isn't read: 3/4 is March in one country and April in another."""

from __future__ import annotations

import datetime as dt
import re

from tillercount.errors import InputError

__all__ = ["day_named", "day_typed"]

_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_DAY = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?"
_MONTH = r"(?P<month>[a-z]{3,9})\.?"
_YEAR = r"(?:,?\s+(?P<year>(?:19|20)\d\d))?"
_WEEKDAY = r"(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?\.?,?\s+)?"
_WRITTEN = tuple(
    re.compile(_WEEKDAY + one + _YEAR)
    for one in (rf"{_DAY}\.?\s*(?:of\s+)?{_MONTH}", rf"{_MONTH}\s*{_DAY}")
)


def day_named(text: str, today: dt.date, ahead: int = 0) -> dt.date | None:
    """The day that a whole text plainly is, like ``4 March`` or ``March 4, 2026``; else None.

    Without a year the latest such day that is at most ``ahead`` days after ``today`` is taken; none
    that lies more than a year before (29 February, mostly), since that is a slip of the finger.
    """
    plain = " ".join(text.split()).casefold()
    if re.fullmatch(r"(19|20)\d\d-\d\d-\d\d", plain):
        try:
            return dt.date.fromisoformat(plain)
        except ValueError:
            return None
    for pattern in _WRITTEN:
        found = pattern.fullmatch(plain)
        if found is None:
            continue
        month = _month(found["month"])
        if month is None:
            continue
        if found["year"]:
            return _date(int(found["year"]), month, int(found["day"]))
        last = today + dt.timedelta(days=ahead)
        days = (_date(last.year - back, month, int(found["day"])) for back in range(2))
        return next((day for day in days if day is not None and day <= last), None)
    return None


def day_typed(text: str, today: dt.date, ahead: int = 0, *, what: str = "date") -> dt.date:
    """As `day_named`, of a text that must be a day.

    Raises
    ------
    InputError
        It is none, or can't be read without guessing.
    """
    day = day_named(text, today, ahead)
    if day is None:
        raise InputError(
            f"{what} {text!r} can't be read; write it like {today.isoformat()} or "
            f'"{today.day} {_MONTHS[today.month - 1].capitalize()} {today.year}"'
        )
    return day


def _month(text: str) -> int | None:
    short = "sep" if text == "sept" else text
    for number, name in enumerate(_MONTHS, start=1):
        if short in (name, name[:3]):
            return number
    return None


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None
