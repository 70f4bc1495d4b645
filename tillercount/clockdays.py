"""Days that photos' clocks say: which of them can be of one visit."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Collection, Iterable

from tillercount.handvisits import LONGEST

__all__ = ["days_of", "same_clocks", "walks"]

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
    """Days parted where more than `LONGEST` days lie between one and the next, the first first."""
    parts: list[set[dt.date]] = []
    before: dt.date | None = None
    for day in sorted(days):
        if before is None or (day - before).days > LONGEST:
            parts.append(set())
        parts[-1].add(day)
        before = day
    return parts
