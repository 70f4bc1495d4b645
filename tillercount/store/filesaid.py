"""The visit and its day that a file of hand counts names: a season's export, or a sheet with the
columns ``visit`` and ``visit_date``."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.days import day_named, wrong_weekday
from tillercount.hand import HandCount
from tillercount.names import first_few, key_of

__all__ = ["NOTHING_SAID", "FileSaid", "said_by"]


@dataclass(frozen=True)
class FileSaid:
    """What it says: the ``visit``, its ``day`` where that is one, the days as ``written``, and what
    is ``wrong`` with a weekday beside one."""

    visit: str = ""
    day: dt.date | None = None
    written: tuple[str, ...] = ()
    wrong: str = ""

    def notes(self, put_in: str, *, typed: bool) -> list[str]:
        """What to mind: that the day can't be taken from the file, and that the visit in which the
        counts were ``put_in`` unasked ("" if it was named) is another one by its name.

        ``typed``: somebody gave the day.
        """
        said = []
        if self.written and self.day is None and not typed:
            if self.wrong:
                why = f"column visit_date: {self.wrong}"
            elif len(self.written) > 1:
                why = f"column visit_date has several days ({first_few(self.written)})"
            else:
                why = (
                    f"column visit_date {self.written[0]!r} isn't a day that can be read or that "
                    "is gone by"
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
    named = {text: day_named(text, today) for text in written}
    wrong = next(filter(None, (wrong_weekday(text, day) for text, day in named.items() if day)), "")
    days = set(named.values())
    day = days.pop() if len(days) == 1 and not wrong else None
    if day is not None and day > today + dt.timedelta(days=1):
        day = None
    return FileSaid(next(iter(visits), ""), day, written, wrong)
