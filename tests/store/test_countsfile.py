"""Counts files read entry by entry."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.store.helpers import counts, entry, write
from tillercount.errors import InputError
from tillercount.store.countsfile import read_entries, read_head


def test_head_and_entries(tmp_path: Path) -> None:
    given = counts([entry(1), entry(2)], model={"name": "m", "plants_bias_rel": 0.07, "n": None})
    file = write(tmp_path / "c.json", given)
    head = read_head(file)
    assert (head.model, head.level) == (given["model"], 0.9)
    assert list(read_entries(file)) == given["spots"]


def test_the_head_may_come_last(tmp_path: Path) -> None:
    given = counts([entry(1)], interval_level=0.8)
    file = write(tmp_path / "c.json", dict(reversed(given.items())))
    assert read_head(file).level == 0.8
    assert list(read_entries(file)) == given["spots"]


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (counts([], schema="x/2"), "schema: 'x/2' isn't"),
        (counts([], interval_level=90), "interval_level: 90 must lie between"),
        ({"schema": "tillercount.counts/1"}, "no list of spots"),
        ([], "no list of spots"),
    ],
)
def test_heads_refused(tmp_path: Path, record: Any, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read_head(write(tmp_path / "c.json", record))


def test_a_file_cut_short(tmp_path: Path) -> None:
    file = write(tmp_path / "c.json", counts([entry(1), entry(2)]))
    file.write_bytes(file.read_bytes()[:-300])
    read_head(file)
    with pytest.raises(InputError, match=r"c\.json: not readable JSON.*after entry 1"):
        list(read_entries(file))
    with pytest.raises(InputError, match="can't be read"):
        read_head(tmp_path / "none.json")


def test_an_entry_that_is_no_record(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="entry 2: not a record"):
        list(read_entries(write(tmp_path / "c.json", counts([entry(1), 3]))))  # type: ignore[list-item]
