"""The day of a visit: typed, by photos, by its name; said, kept and exported."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.store import Season, Where
from tillercount.store.engine import make_engine, place_of

FOURTH = Where("Elm Hill", "North", "4 March 2027")
FIRST_DAY = Where("Elm Hill", "North", "early")
DAY = dt.date(2027, 3, 20)


def exported(season: Season, tmp_path: Path) -> list[tuple[str, str, str]]:
    file = tmp_path / "out.csv"
    season.export(file)
    with file.open(encoding="utf-8") as text:
        rows = csv.DictReader(text)
        return [(row["visit"], row["visit_date"], row["visit_date_by"]) for row in rows]


def hand(tmp_path: Path, first: int = 1) -> Path:
    rows = "\n".join(f"{first + n},Ash,{20 + n},60,1 ft2" for n in range(3))
    return hand_csv(tmp_path / f"h{first}.csv", rows)


def test_a_visit_named_after_its_day(season: Season, tmp_path: Path) -> None:
    added = season.add_hand_counts(hand(tmp_path), FOURTH)
    assert added.date == "2027-03-04 (from the visit's name)"
    assert set(exported(season, tmp_path)) == {("4 March 2027", "2027-03-04", "name")}


def test_a_name_that_is_no_day_is_that_of_typing_and_says_so(
    season: Season, tmp_path: Path
) -> None:
    added = season.add_hand_counts(hand(tmp_path), NORTH)
    assert added.date == f"{dt.date.today()} (the day it was put in: another? Give --date)"
    assert exported(season, tmp_path)[0][2] == "added"


def test_a_day_typed_comes_first(season: Season, tmp_path: Path) -> None:
    given = counts([entry(1, taken_at="2001-01-01T09:30:00")])
    assert season.add_counts(given, FOURTH).date == (
        "2001-01-01 (by the photos' clocks; its name says 2027-03-04)"
    )
    added = season.add_counts(given, FOURTH, day=DAY)
    assert added.date == "2027-03-20 (as given; its photos' clocks say 2001-01-01)"
    assert exported(season, tmp_path) == [("4 March 2027", "2027-03-20", "typed")]
    with Season.open(season.engine.url, who="Ash") as again:
        assert again.history(FOURTH).here.date.text == "2027-03-20"


def test_another_day_isnt_mixed_into_the_last_visit(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand(tmp_path), FOURTH)
    last = Where("Elm Hill", "North")
    with pytest.raises(InputError, match=r"has counts of 2027-03-04 already, and --date is 2027"):
        season.add_hand_counts(hand(tmp_path, 7), last, day=DAY)
    assert len(exported(season, tmp_path)) == 3
    assert season.add_hand_counts(hand(tmp_path, 7), last, day=dt.date(2027, 3, 4)).new == 3


def test_a_plan_says_no_day_that_nobody_gave(season: Season, tmp_path: Path) -> None:
    planned = write(tmp_path / "p.geojson", plan([(0, 0), (100, 0)]))
    assert season.add_plan(planned, NORTH).date == ""
    assert season.add_plan(planned, NORTH, day=DAY).date == "2027-03-20 (as given)"
    near = at(0, 0)
    season.add_counts(counts([entry(1, lat=near[0], lon=near[1])]), NORTH)
    assert exported(season, tmp_path) == [("visit 1", "2027-03-20", "typed")]


def test_a_season_of_the_layout_before(tmp_path: Path) -> None:
    file = tmp_path / "season.sqlite"
    with Season.create(file, who="Ash") as season:
        season.add_hand_counts(hand(tmp_path), FOURTH)
    engine = make_engine(place_of(file))
    with engine.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE visits DROP COLUMN day")
        connection.exec_driver_sql("UPDATE season SET value = '1' WHERE key = 'schema'")
    engine.dispose()
    with Season.open(file, who="Ash") as season:
        assert season.copy is not None
        assert season.add_hand_counts(hand(tmp_path), FOURTH, day=DAY).date.endswith("(as given)")


def test_the_command(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    def run(*args: Any) -> Any:
        return CliRunner().invoke(app, ["season", *map(str, args)], prog_name="tillercount")

    file = tmp_path / "s.sqlite"
    run("new", file, "--who", "Ash")
    where = ("--farm", "Elm Hill", "--field", "North", "--who", "Ash")
    done = run("add", file, hand(tmp_path), *where, "--date", "20 March 2025")
    assert "date of visit 1: 2025-03-20 (as given)" in done.output
    to_come = dt.date.today() + dt.timedelta(days=3)
    refused = run("add", file, hand(tmp_path, 7), *where, "--date", to_come)
    assert refused.exit_code
    assert "which is to come" in refused.output + str(refused.stderr)


def test_visits_typed_in_one_sitting_keep_their_order(season: Season, tmp_path: Path) -> None:
    """The first has no day of its own, the second is named after one that lies before typing."""
    season.add_hand_counts(hand(tmp_path), NORTH)
    later = Where("Elm Hill", "North", "6 March 2020")
    season.add_hand_counts(hand(tmp_path), later)
    past = season.history(NORTH)
    assert [one.name for one in past.visits] == ["visit 1", "6 March 2020"]
    assert past.here.name == "6 March 2020"
    assert [row["visit"] for row in season.overview()] == ["visit 1", "6 March 2020"]
    season.add_hand_counts(hand(tmp_path), FIRST_DAY, day=dt.date(2020, 3, 1))
    names = [one.name for one in season.history(NORTH).visits]
    assert names == ["visit 1", "early", "6 March 2020"]
