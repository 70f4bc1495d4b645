"""The visit and its day that a file of hand counts names: a season's export, or a sheet with the
columns ``visit`` and ``visit_date`` (or ``date``)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.days import day_in_file, wrong_weekday
from tillercount.hand import HandCount
from tillercount.handvisits import passed_over
from tillercount.names import first_few, key_of

__all__ = ["NOTHING_SAID", "FileSaid", "said_by"]


@dataclass(frozen=True)
class FileSaid:
    """What it says: the ``visit``, its ``day`` where that is one, the days as ``written``, what
    is ``wrong`` with a weekday beside one, and which of them are ``no_days``. ``sole``: no row
    names another visit, as those of other fields may."""

    visit: str = ""
    day: dt.date | None = None
    written: tuple[str, ...] = ()
    wrong: str = ""
    no_days: tuple[str, ...] = ()
    sole: bool = False

    def notes(self, put_in: str, *, typed: bool) -> list[str]:
        """What to mind: that the day can't be taken from the file, and that the visit in which the
        counts were ``put_in`` unasked ("" if it was named) is another one by its name.

        ``typed``: somebody gave the day.
        """
        said = []
        if self.written and self.day is None and not typed:
            if self.wrong:
                why = f"the day in the file: {self.wrong}"
            elif len(self.written) > len(self.no_days) + 1:
                days = [one for one in self.written if one not in self.no_days]
                why = f"the column visit_date or date has several days ({first_few(days)})"
            else:
                why = passed_over(self.no_days or self.written)
            said.append(f"MIND: {why}; give --date DAY")
        elif self.no_days and not typed:
            said.append(f"MIND: {passed_over(self.no_days)}")
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
    named = {text: day_in_file(text, written) for text in written}
    wrong = next(filter(None, (wrong_weekday(text, day) for text, day in named.items() if day)), "")
    no_days = tuple(text for text, day in named.items() if day is None)
    days = {day for day in named.values() if day}
    day = days.pop() if len(days) == 1 and not wrong else None
    if day is not None and day > today + dt.timedelta(days=1):
        day = None
    sole = len({key_of(visit) for visit in visits}) == 1
    return FileSaid(next(iter(visits), ""), day, written, wrong, no_days, sole)
