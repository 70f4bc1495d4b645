"""One act: one person, one moment, one transaction; and the names that rows are found by."""

from __future__ import annotations

import contextlib
import datetime as dt
import getpass
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, Engine, Table, insert, select, update

from tillercount.errors import InputError
from tillercount.names import key_of, spot_key
from tillercount.store.added import Added
from tillercount.store.engine import shown, writing
from tillercount.store.tables import SCHEMA, acts, season

__all__ = [
    "REMOVED",
    "Act",
    "acting",
    "find",
    "find_or_add",
    "key_of",
    "now_utc",
    "spot_key",
    "told",
    "who_am_i",
]


REMOVED = "remove"
"""Verb of the act that took something out of the season."""


@dataclass(frozen=True)
class Act:
    """An open transaction with its entry in the journal."""

    connection: Connection
    id: int

    @property
    def place(self) -> str:
        """The season's file, or its URL without the password."""
        return shown(self.connection.engine.url)

    def add(self, table: Table, **values: Any) -> int:
        """Add one row; its number."""
        row = self.connection.execute(insert(table).values(act_id=self.id, **values))
        assert row.inserted_primary_key is not None
        return int(row.inserted_primary_key[0])

    def tell(self, detail: str, verb: str | None = None) -> None:
        """What the journal says of this act, once that is known; ``verb`` where it is another."""
        values = {"detail": detail} if verb is None else {"detail": detail, "verb": verb}
        self.connection.execute(update(acts).where(acts.c.id == self.id).values(**values))


@contextlib.contextmanager
def acting(
    engine: Engine, verb: str, who: str, *, source: str = "", detail: str = ""
) -> Iterator[Act]:
    """Do something to the season: kept whole when this ends, or not at all."""
    import tillercount

    with writing(engine) as connection:
        layout = connection.scalar(select(season.c.value).where(season.c.key == "schema"))
        if layout != str(SCHEMA):
            # It was brought up by a newer program while this one had it open.
            raise InputError(
                f"{shown(engine.url)} now has layout {layout}, and this program knows {SCHEMA}; "
                "nothing was changed; update this program"
            )
        row = connection.execute(
            insert(acts).values(
                verb=verb,
                who=who,
                at=now_utc(),
                source=source,
                detail=detail,
                version=tillercount.__version__,
            )
        )
        assert row.inserted_primary_key is not None
        yield Act(connection, int(row.inserted_primary_key[0]))


def told(act: Act, added: Added) -> Added:
    """Note in the journal what adding did, so that adding nothing doesn't look like adding; and the
    day that the visit was given."""
    dated = f", dated {added.dated}" if added.dated else ""
    if added.changed or dated:
        again = f", {added.back} of before hold again" if added.back else ""
        act.tell(f"to {added.place}: {added.new} new{again}{dated}")
    else:
        act.tell(f"for {added.place}", verb="nothing new in")
    return replace(added, act=act.id)


def now_utc() -> str:
    """Now, to the second."""
    return dt.datetime.now(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def who_am_i(given: str | None = None) -> str:
    """Who does it: the name given, else the one this computer knows its user by.

    Raises
    ------
    InputError
        Neither.
    """
    if given is not None and given.strip():
        return " ".join(given.split())
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        raise InputError("nobody is named; say who you are: --who NAME") from None


def find(connection: Connection, table: Table, name: str, **within: int) -> int | None:
    """Number of the row of this name; None without one."""
    query = select(table.c.id).where(table.c.name_key == key_of(name))
    for column, value in within.items():
        query = query.where(table.c[column] == value)
    return connection.scalar(query)


def find_or_add(act: Act, table: Table, name: str, within: Mapping[str, int], **more: Any) -> int:
    """Number of the row of this name, which is made if it isn't there."""
    found = find(act.connection, table, name, **within)
    if found is not None:
        return found
    shown = " ".join(name.split())
    return act.add(table, name=shown, name_key=key_of(name), **within, **more)
