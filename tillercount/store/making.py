"""A new season: its tables made in an empty place."""

from __future__ import annotations

import contextlib
import difflib
import sqlite3
from pathlib import Path

from sqlalchemy import Engine, insert, inspect

from tillercount.errors import InputError
from tillercount.names import first_few
from tillercount.store.acts import now_utc
from tillercount.store.engine import APPLICATION_ID, shown, sqlite_file, writing
from tillercount.store.tables import SCHEMA, metadata, season

__all__ = ["is_empty", "make_tables", "not_there"]

_MOST = 6


def is_empty(file: Path) -> bool:
    """Whether a file holds nothing: no bytes, or a database without tables (cut short)."""
    if not file.stat().st_size:
        return True
    try:
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as old:
            return bool(old.execute("SELECT count(*) = 0 FROM sqlite_master").fetchone()[0])
    except sqlite3.Error:
        return False


def not_there(file: Path) -> str:
    """The sentence for a season that isn't there: mistyped more often than not made yet."""
    if file.is_dir():
        inside = sorted(one.name for one in file.glob("*.sqlite"))
        there = f" In it: {first_few(inside, _MOST)}." if inside else ""
        return (
            f"{file} is a folder, and a season is one file; name the season first, then what goes "
            f"into it.{there} A new one: tillercount season new 2027.sqlite"
        )
    folder = file.parent
    text = f"{file} doesn't exist; check the name"
    if not folder.is_dir():
        return f"{text}: there is no folder {folder} either"
    names = [one.name for one in folder.glob("*.sqlite") if one.is_file()]
    near = difflib.get_close_matches(file.name, names, n=_MOST, cutoff=0.6)
    # the copies that the program makes are called NAME.what.time.sqlite: last
    names = sorted({*near, *names}, key=lambda n: (n.count(".") > 2, n not in near, n))
    if names:
        text += f" (there: {first_few(names, _MOST)})"
    return f"{text}; or make a new season: tillercount season new {file}"


def make_tables(engine: Engine, who: str) -> None:
    """Make the tables of a season in a database that holds none.

    Raises
    ------
    InputError
        It holds a season already.
    """
    with writing(engine) as connection:
        if inspect(connection).has_table("season"):
            raise InputError(f"{shown(engine.url)} holds a season already; use it as it is")
        metadata.create_all(connection)
        connection.execute(
            insert(season),
            [
                {"key": "schema", "value": str(SCHEMA)},
                {"key": "made_at", "value": now_utc()},
                {"key": "made_by", "value": who},
            ],
        )
        if sqlite_file(engine.url) is not None:
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
