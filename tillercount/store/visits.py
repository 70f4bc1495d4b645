"""Fields and visits found or made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, Table, select

from tillercount.errors import InputError
from tillercount.store.acts import Act, find, find_or_add
from tillercount.store.added import Added
from tillercount.store.dates import in_order, visit_dates
from tillercount.store.inuse import has_counts
from tillercount.store.tables import farms, fields, visits

__all__ = [
    "There",
    "Where",
    "field_for",
    "field_of",
    "field_of_visit",
    "field_there",
    "is_there",
    "last_counted",
    "last_visit",
    "made_or_found",
    "there",
    "visit_for",
    "visit_of",
]

_BESIDE = 6


@dataclass(frozen=True)
class Where:
    """A place in the season by name. Without a visit, the field's last one is meant: for adding the
    last of all, else the last at which something was counted."""

    farm: str
    field: str
    visit: str | None = None

    @property
    def text(self) -> str:
        """For messages."""
        return f"{self.farm}, {self.field}" + (f", {self.visit}" if self.visit else "")


@dataclass(frozen=True)
class There:
    """A visit that is there, by number and names, and what was ``made`` for it.

    ``last`` names the field's last visit where this isn't it.
    """

    id: int
    farm: str
    field: str
    visit: str
    made: tuple[str, ...] = ()
    last: str = ""

    @property
    def text(self) -> str:
        """For messages."""
        return f"{self.farm}, {self.field}, {self.visit}"

    def added(self, what: str, new: int, known: int = 0, **more: Any) -> Added:
        """What adding something here did."""
        done = Added(what, new, known, **more)
        notes = done.notes
        if self.last:
            text = f"{self.visit} isn't the last visit of {self.field}: that is {self.last}"
            notes = (f"{text}; --visit NAME names the one meant", *notes)
        done = replace(done, visit=self.visit, field=self.field, farm=self.farm)
        return replace(done, made=self.made, notes=notes)


def there(connection: Connection, visit: int, made: Sequence[str] = ()) -> There:
    """A visit by its number."""
    query = (
        select(
            visits.c.name,
            visits.c.field_id,
            fields.c.name.label("field"),
            farms.c.name.label("farm"),
        )
        .select_from(visits)
        .join(fields, fields.c.id == visits.c.field_id)
        .join(farms, farms.c.id == fields.c.farm_id)
    )
    row = connection.execute(query.where(visits.c.id == visit)).one()
    newest = last_visit(connection, row.field_id)
    last = None
    if newest != visit:
        last = connection.scalar(select(visits.c.name).where(visits.c.id == newest))
    return There(visit, row.farm, row.field, row.name, tuple(made), last or "")


def field_of(connection: Connection, where: Where) -> int:
    """Number of a field that must be there.

    Raises
    ------
    InputError
        It isn't; the message names those that are.
    """
    farm = find(connection, farms, where.farm)
    if farm is None:
        names = connection.scalars(select(farms.c.name).order_by(farms.c.name).limit(10)).all()
        raise InputError(f"no farm {where.farm!r} in the season; it has: {_list(names)}")
    found = find(connection, fields, where.field, farm_id=farm)
    if found is None:
        query = select(fields.c.name).where(fields.c.farm_id == farm).order_by(fields.c.name)
        names = connection.scalars(query.limit(10)).all()
        raise InputError(f"no field {where.field!r} on {where.farm}; it has: {_list(names)}")
    return found


def field_there(connection: Connection, where: Where) -> int | None:
    """Number of a field; None where it isn't there yet."""
    farm = find(connection, farms, where.farm)
    return None if farm is None else find(connection, fields, where.field, farm_id=farm)


def field_of_visit(connection: Connection, visit: int) -> int | None:
    """Number of the field that a visit is to."""
    return connection.scalar(select(visits.c.field_id).where(visits.c.id == visit))


def last_visit(connection: Connection, field: int) -> int | None:
    """The visit with the latest date (`tillercount.store.dates`), of several that added last."""
    return next(reversed(in_order(visit_dates(connection, field))), None)


def last_counted(connection: Connection, field: int) -> int | None:
    """The last visit at which something was counted; where there is none, the last one.

    A plan that was put in for the next walk says nothing of the field yet.
    """
    ordered = in_order(visit_dates(connection, field))
    counted = (visit for visit in reversed(ordered) if has_counts(connection, visit))
    return next(counted, ordered[-1] if ordered else None)


def visit_of(connection: Connection, where: Where) -> tuple[int, str]:
    """Number and name of a visit that must be there; `last_counted` where none is named.

    Raises
    ------
    InputError
        It isn't.
    """
    field = field_of(connection, where)
    if where.visit is None:
        found = last_counted(connection, field)
    else:
        found = find(connection, visits, where.visit, field_id=field)
    if found is None:
        query = select(visits.c.name).where(visits.c.field_id == field).order_by(visits.c.id)
        names = connection.scalars(query.limit(10)).all()
        raise InputError(f"no visit {where.visit or ''!r} of {where.text}; it has: {_list(names)}")
    name = connection.scalar(select(visits.c.name).where(visits.c.id == found))
    return found, str(name)


def is_there(connection: Connection, where: Where) -> bool:
    """Whether a visit of this name is in the season."""
    try:
        visit_of(connection, where)
    except InputError:
        return False
    return True


def visit_for(act: Act, where: Where) -> There:
    """The visit to add to, made with its farm and field where they are new."""
    field, made = field_for(act, where)
    found = last_visit(act.connection, field) if where.visit is None else None
    if found is None:
        found = made_or_found(act, visits, where.visit or "visit 1", {"field_id": field}, made)
    return there(act.connection, found, made)


def field_for(act: Act, where: Where) -> tuple[int, list[str]]:
    """Number of the field to add to, and what was made for it."""
    made: list[str] = []
    farm = made_or_found(act, farms, where.farm, {}, made)
    return made_or_found(act, fields, where.field, {"farm_id": farm}, made), made


def made_or_found(
    act: Act, table: Table, name: str, within: Mapping[str, int], made: list[str]
) -> int:
    """Number of the row of this name; where it is new, it and its neighbours are noted."""
    found = find(act.connection, table, name, **within)
    if found is not None:
        return found
    query = select(table.c.name).order_by(table.c.name).limit(_BESIDE)
    for column, value in within.items():
        query = query.where(table.c[column] == value)
    others = act.connection.scalars(query).all()
    number = find_or_add(act, table, name, within)
    beside = f" (beside {', '.join(others)})" if others else ""
    made.append(f"{table.name.removesuffix('s')} '{' '.join(name.split())}'{beside}")
    return number


def _list(names: Sequence[str]) -> str:
    return ", ".join(names) if names else "none yet"
