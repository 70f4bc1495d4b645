"""The visit and the day that rows of hand counts name: rows of two visits to a field aren't one
stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tillercount.days import day_in_file, days_apart, has_year, is_no_day, wrong_weekday
from tillercount.errors import InputError
from tillercount.names import first_few, in_command, key_of

__all__ = ["LONGEST", "Visits", "day_said", "passed_over", "visit_said"]

LONGEST = 3
"""Days from the first to the last of one visit, a big field being walked on following days: a
convention."""


class Visits:
    """The visits of the rows read so far, by farm and field.

    ``exported``: the file is a season's own export, which can be made anew for one visit.
    ``column`` is the header of the days, ``days`` are all of them as written, for their years.
    """

    def __init__(
        self, *, exported: bool, column: str = "visit_date", days: Sequence[str] = ()
    ) -> None:
        self._exported = exported
        self._column = column
        self._all_days = tuple(dict.fromkeys(days))
        self._days: dict[str, list[str]] = {}
        self._checked: dict[str, bool] = {}
        self._first: dict[str, str] = {}
        self._told = False

    def has(self, where: str, row: Mapping[str, str]) -> bool:
        """Whether a row is of the same visit as those above it; one without a visit and a day is.

        Raises
        ------
        InputError
            It isn't, said once, of the first such row; or its day is none, said once of each.
        """
        if not self._day_can_be(where, row):
            return False
        field = ", ".join(filter(None, (row.get("farm"), row.get("field"))))
        key = " ".join(field.split()).casefold()
        visit, day = visit_said(row), day_said(row)
        first = self._first.setdefault(key, visit) if visit else ""
        named = bool(visit) and key_of(first) != key_of(visit)
        if not named:
            days = self._days.setdefault(key, [])
            if not day or day in days:
                return True
            far = next((one for one in days if days_apart(one, day) > LONGEST), None)
            if far is None:
                days.append(day)
                return True
            visit, first = day, far
        if self._told:
            return False
        self._told = True
        of = f" of {field}" if field else ""
        begin = f"{where}: {visit}{of}, but rows above are of {first}; two visits aren't one stand:"
        if self._exported and named:
            raise InputError(
                f"{begin} export one of them, by adding --field {in_command(row.get('field', ''))} "
                f"--visit {in_command(visit)} to tillercount season export"
            )
        raise InputError(
            f"{begin} judge one at a time. Was it one visit? Then write the same "
            f"{'visit' if named else 'day'} in all rows. Else filter the column "
            f"{'visit' if named else self._column} in the spreadsheet, save the rows of each "
            "visit as a CSV of their own, and give one of these. To keep both and see what "
            "changed, add each to a season: tillercount season add SEASON FILE --visit "
            f"{in_command(visit)} --date DAY"
        )

    def _day_can_be(self, where: str, row: Mapping[str, str]) -> bool:
        """Whether a row's day isn't plainly wrong; what is no day at all isn't looked into."""
        text = day_said(row)
        if not text or text in self._checked:
            return self._checked.get(text, True)
        day = day_in_file(text, self._all_days)
        wrong = wrong_weekday(text, day) if day else ""
        self._checked[text] = not wrong and not is_no_day(text)
        if self._checked[text]:
            return True
        begin = f"{where}, {self._column}: "
        if not wrong:
            raise InputError(
                f"{begin}{text!r} is no day that there is; put it right in every row that has it, "
                "or leave the cell empty"
            )
        year = "" if has_year(text) else ", with its year,"
        raise InputError(
            f"{begin}{wrong}; which is right? Give the day without the weekday{year} in every row "
            "that has it"
        )


def passed_over(texts: Sequence[str]) -> str:
    """Of cells that are no days, in a column that may be of something else called ``date``."""
    cells = first_few([repr(one) for one in texts])
    column = "passed over in the column visit_date or date"
    return f"{column}, as no day gone by that can be read: {cells}"


def visit_said(row: Mapping[str, str]) -> str:
    """The visit that a row names; "" without one."""
    return " ".join(row.get("visit", "").split())


def day_said(row: Mapping[str, str]) -> str:
    """The day of its visit that a row names, as written; "" without one.

    The day on which something was put into a season says nothing of when it was counted.
    """
    return "" if row.get("visit_date_by") == "added" else row.get("visit_date", "")
