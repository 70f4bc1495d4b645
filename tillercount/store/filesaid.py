"""The visit and its day that a file of hand counts names: a season's export, or a sheet with the
columns ``visit`` and ``visit_date``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.days import day_named
from tillercount.hand import HandCount
from tillercount.names import first_few, key_of

__all__ = ["NOTHING_SAID", "FileSaid", "said_by"]


@dataclass(frozen=True)
class FileSaid:
    """What it says: the ``visit``, its ``day`` where that is one, and the days as ``written``."""

    visit: str = ""
    day: dt.date | None = None
    written: tuple[str, ...] = ()

    def notes(self, put_in: str, *, typed: bool) -> list[str]:
        """What to mind: that the day can't be taken from the file, and that the visit in which the
        counts were ``put_in`` unasked ("" if it was named) is another one by its name.

        ``typed``: somebody gave the day.
        """
        said = []
        if self.written and self.day is None and not typed:
            why = (
                f"column visit_date {self.written[0]!r} isn't a day that can be read or that is "
                "gone by"
                if len(self.written) == 1
                else f"column visit_date has several days ({first_few(self.written)})"
            )
            said.append(f"MIND: {why}; give --date DAY")
        if self.visit and put_in and key_of(self.visit) != key_of(put_in):
            said.append(
                f"MIND: the file's column visit says {self.visit}, and its counts were added to "
                f"{put_in}; another visit? Take them out and add them again with --visit NAME"
            )
        return said


NOTHING_SAID = FileSaid()


def said_by(counts: Sequence[HandCount]) -> FileSaid:
    """What hand counts say of their visit, as they were read."""
    visits = dict.fromkeys(count.visit for count in counts if count.visit)
    written = tuple(dict.fromkeys(count.visit_date for count in counts if count.visit_date))
    today = dt.date.today()
    days = {day_named(text, today) for text in written}
    day = days.pop() if len(days) == 1 else None
    if day is not None and day > today + dt.timedelta(days=1):
        day = None
    return FileSaid(next(iter(visits), ""), day, written)
