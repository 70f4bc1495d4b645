"""The day of a visit that something is added to: set where somebody types it, and said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

from sqlalchemy import select, update

from tillercount.errors import InputError
from tillercount.store.acts import Act, find
from tillercount.store.added import Added
from tillercount.store.belonging import has_counts
from tillercount.store.dates import VisitDate, visit_dates
from tillercount.store.tables import farms, fields, visits
from tillercount.store.visits import Where, last_visit, visit_of

__all__ = ["date_visit", "dated"]


def dated(act: Act, where: Where, day: dt.date | None, add: Callable[[], Added]) -> Added:
    """Add something, and give its visit the ``day`` typed; which day holds is said.

    Raises
    ------
    InputError
        As adding does; or no visit is named, and the field's last one has counts of another day.
    """
    before = _last_with_counts(act, where) if day is not None and where.visit is None else None
    added = add()
    if not added.visit:
        return added
    visit, name = visit_of(act.connection, Where(added.farm, added.field, added.visit))
    if day is not None:
        if before is not None and before[0] == visit and added.new:
            known = before[1]
            if not known.first <= day.isoformat() <= known.last:
                raise InputError(
                    f"{added.place} has counts of {known.days} already, and --date is {day}. "
                    "Another visit? Give --visit with a new name. The same? Give "
                    f'--visit "{name}". Nothing was added'
                )
        _set_day(act, visit, day)
    date = _date_of(act, visit)
    if date.how == "added" and not has_counts(act.connection, visit):
        return added  # when a plan was put in isn't when it will be walked
    return replace(added, date=date.known_by)


def date_visit(act: Act, where: Where, day: dt.date) -> str:
    """Give a visit that is there its day; what is known of it then.

    Raises
    ------
    InputError
        No such visit.
    """
    visit, name = visit_of(act.connection, where)
    _set_day(act, visit, day)
    act.tell(f"{where.farm}, {where.field}, {name}: {day}")
    return f"date of {name}: {_date_of(act, visit).known_by}"


def _set_day(act: Act, visit: int, day: dt.date) -> None:
    act.connection.execute(update(visits).where(visits.c.id == visit).values(day=day.isoformat()))


def _date_of(act: Act, visit: int) -> VisitDate:
    field = act.connection.scalar(select(visits.c.field_id).where(visits.c.id == visit))
    return visit_dates(act.connection, field)[visit]


def _last_with_counts(act: Act, where: Where) -> tuple[int, VisitDate] | None:
    """The field's last visit, if it is there and has counts, with its first and last day."""
    farm = find(act.connection, farms, where.farm)
    field = None if farm is None else find(act.connection, fields, where.field, farm_id=farm)
    last = None if field is None else last_visit(act.connection, field)
    if last is None or not has_counts(act.connection, last):
        return None
    return last, visit_dates(act.connection, field)[last]
