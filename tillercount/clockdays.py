"""Days that photos' clocks say: which of them can be of one visit."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Collection, Iterable

from tillercount.handvisits import LONGEST

__all__ = ["beyond", "chains", "days_of", "same_clocks", "walks"]

_AHEAD = 1
"""Where photos were taken it may be tomorrow already."""
_OLD = 366
"""Days after which 1 January is rather that of a clock that was never set."""


def days_of(texts: Iterable[str | None]) -> set[dt.date]:
    """The days that times (ISO 8601) say; a text that is none says nothing."""
    days = set()
    for text in texts:
        with contextlib.suppress(ValueError):
            days.add(dt.date.fromisoformat((text or "")[:10]))
    return days


def same_clocks(days: Collection[dt.date]) -> list[set[dt.date]]:
    """Days that can be held against each other, apart: those gone by, and those to come.

    A clock that is ahead still tells how far apart its own days are. One that was never set (it
    says 1 January of a year long past, over and over) tells nothing.
    """
    today = dt.date.today()
    set_at_all = {
        day for day in days if (day.month, day.day) != (1, 1) or (today - day).days <= _OLD
    }
    to_come = {day for day in set_at_all if (day - today).days > _AHEAD}
    return [one for one in (set_at_all - to_come, to_come) if one]


def walks(days: Collection[dt.date]) -> list[set[dt.date]]:
    """Days parted into visits, the first first: each spans `LONGEST` days at most.

    They are parted where most days lie between one and the next; of gaps alike at the last one
    before which there is no more than one visit.
    """
    there = sorted(days)
    if not there:
        return []
    if (there[-1] - there[0]).days <= LONGEST:
        return [set(there)]

    def gap(at: int) -> tuple[dt.timedelta, bool, int]:
        before = there[at - 1]
        return there[at] - before, (before - there[0]).days <= LONGEST, at

    cut = max(range(1, len(there)), key=gap)
    return [*walks(there[:cut]), *walks(there[cut:])]


def beyond(known: Collection[dt.date], new: Collection[dt.date]) -> set[dt.date]:
    """Those of the ``new`` days that can't be of a visit of which days are ``known``: with them it
    would span more than `LONGEST` days; the nearest are taken first.

    What somebody put together stays so, however long: what lies within it is of it. Days that lie
    apart (one that was typed beside those of a wrong clock) are the visit's all the same.
    """
    ends = [(min(one), max(one)) for one in chains(known)]
    off = set()
    for day in sorted(new, key=lambda one: (min(_outside(one, *end) for end in ends), one)):
        fits = [(min(first, day), max(last, day)) for first, last in ends]
        within = [
            at
            for at, (first, last) in enumerate(fits)
            if (first, last) == ends[at] or (last - first).days <= LONGEST
        ]
        if within:
            ends[within[0]] = fits[within[0]]
        else:
            off.add(day)
    return off


def _outside(day: dt.date, first: dt.date, last: dt.date) -> int:
    """How many days a day lies before the first or after the last one."""
    return max((first - day).days, (day - last).days, 0)


def chains(days: Collection[dt.date]) -> list[set[dt.date]]:
    """Days parted where more than `LONGEST` days lie between one and the next, the first first."""
    parts: list[set[dt.date]] = []
    before: dt.date | None = None
    for day in sorted(days):
        if before is None or (day - before).days > LONGEST:
            parts.append(set())
        parts[-1].add(day)
        before = day
    return parts
