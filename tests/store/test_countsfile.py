"""Counts files read entry by entry."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.store.helpers import NORTH, counts, entry, write
from tillercount.errors import InputError
from tillercount.store import Season
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


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
def test_no_number_is_refused_with_its_entry(
    tmp_path: Path, file_season: Season, odd: float
) -> None:
    rows = {"found": True, "spacing_mm": odd}
    given = counts([entry(1), entry(2, rows=rows)])
    file = write(tmp_path / "c.json", given)
    with pytest.raises(InputError, match=r"c\.json, entry 2: .*(NaN|Infinity) isn't a finite"):
        file_season.add_counts(file, NORTH)
    with pytest.raises(InputError, match=r"entry 2, rows\.spacing_mm: .* isn't a finite number"):
        file_season.add_counts(given, NORTH)
    with pytest.raises(InputError, match="model, note"):
        file_season.add_counts(counts([entry(1)], model={"name": "m", "note": odd}), NORTH)
    assert not file_season.overview()


def test_a_season_that_took_one_in_before_still_works(file_season: Season) -> None:
    """SQLite says "malformed JSON" of a look into such an entry."""
    file_season.add_counts(counts([entry(1), entry(2)]), NORTH)
    with file_season.engine.begin() as connection:
        connection.exec_driver_sql(
            """UPDATE predictions SET record = '{"rows": {"spacing_mm": NaN}}' WHERE id = 1"""
        )
    other = {"cover": {"other_plants": 0.3}}
    file_season.add_counts(counts([entry(1, **other), entry(3, **other)]), NORTH)
    file_season.add_counts(counts([entry(4)]), NORTH)
    found = file_season.summary(NORTH).estimate
    assert found is not None
    assert found.spots == 4
    assert [one.other_cover for one in found.listed] == [0.3, None, 0.3, None]


def test_a_negative_row_spacing_is_no_spacing(file_season: Season) -> None:
    rows = {"found": True, "spacing_mm": -190.0}
    file_season.add_counts(counts([entry(n, rows=rows) for n in (1, 2)]), NORTH)
    assert file_season.add_counts(counts([entry(n, rows=rows) for n in (3, 4)]), NORTH).new == 2
