"""The day of a visit that something is added to: set where somebody types it, and said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace

from sqlalchemy import Connection, select, update

from tillercount.days import day_named, day_typed, days_apart, or_text
from tillercount.errors import InputError
from tillercount.handvisits import LONGEST
from tillercount.names import in_command, key_of
from tillercount.store.acts import Act
from tillercount.store.added import Added
from tillercount.store.dates import VisitDate, days_meant, in_order, put_before, visit_dates
from tillercount.store.filesaid import NOTHING_SAID, FileSaid
from tillercount.store.inuse import has_counts
from tillercount.store.tables import days, visits
from tillercount.store.visits import Where, field_of_visit, field_there, there, visit_of
from tillercount.store.whichyear import PLANNED_AHEAD, ZONES_AHEAD, may_be, refuse_odd_day

__all__ = [
    "check_day",
    "date_visit",
    "dated",
    "day_given",
    "days_by",
    "give_day",
    "named_by_file",
    "take_back_days",
]

_WHICH = (
    "--date: which visit is meant isn't clear; give --visit NAME as well. Nothing of this was added"
)


def day_given(
    text: str | None, *, planned: bool, near: Collection[dt.date] = ()
) -> dt.date | None:
    """The visit's day as typed; counts can't be of a day to come, a plan can (``planned``).

    Without a year it is that of a day ``near``, which clocks of photos say; else the last one,
    unless that lies most of a year back.

    Raises
    ------
    InputError
        No day, one to come, or one whose year can't be told.
    """
    if text is None:
        return None
    today = dt.date.today()
    ahead = PLANNED_AHEAD if planned else ZONES_AHEAD
    day = day_typed(text, today, ahead, what="--date", near=near)
    by_clocks = day != day_named(text, today, ahead)
    # a clock that is years behind is why a day is typed
    clocks = [one for one in near if abs(today - one).days <= 366]
    meant = {day} | may_be(text, today, clocks)
    if len(meant) > 1 and not planned and not by_clocks:
        raise InputError(
            f"--date {text!r} may be {or_text(meant)}, and nothing says which; give its year too"
        )
    if not planned and day > today + dt.timedelta(days=ahead):
        raise InputError(f"--date {text!r} is {day}, which is to come; counts are of a day gone by")
    return day


def dated(
    act: Act,
    where: Where,
    day: dt.date | None,
    add: Callable[[], Added],
    said: FileSaid = NOTHING_SAID,
) -> Added:
    """Add something, and give its visit the ``day`` typed; which day holds is said.

    Without one what the file itself ``said`` goes before when it was put in and before the name of
    the visit, but not before what somebody typed or photos tell. Of a file that is added again it
    goes before when it was put in: its days were put right.

    Raises
    ------
    InputError
        As adding does; or no visit is named, and the field's last one has counts of another day,
        or all that was given is in several others already.
    """
    by = "--date" if day is not None else "the file's visit_date"
    meant = said.day if day is None else day
    ask = (meant is not None or said.no_days) and where.visit is None
    before = _last_with_counts(act.connection, where) if ask else None
    until_now = _dates_of(act.connection, where) if meant is not None else {}
    added = add()
    if not added.visit:
        return added
    visit, name = visit_of(act.connection, Where(added.farm, added.field, added.visit))
    was, noted = "", list[str]()
    if added.new:
        noted += said.notes(name if where.visit is None else "", typed=day is not None)
    if before is not None and before[0] == visit and added.new:
        if meant is not None:
            _refuse_other_day(added.place, name, before[1], meant, by)
        else:
            _refuse_far_day(added.place, name, before[1], said.no_days)
    known = until_now.get(visit)
    undated = known is not None and known.how == "added"
    if day is None and meant is not None and (added.new or undated):
        by_name = known is not None and known.how == "name" and known.days != meant.isoformat()
        if known is None or by_name or known.how == "added":
            day, was = meant, ", by the file's visit_date"
        elif not known.first <= meant.isoformat() <= known.last:
            noted.append(
                f"MIND: the file's visit_date is {meant}, but {name} is of {known.known_by}; "
                "another visit? Take it out and add it again with --visit and a new name. Is that "
                "day wrong? Add it again with --date DAY"
            )
    elif day is not None and added.away and where.visit is None:
        raise InputError(_WHICH)
    if day is not None:
        was += _set_day(act, visit, day, until_now.get(visit))
    added = replace(added, dated=str(day or ""), notes=(*added.notes, *noted))
    dates = visit_dates(act.connection, field_of_visit(act.connection, visit))
    date = dates[visit]
    if date.how in ("added", "name") and added.made and where.visit is not None:
        said_day = {dt.date.fromisoformat(date.first)} if date.how == "name" else set[dt.date]()
        field = field_of_visit(act.connection, visit)
        refuse_odd_day(name, said_day or days_meant(act.connection, name, field))
    if date.how == "added" and not has_counts(act.connection, visit):
        return added  # when a plan was put in isn't when it will be walked
    notes = _said_of_order(act, dates, visit) if added.made or day is not None else ()
    return replace(added, date=f"{date.known_by}{was}", notes=(*added.notes, *notes))


def named_by_file(connection: Connection, where: Where, said: FileSaid) -> Where:
    """The same place; where no visit is named and the field has none yet, with that of the file."""
    first = where.visit is None and said.sole and not _dates_of(connection, where)
    return replace(where, visit=said.visit) if first else where


def check_day(connection: Connection, where: Where, day: dt.date | None) -> None:
    """Before anything is counted for it: that the ``day`` typed can be that of the visit meant.

    Raises
    ------
    InputError
        No visit is named, and the field's last one has counts of another day.
    """
    before = _last_with_counts(connection, where) if day and where.visit is None else None
    if before is not None and day is not None:
        at = there(connection, before[0])
        _refuse_other_day(at.text, at.visit, before[1], day, "--date")


def _refuse_other_day(place: str, name: str, known: VisitDate, day: dt.date, by: str) -> None:
    if not known.first <= day.isoformat() <= known.last:
        raise _another_day(place, name, known, f"{by} is {day}")


def _refuse_far_day(place: str, name: str, known: VisitDate, written: Iterable[str]) -> None:
    """A day that can't be told for sure may be another visit's in each of its readings."""
    ends = known.first, known.last
    longest = max(LONGEST, days_apart(*ends))
    far = (one for one in written if max(days_apart(one, end) for end in ends) > longest)
    text = next(far, None)
    if text is not None and known.how != "added":
        raise _another_day(
            place, name, known, f"the file's {text!r} is another day, whichever way it is read"
        )


def _another_day(place: str, name: str, known: VisitDate, but: str) -> InputError:
    return InputError(
        f"{place} has counts of {known.days} already, and {but}. Another visit? Give "
        f"--visit with a new name. The same? Give --visit {in_command(name)}. Nothing of this "
        "was added"
    )


def date_visit(act: Act, where: Where, day: dt.date, known: Iterable[tuple[str, str]] = ()) -> str:
    """Give a visit that is there its day; what is known of it then, and how to take it back.

    Parameters
    ----------
    act, where, day
    known : iterable of (field, visit)
        Where no visit is named: where that lies which was given with the day.

    Raises
    ------
    InputError
        No such visit; none is named, and what was given is in several, or in other fields.
    """
    if where.visit is None:
        here = {visit for field, visit in known if key_of(field) == key_of(where.field)}
        if len(here) != 1:
            raise InputError(_WHICH)
        where = replace(where, visit=here.pop())
    visit, name = visit_of(act.connection, where)
    was = _set_day(act, visit, day, _dates_of(act.connection, where)[visit])
    act.tell(f"{where.farm}, {where.field}, {name}: {day}")
    dates = visit_dates(act.connection, field_of_visit(act.connection, visit))
    lines = (
        f"date of {name}: {dates[visit].known_by}{was}",
        *_said_of_order(act, dates, visit),
        "a slip? To take the day back: tillercount season remove "
        f"{in_command(act.place)} --add {act.id}",
    )
    return "\n".join(lines)


def _set_day(act: Act, visit: int, day: dt.date, before: VisitDate | None) -> str:
    """Set it; which other day was known ``before``, "" where none: when counts were put in says
    nothing."""
    give_day(act, visit, day.isoformat())
    known = before is not None and before.how != "added" and before.days != day.isoformat()
    return f"; until now {before.days}" if before is not None and known else ""


def give_day(act: Act, visit: int, day: str) -> None:
    """Give a visit a day (ISO 8601), so that taking back what was given since returns to it."""
    act.add(days, visit_id=visit, day=day)
    act.connection.execute(update(visits).where(visits.c.id == visit).values(day=day))


def days_by(connection: Connection, number: int) -> dict[int, str]:
    """Days that an act of this number gave and that weren't taken back, by the visit's number."""
    query = select(days.c.visit_id, days.c.day)
    given = query.where(days.c.act_id == number, days.c.ended_id.is_(None))
    return {row.visit_id: row.day for row in connection.execute(given.order_by(days.c.id))}


def take_back_days(act: Act, number: int) -> dict[int, str]:
    """Take back the days that one act gave; what holds now in words, by the visit's number.

    A day that was given again since stays, and so does another one that was given since. Where an
    earlier one had been given, that one holds again.
    """
    gave = days_by(act.connection, number)
    own = (days.c.act_id == number, days.c.ended_id.is_(None))
    act.connection.execute(update(days).where(*own).values(ended_id=act.id))
    said = {}
    for visit, day in gave.items():
        gone = f"the day {day} is taken back; date of"
        query = select(days.c.day).where(days.c.visit_id == visit, days.c.ended_id.is_(None))
        left = act.connection.scalar(query.order_by(days.c.id.desc()).limit(1))
        act.connection.execute(update(visits).where(visits.c.id == visit).values(day=left))
        date = visit_dates(act.connection, field_of_visit(act.connection, visit))[visit]
        name = there(act.connection, visit).visit
        if left == day:
            said[visit] = f"date of {name}: still {day}, which was given by another adding too"
        elif left is not None:
            said[visit] = f"{gone} {name}: {left}, as another adding gave"
        else:
            said[visit] = f"{gone} {name}: {date.known_by}"
    return said


def _said_of_order(act: Act, dates: Mapping[int, VisitDate], visit: int) -> tuple[str, ...]:
    """That a visit of unknown day was taken to be before this one, and how to say otherwise."""
    ids = put_before(dates, visit)
    if not ids:
        return ()
    query = select(visits.c.id, visits.c.name).where(visits.c.id.in_([visit, *ids]))
    names = {row.id: row.name for row in act.connection.execute(query)}
    return tuple(
        f"MIND: {names[one]}, of which no day is known, is taken to be before {names[visit]}, as "
        "it was put in first; if it was later, add its file again with "
        f"--visit {in_command(names[one])} --date DAY"
        for one in ids
    )


def _last_with_counts(connection: Connection, where: Where) -> tuple[int, VisitDate] | None:
    """The field's last visit, if it is there and has counts, with its first and last day."""
    dates = _dates_of(connection, where)
    last = next(reversed(in_order(dates)), None)
    if last is None or not has_counts(connection, last):
        return None
    return last, dates[last]


def _dates_of(connection: Connection, where: Where) -> Mapping[int, VisitDate]:
    """Dates of a field's visits; none where it isn't there yet."""
    field = field_there(connection, where)
    return {} if field is None else visit_dates(connection, field)
