"""What was acknowledged survives the program being killed, at whatever moment."""

from __future__ import annotations

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import event, func, select

from tests.store.helpers import NORTH, counts, entry
from tillercount.errors import InputError
from tillercount.store import Season
from tillercount.store.tables import photos, placements, predictions

ROOT = Path(__file__).parents[2]

WRITER = """
import sys
from tests.store.helpers import NORTH, counts, entry
from tillercount.store import Season

with Season.open(sys.argv[1], who="Ash") as season:
    for number in range(int(sys.argv[2]), 10_000):
        given = [entry(number * 7 + i) for i in range(7)]
        season.add_counts(counts(given), NORTH)
        print(number, flush=True)
"""


def photos_in(season: Season) -> int:
    with season.engine.connect() as connection:
        numbers = {
            connection.scalar(select(func.count()).select_from(table))
            for table in (photos, placements, predictions)
        }
    assert len(numbers) == 1, numbers  # no photo without its count or its place
    return int(numbers.pop() or 0)


@pytest.mark.skipif(os.name == "nt", reason="needs a signal that can't be caught")
def test_killed_while_writing(tmp_path: Path) -> None:
    file = tmp_path / "season.sqlite"
    Season.create(file, who="Ash").close()
    acknowledged = 0
    for delay_s in (0.0, 0.013, 0.037, 0.051):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(file), str(acknowledged)],
            stdout=subprocess.PIPE,
            cwd=ROOT,
            text=True,
        ) as writer:
            assert writer.stdout is not None
            for _ in range(3):
                assert writer.stdout.readline()
            time.sleep(delay_s)
            os.kill(writer.pid, signal.SIGKILL)
            rest = [line for line in writer.stdout.read().split("\n") if line.isdigit()]
            assert writer.wait() == -signal.SIGKILL
        acknowledged += 3 + len(rest)
        with Season.open(file, who="Ash") as season:
            kept = photos_in(season)
            assert kept % 7 == 0  # a file whole or not at all
            # one more may have been on the disk before it could be said
            assert acknowledged <= kept // 7 <= acknowledged + 1
            assert [f.text for f in season.check() if f.level == "bad"] == []
        acknowledged = kept // 7


def test_the_disk_is_told_to_write(file_season: Season) -> None:
    """2 is FULL: every commit is synchronised (sqlite.org/pragma.html#pragma_synchronous)."""
    with file_season.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_an_error_on_the_way_leaves_nothing(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    seen = 0

    def stop(*_: object) -> None:
        nonlocal seen
        seen += 1
        if seen == 6:
            raise KeyboardInterrupt

    event.listen(season.engine, "before_cursor_execute", stop)
    try:
        with pytest.raises(KeyboardInterrupt):
            season.add_counts(counts([entry(n) for n in range(2, 9)]), NORTH)
    finally:
        event.remove(season.engine, "before_cursor_execute", stop)
    assert photos_in(season) == 1
    assert len(season.journal()) == 1
    season.add_counts(counts([entry(n) for n in range(2, 9)]), NORTH)
    assert photos_in(season) == 8


def test_a_season_somebody_else_writes_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tillercount.store.engine.BUSY_S", 0.05)
    file = tmp_path / "season.sqlite"
    with (
        Season.create(file, who="Ash") as season,
        contextlib.closing(sqlite3.connect(file, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(InputError, match="another program is writing to it; try again"):
            season.add_counts(counts([entry(1)]), NORTH)
        assert season.overview() == []  # reading goes on meanwhile
        other.execute("ROLLBACK")
        assert season.add_counts(counts([entry(1)]), NORTH).new == 1
