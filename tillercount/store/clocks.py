"""Photos whose clocks say that they are of another visit than the one they would go to.

Two visits put into one aren't one stand, and nothing shows it afterwards. So photos given without a
visit's name are refused where with them the visit would span more than `LONGEST` days by their
clocks and what else is known of its days. A visit's name says that somebody meant it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, and_, func, select

from tillercount.clockdays import beyond, chains, days_of, same_clocks, walks
from tillercount.errors import InputError
from tillercount.handvisits import LONGEST
from tillercount.names import first_few, in_command
from tillercount.store.acts import Act
from tillercount.store.added import Added
from tillercount.store.dates import VisitDate, visit_dates
from tillercount.store.inuse import has_counts
from tillercount.store.tables import photos, placements
from tillercount.store.visits import Where, field_there, last_visit, there
from tillercount.store.whichyear import ZONES_AHEAD

__all__ = ["check_clocks", "of_one_visit"]

_MOST = 3
"""Photos named of each visit."""


@dataclass(frozen=True)
class _Visit:
    """What is known of the days of the visit that photos would go to.

    ``number`` is None where it isn't there yet. ``put_in``: where no day of its counts is known,
    the day on which they were put in, which can't be before they were made. ``others`` are the
    field's other visits by name.
    """

    place: str
    number: int | None = None
    name: str = ""
    days: Collection[dt.date] = ()
    put_in: dt.date | None = None
    others: Mapping[str, VisitDate] | None = None


def check_clocks(
    connection: Connection,
    where: Where,
    given: Mapping[str, tuple[str, str]],
    *,
    alone: bool = False,
) -> None:
    """Before anything is counted or written: that photos can be of the visit they would go to.

    Parameters
    ----------
    connection, where
    given : mapping of SHA-256 to file name and time
        Those that lie in a visit already stay there and say nothing.
    alone : bool
        Hold them against each other only: a plan that comes with them may make a visit of its own.

    Raises
    ------
    InputError
        They can't, and no visit is named.
    """
    if where.visit is not None:
        return
    known = _Visit(where.text) if alone else _visit_meant(connection, where)
    names: dict[dt.date, list[str]] = {}
    for sha256, (name, time) in given.items():
        if (days := days_of([time])) and not _lies_somewhere(connection, sha256):
            names.setdefault(days.pop(), []).append(name)
    _refuse(known, {day: (some, len(some)) for day, some in names.items()})


def of_one_visit(
    act: Act, where: Where, day: dt.date | None, add: Callable[[], Added]
) -> Callable[[], Added]:
    """The same adding, which is refused where the photos it put in can't be of one visit.

    A visit that was named, or a ``day`` that was given, is what somebody said.
    """
    if where.visit is not None or day is not None:
        return add
    known = _visit_meant(act.connection, where)

    def checked() -> Added:
        added = add()
        _refuse(known, _put_in_by(act))
        return added

    return checked


def _lies_somewhere(connection: Connection, sha256: str) -> bool:
    query = select(placements.c.id).join(photos, photos.c.id == placements.c.photo_id)
    here = query.where(photos.c.sha256 == sha256, placements.c.ended_id.is_(None))
    return connection.execute(here.limit(1)).first() is not None


def _visit_meant(connection: Connection, where: Where) -> _Visit:
    """The field's last visit. Of one that has no counts, as that of a plan, no day is known: a
    walk may be later than it was planned for."""
    field = field_there(connection, where)
    last = None if field is None else last_visit(connection, field)
    if field is None or last is None:
        return _Visit(where.text)
    at = there(connection, last)
    dates = visit_dates(connection, field)
    others = {there(connection, one).visit: date for one, date in dates.items() if one != last}
    if not has_counts(connection, last):
        return _Visit(at.text, last, at.visit, others=others)
    clocks = select(func.substr(photos.c.taken_at, 1, 10)).join_from(placements, photos)
    here = clocks.where(placements.c.visit_id == last, placements.c.ended_id.is_(None))
    days = days_of(connection.scalars(here.distinct()))
    date, put_in = dates[last], None
    if date.how in ("typed", "name"):
        days |= days_of([date.first, date.last])
    elif date.how == "added":
        put_in = dt.date.fromisoformat(date.last)
    return _Visit(at.text, last, at.visit, days, put_in, others)


def _put_in_by(act: Act) -> dict[dt.date, tuple[list[str], int]]:
    """Photos that this act brought, by day: names of some, and how many; not those that it only
    put to another spot."""
    day = func.substr(photos.c.taken_at, 1, 10)
    before = placements.alias("before")
    moved = and_(before.c.photo_id == placements.c.photo_id, before.c.ended_id == act.id)
    query = (
        select(day, func.min(photos.c.name), func.count())
        .join_from(placements, photos)
        .outerjoin(before, moved)
        .where(placements.c.act_id == act.id, placements.c.ended_id.is_(None))
        .where(photos.c.taken_at.is_not(None), before.c.id.is_(None))
        .group_by(day)
    )
    found: dict[dt.date, tuple[list[str], int]] = {}
    for text, name, many in act.connection.execute(query):
        for one in days_of([text]):
            found[one] = [str(name)], int(many)
    return found


def _refuse(known: _Visit, new: Mapping[dt.date, tuple[list[str], int]]) -> None:
    for days in same_clocks({*known.days, *new}):
        there = days & {*known.days}
        if there:
            apart = walks(beyond(there, days - there))
        else:
            parts = walks(days)
            apart = [one for one in parts if _after(min(one), known.put_in)]
            if not apart and len(parts) > 1:
                raise _several(known, parts, new)
        if apart:
            raise _another(known, apart, new)


def _after(day: dt.date, put_in: dt.date | None) -> bool:
    """Whether photos of a day are later than counts put in on that one; a clock that says a day to
    come is ahead, who knows how far."""
    if put_in is None or (day - dt.date.today()).days > ZONES_AHEAD:
        return False
    return (day - put_in).days > LONGEST


def _another(
    known: _Visit, apart: list[set[dt.date]], new: Mapping[dt.date, tuple[list[str], int]]
) -> InputError:
    if known.days:
        so_far = f"is of {' and '.join(_span(one) for one in chains(known.days))}"
        if all(_near(one, known.days) for one in apart):
            so_far += f", and a visit is taken to last {LONGEST + 1} days at most"
    else:
        so_far = f"was put in on {known.put_in}, before they were taken"
    whose = " and ".join(_those_of(one, new) for one in apart)
    rest = sum(map(len, apart)) < len(new)
    ways = []
    for name, date in (known.others or {}).items():
        ends = days_of([date.first, date.last]) if date.how != "added" else set()
        if ends and any(not beyond(ends, one) for one in apart):
            ways.append(f"Of {name} ({date.days})? Give --visit {in_command(name)}")
    first = min(apart[0])
    by_themselves = "Add those by themselves, with" if rest or len(apart) > 1 else "Give"
    ways.append(f'A new visit? {by_themselves} --visit NAME, like --visit "{_name(first)}"')
    ways.append(
        f"Of that visit all the same, or is a clock wrong? Give --visit {in_command(known.name)}"
    )
    return InputError(
        f"by their own clocks {whose}, but {known.place} {so_far}; two visits aren't one stand. "
        f"{'. '.join(ways)}. Nothing of this was added"
    )


def _several(
    known: _Visit, apart: list[set[dt.date]], new: Mapping[dt.date, tuple[list[str], int]]
) -> InputError:
    names = " and ".join(f'--visit "{_name(min(one))}"' for one in apart)
    this = f"--visit {in_command(known.name)}" if known.name else "one --visit NAME"
    return InputError(
        f"by their own clocks {' and '.join(_those_of(one, new) for one in apart)}; two visits "
        "aren't one stand. Add the photos of each visit by themselves, each with --visit and a "
        f"name of its own, like {names}. Was it one visit, or is a clock wrong? Give {this} with "
        "all of them. Nothing of this was added"
    )


def _those_of(days: set[dt.date], new: Mapping[dt.date, tuple[list[str], int]]) -> str:
    mine = sorted(days & new.keys())
    names = [name for day in mine for name in new[day][0]]
    many = sum(new[day][1] for day in mine)
    what = "1 photo is" if many == 1 else f"{many:,} photos are"
    return f"{what} of {_span(mine)} ({first_few(names, _MOST, of=many)})"


def _near(days: set[dt.date], known: Collection[dt.date]) -> bool:
    """Whether days lie so near to those of a visit that it must be said why they aren't of it."""
    return any(abs(one - day).days <= LONGEST for one in days for day in known)


def _span(days: Collection[dt.date]) -> str:
    first, last = min(days), max(days)
    return f"{first}" if first == last else f"{first} to {last}"


def _name(day: dt.date) -> str:
    return f"{day.day} {day:%B}"
