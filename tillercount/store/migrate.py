"""The number of a season's layout: known, older or newer than this program.

An older file is copied first, then taken up step by step in one transaction. A newer one is left
alone. A server can't be copied from here: somebody has to say that its backup is made.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    inspect,
    select,
    update,
)

from tillercount.errors import InputError
from tillercount.names import key_of
from tillercount.store.engine import APPLICATION_ID, reading, shown, sqlite_file, writing
from tillercount.store.oldnames import names_in_journal
from tillercount.store.tables import SCHEMA, season

__all__ = ["BEFORE_REMOVE", "STEPS", "Step", "bring_up", "copy_file", "schema_of"]

Step = Callable[[Connection], None]

BEFORE_REMOVE = "before-remove"
"""In the names of copies (`copy_file`) made before something is taken out."""


def _typed_days(connection: Connection) -> None:
    """A visit may have a day that somebody typed."""
    connection.exec_driver_sql("ALTER TABLE visits ADD COLUMN day VARCHAR(10)")


def _days_by_act(connection: Connection) -> None:
    """Which act gave a visit its day, so that taking the act back takes the day back."""
    # as it was in layout 3, whatever it has become in `tables` since
    then = MetaData()
    then.reflect(connection, only=("visits", "acts"))
    Table(
        "days",
        then,
        Column("id", Integer, primary_key=True),
        Column("visit_id", Integer, ForeignKey("visits.id"), nullable=False, index=True),
        Column("day", String(10), nullable=False),
        Column("act_id", Integer, ForeignKey("acts.id")),
        Column("ended_id", Integer, ForeignKey("acts.id")),
    ).create(connection)
    connection.exec_driver_sql(
        "INSERT INTO days (visit_id, day) SELECT id, day FROM visits WHERE day IS NOT NULL"
    )


def _former_names(connection: Connection) -> None:
    """Names that went are rows of their own, and no more to be read out of the journal."""
    then = MetaData()
    then.reflect(connection, only=("farms", "fields", "visits", "acts"))
    whats = ("farm", "field", "visit")
    table = Table(
        "former_names",
        then,
        Column("id", Integer, primary_key=True),
        *(Column(f"{w}_id", Integer, ForeignKey(f"{w}s.id"), index=True) for w in whats),
        Column("name", Text, nullable=False),
        Column("name_key", Text, nullable=False),
        Column("act_id", Integer, ForeignKey("acts.id"), nullable=False),
    )
    table.create(connection)
    for what, number, name, act in names_in_journal(connection, then):
        row = {f"{what}_id": number, "name": name, "name_key": key_of(name), "act_id": act}
        connection.execute(table.insert().values(row))


STEPS: Mapping[int, Step] = {1: _typed_days, 2: _days_by_act, 3: _former_names}
"""What takes layout N to N+1, by N."""


def schema_of(engine: Engine) -> int:
    """The number of the layout in the database.

    Raises
    ------
    InputError
        It holds no season.
    """
    nothing = f"{shown(engine.url)} holds no season; make one with: tillercount season new"
    with reading(engine) as connection:
        if sqlite_file(engine.url) is not None:
            mark = connection.exec_driver_sql("PRAGMA application_id").scalar()
            if mark != APPLICATION_ID:
                raise InputError(nothing)
        if not inspect(connection).has_table("season"):
            raise InputError(nothing)
        found = connection.scalar(select(season.c.value).where(season.c.key == "schema"))
    if found is None or not found.isdigit():
        raise InputError(f"{shown(engine.url)} doesn't say its layout; take your last copy of it")
    return int(found)


def bring_up(
    engine: Engine,
    *,
    backed_up: bool = False,
    to: int = SCHEMA,
    steps: Mapping[int, Step] | None = None,
) -> Path | None:
    """Bring a season to the layout of this program.

    Parameters
    ----------
    engine : Engine
    backed_up : bool
        Somebody says that a backup of the server is made. Files are copied here.
    to, steps
        The layout wanted and the steps that lead there.

    Returns
    -------
    Path or None
        The copy that was made; None where nothing had to be done, or for a server.

    Raises
    ------
    InputError
        The season is newer than this program, or lies on a server and has no backup.
    """
    steps = STEPS if steps is None else steps
    found = schema_of(engine)
    if found == to:
        return None
    place = shown(engine.url)
    if found > to:
        raise InputError(
            f"{place} was written by a newer tillercount (layout {found}, this one knows {to}); "
            "nothing was changed; update this program, or ask whoever keeps the season for an "
            "export"
        )
    file = sqlite_file(engine.url)
    copy = None
    if file is not None:
        copy = copy_file(file, f"layout{found}")
    elif not backed_up:
        raise InputError(
            f"{place} has layout {found} and must go to {to}; make a backup of the database, then "
            "give the same URL to: tillercount season check URL --backed-up"
        )
    with writing(engine) as connection:
        # Read again under the lock: another program may have been quicker.
        value = connection.scalar(select(season.c.value).where(season.c.key == "schema"))
        for number in range(int(value or found), to):
            steps[number](connection)
        if int(value or found) >= to:
            return copy
        connection.execute(update(season).where(season.c.key == "schema").values(value=str(to)))
    return copy


def copy_file(file: Path, what: str) -> Path:
    """A whole and checked copy of a season file beside it, taken while others may use it.

    Raises
    ------
    InputError
        The copy can't be written, or doesn't read back whole.
    """
    now = dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%S")
    target = file.with_name(f"{file.stem}.{what}.{now}{file.suffix}")
    number = 1
    while target.exists():
        number += 1
        target = file.with_name(f"{file.stem}.{what}.{now}-{number}{file.suffix}")
    aside = target.with_name(f"{target.name}.part")  # killed midway, no copy stands there
    try:
        with (
            contextlib.closing(sqlite3.connect(file)) as old,
            contextlib.closing(sqlite3.connect(aside)) as new,
        ):
            old.backup(new)
            new.execute("PRAGMA journal_mode=DELETE")
            (whole,) = new.execute("PRAGMA quick_check(1)").fetchone()
        if whole != "ok":
            raise sqlite3.DatabaseError(whole)
        aside.replace(target)
        _to_disk(target)
    except (sqlite3.Error, OSError) as error:
        for one in (aside, target):
            one.unlink(missing_ok=True)
        raise InputError(
            f"{file}: no copy could be made before the change ({error}), so nothing was changed; "
            "free some space or check the folder, then try again"
        ) from error
    return target


def _to_disk(path: Path) -> None:
    for one in (path, path.parent):
        if one.is_dir() and os.name == "nt":
            continue  # folders can't be synchronised there
        handle = os.open(one, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
