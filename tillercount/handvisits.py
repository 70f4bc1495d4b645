"""The visit that rows of hand counts name: rows of two visits to a field aren't one stand."""

from __future__ import annotations

from collections.abc import Mapping

from tillercount.errors import InputError
from tillercount.names import in_command, key_of

__all__ = ["Visits", "day_said", "visit_said"]


class Visits:
    """The visits of the rows read so far, by farm and field.

    ``exported``: the file is a season's own export, which can be made anew for one visit.
    """

    def __init__(self, *, exported: bool) -> None:
        self._exported = exported
        self._first: dict[str, str] = {}
        self._told = False

    def has(self, where: str, row: Mapping[str, str]) -> bool:
        """Whether a row is of the same visit as those above it; one without a visit is.

        Raises
        ------
        InputError
            It isn't; said once, of the first such row.
        """
        visit = visit_said(row)
        if not visit:
            return True
        field = ", ".join(filter(None, (row.get("farm"), row.get("field"))))
        first = self._first.setdefault(" ".join(field.split()).casefold(), visit)
        if key_of(first) == key_of(visit):
            return True
        if self._told:
            return False
        self._told = True
        of = f" of {field}" if field else ""
        begin = f"{where}: {visit}{of}, but rows above are of {first}; two visits aren't one stand:"
        if self._exported:
            raise InputError(
                f"{begin} export one of them, by adding --field {in_command(row.get('field', ''))} "
                f"--visit {in_command(visit)} to tillercount season export"
            )
        raise InputError(
            f"{begin} judge one at a time. Was it one visit? Then write the same visit in all "
            "rows. Else filter the column visit in the spreadsheet, save the rows of each visit as "
            "a CSV of their own, and give one of these. To keep both and see what changed, add "
            "each to a season: tillercount season add SEASON FILE --visit "
            f"{in_command(visit)} --date DAY"
        )


def visit_said(row: Mapping[str, str]) -> str:
    """The visit that a row names; "" without one."""
    return " ".join(row.get("visit", "").split())


def day_said(row: Mapping[str, str]) -> str:
    """The day of its visit that a row names, as written; "" without one.

    The day on which something was put into a season says nothing of when it was counted.
    """
    return "" if row.get("visit_date_by") == "added" else row.get("visit_date", "")
