"""Which year a day without one is of, like a visit called "1 April", by what else is known; and
names that look like a day but are none, or may be two."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from tillercount.days import day_named, has_year, odd_day, wrong_weekday
from tillercount.errors import InputError

__all__ = ["PLANNED_AHEAD", "ZONES_AHEAD", "may_be", "refuse_odd_day"]

PLANNED_AHEAD = 182
"""A plan for "4 March", put in in December, is for the next one, and one put in in April was for
the last: of the days that may be meant, the nearer. So many days ahead is half a year."""
ZONES_AHEAD = 1
"""Where counts were made it may be tomorrow already, by the clock of the computer they are on."""
SOON = 45
"""Days: where counts are put in so shortly before or after such a day, the one a year before isn't
simply taken; a visit that was planned for the day was probably walked earlier. A convention."""


def may_be(
    text: str,
    put_in: dt.date,
    known: Collection[dt.date] = (),
    doubtful: Collection[dt.date] = (),
) -> set[dt.date]:
    """The days that a text may mean, of counts that were ``put_in`` on a day; one where it is told,
    none where the text is no day.

    Parameters
    ----------
    text : str
    put_in : date
    known : collection of date
        When else something was counted: the year that lies nearest to these days is meant.
    doubtful : collection of date
        Likewise, but nobody knows whether these are right: they raise a question, no more.
    """
    latest = day_named(text, put_in, ZONES_AHEAD)
    if latest is None or has_year(text):
        return set() if latest is None else {latest}
    gone, to_come = _near(text, known, put_in)
    following = day_named(text, put_in, 366)
    soon = following is not None and 0 < (following - put_in).days - ZONES_AHEAD <= SOON
    if gone and not to_come:
        # so soon after such a day it may be this one, though all that is known is a year older
        return {max(gone), *([latest] if (put_in - latest).days <= SOON else [])}
    days = {latest, *([max(gone)] if gone else _near(text, doubtful, put_in)[0])}
    return {*days, following} if soon and following is not None else days


def _near(
    text: str, known: Collection[dt.date], put_in: dt.date
) -> tuple[set[dt.date], set[dt.date]]:
    """Such days within half a year of those known: gone by, and to come."""
    found = {day for one in known if (day := day_named(text, one, PLANNED_AHEAD)) is not None}
    gone = {day for day in found if (day - put_in).days <= ZONES_AHEAD}
    return gone, found - gone


def refuse_odd_day(name: str, meant: Collection[dt.date] = ()) -> None:
    """Nothing, unless a new visit's name is written as a day but isn't one, may be two, or is one
    in figures without its year; or names a weekday that none of the days has that are ``meant``.

    Raises
    ------
    InputError
        It is.
    """
    if why := odd_day(name, dt.date.today()):
        raise InputError(
            f"--visit {why}. Write that day as {dt.date.today()} is written, or give --date DAY as "
            "well. Nothing of this was added"
        )
    wrong = [wrong_weekday(name, day) for day in sorted(meant)]
    if wrong and all(wrong):
        year = "" if has_year(name) else ", with its year"
        raise InputError(
            f"--visit {wrong[-1]}; which is right? Give the day without the weekday{year}, or "
            "--date DAY as well. Nothing of this was added"
        )
