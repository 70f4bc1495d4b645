"""Opening the database behind a season, and what its errors mean in words.

An SQLite file is used with write-ahead logging and full synchronisation: when a transaction has
been acknowledged it is on the disk, and one that wasn't leaves no trace after a crash
(sqlite.org/wal.html, sqlite.org/pragma.html#pragma_synchronous).
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, exc, make_url, text

from tillercount.errors import InputError
from tillercount.hidden import hidden

__all__ = [
    "APPLICATION_ID",
    "BUSY_S",
    "is_other_file",
    "make_engine",
    "place_of",
    "reading",
    "shown",
    "sqlite_file",
    "worded",
    "writing",
]

BUSY_S = 20
"""How long to wait while another program writes to the same file."""

APPLICATION_ID = 0x54434E54
"""Marks an SQLite file as a season (``PRAGMA application_id``)."""

_DRIVER_HELP = (
    "the driver for this kind of server isn't installed; pip install 'tillercount[server]' has "
    "the one for postgresql+psycopg://..."
)


def place_of(where: str | Path | URL) -> URL:
    """The URL of a season: a URL as it is, anything else as the path of an SQLite file.

    Raises
    ------
    InputError
        A URL that can't be read.
    """
    if isinstance(where, URL):
        return where
    if isinstance(where, str) and "://" in where:
        try:
            url = make_url(where)
        except (exc.ArgumentError, ValueError):
            raise InputError(
                "the season's URL can't be read; write it like "
                "postgresql+psycopg://user@host/season, or give a file"
            ) from None
        if "@" in (url.host or ""):
            raise InputError(
                "the season's URL has a second @: one that belongs to the user's name or password "
                "is written %40 (and / is %2F, : is %3A)"
            )
        if url.drivername in ("postgresql", "postgres"):
            url = url.set(drivername="postgresql+psycopg")
        return url
    return URL.create("sqlite", database=str(where))


def sqlite_file(url: URL) -> Path | None:
    """The file behind a URL; None for a server."""
    if url.get_backend_name() != "sqlite":
        return None
    if not url.database or url.database == ":memory:":
        raise InputError("a season in memory would be gone at the end; give a file")
    return Path(url.database)


def shown(url: URL) -> str:
    """The place as messages name it; passwords stay hidden, those among its options too."""
    file = sqlite_file(url)
    return str(file) if file is not None else hidden(url.render_as_string(hide_password=True))


def is_other_file(file: Path) -> bool:
    """Whether a file is surely no season, told without opening it as a database.

    Opening would write to it: another program's file must not be switched to another journal.
    """
    try:
        with file.open("rb") as opened:
            head = opened.read(72)
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{file}: can't be read ({reason}); check who owns it") from error
    # The mark stands at byte 68 (sqlite.org/fileformat.html), or still in the log beside the file.
    marked = int.from_bytes(head[68:72], "big") == APPLICATION_ID
    logged = file.with_name(f"{file.name}-wal").exists()
    return bool(head) and not (head.startswith(b"SQLite format 3\0") and (marked or logged))


def make_engine(url: URL) -> Engine:
    """An engine for a season.

    Raises
    ------
    InputError
        No driver for this kind of database.
    """
    try:
        if sqlite_file(url) is None:
            return create_engine(url, pool_pre_ping=True)
        engine = create_engine(url, connect_args={"timeout": BUSY_S})
    except (ModuleNotFoundError, exc.NoSuchModuleError):
        raise InputError(f"{shown(url)}: {_DRIVER_HELP}") from None
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # Transactions are begun by hand (below): the module's own way leaves changes to the layout
    # outside of them.
    connection.isolation_level = None
    cursor = connection.cursor()
    try:
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            cursor.execute(f"PRAGMA {pragma}")
    finally:
        cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # A writer takes its lock at once: taking it later, after reading, could fail half-way.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextlib.contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A connection to read with; what it sees doesn't change while it is open."""
    with worded(engine.url), engine.connect() as connection:
        yield connection


@contextlib.contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One transaction: all of it is on the disk when this ends without an error, or none."""
    with (
        worded(engine.url),
        engine.connect().execution_options(writes=True) as connection,
        connection.begin(),
    ):
        if engine.dialect.name == "postgresql":
            # One writer at a time, as in a file: two who add the same photo add it once.
            connection.execute(text("SELECT pg_advisory_xact_lock(hashtext('tillercount.season'))"))
        yield connection


_MEANINGS = (
    ("database is locked", "another program is writing to it; try again when that has ended"),
    ("not a database", "isn't a season; make one with: tillercount season new FILE"),
    ("malformed", "the file is damaged; take your last copy, and keep this one beside it"),
    ("disk is full", "the disk is full; nothing of this step was kept; free some space, try again"),
    ("readonly database", "can't be written to; check who owns the file and its folder"),
    ("disk i/o error", "the disk can't be read or written; copy the file to another disk"),
    ("unable to open", "can't be opened; check the name and the folder"),
    ("no such table", "isn't a season, or only part of one; make one with: tillercount season new"),
    ("undefinedtable", "holds no season; make one with: tillercount season new URL"),
    ("password authentication", "the server refused the user or the password; check both"),
    ("resolve host", "no server has this name; check the URL, and that you are online"),
    ("connection", "the server can't be reached; check its address, and that it runs"),
)


@contextlib.contextmanager
def worded(url: URL) -> Iterator[None]:
    """Errors of the database as one line that says what to do.

    Raises
    ------
    InputError
        For what the database says of its file, its server or its locks; errors in the program's
        own statements stay as they are.
    """
    try:
        yield
    except (exc.OperationalError, exc.DatabaseError) as error:
        if isinstance(error, exc.IntegrityError):
            raise
        said = f"{type(error.orig).__name__} {error.orig}".lower()
        for sign, meaning in _MEANINGS:
            if sign in said:
                raise InputError(f"{shown(url)}: {meaning}") from error
        raise
