"""A day that only one adding gave its visit goes when that adding is taken out."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, write
from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.store import Season, Where
from tillercount.store.engine import make_engine, place_of

EARLY = Where("Elm Hill", "North", "early")
RIGHT, WRONG = dt.date(2026, 3, 4), dt.date(2026, 4, 3)
CLOCK = "2026-03-04T09:30:00"


def day_of(season: Season, where: Where = EARLY) -> tuple[str, str]:
    date = season.history(where).here.date
    return date.days, date.how


def test_the_day_goes_with_the_adding(season: Season) -> None:
    season.add_counts(counts([entry(1, taken_at=CLOCK)]), EARLY)
    slip = season.add_counts(counts([entry(2, taken_at=CLOCK)]), EARLY, day=WRONG)
    assert day_of(season) == ("2026-04-03", "typed")
    ((_, said),), _ = season.remove_added([slip.act])
    assert said == [
        "the day 2026-04-03 is taken back; date of early: 2026-03-04 (by the photos' clocks)"
    ]
    assert day_of(season) == ("2026-03-04", "photos")


def test_the_day_given_before_holds_again(season: Season) -> None:
    season.add_counts(counts([entry(1)]), EARLY, day=RIGHT)
    slip = season.add_counts(counts([entry(2)]), EARLY, day=WRONG)
    ((_, said),), _ = season.remove_added([slip.act])
    assert said == [
        "the day 2026-04-03 is taken back; date of early: 2026-03-04, as another adding gave"
    ]
    assert day_of(season) == ("2026-03-04", "typed")


@pytest.mark.parametrize("again", [RIGHT, WRONG])
def test_a_day_given_again_since_stays(season: Season, again: dt.date) -> None:
    season.add_counts(counts([entry(1)]), EARLY)
    slip = season.add_counts(counts([entry(2)]), EARLY, day=WRONG)
    season.date_visit(EARLY, again)
    ((_, said),), _ = season.remove_added([slip.act])
    assert day_of(season) == (str(again), "typed")
    assert ("still 2026-04-03" in said[0]) == (again == WRONG)


def test_an_adding_that_only_gave_a_day(season: Season) -> None:
    season.add_counts(counts([entry(1)]), EARLY)
    known = season.add_counts(counts([entry(1)]), EARLY, day=WRONG)
    assert (known.new, known.dated) == (0, "2026-04-03")
    assert season.brought([known.act]) == ["the day 2026-04-03, Elm Hill, North, early"]
    season.remove_added([known.act])
    assert day_of(season)[1] == "added"
    with pytest.raises(InputError, match="nothing of number"):
        season.remove_added([known.act])


def test_a_day_that_a_visit_kept_when_it_was_renamed_holds_again(season: Season) -> None:
    season.add_counts(counts([entry(1)]), Where("Elm Hill", "North", "4 March 2026"))
    season.rename(Where("Elm Hill", "North", "4 March 2026"), "early", "visit")
    assert day_of(season) == ("2026-03-04", "typed")
    slip = season.add_counts(counts([entry(2)]), EARLY, day=WRONG)
    season.remove_added([slip.act])
    assert day_of(season) == ("2026-03-04", "typed")


def test_a_day_given_with_nothing_to_add_can_be_taken_back(season: Season) -> None:
    """Photos that are counted already and are given again with a day."""
    season.add_counts(counts([entry(1, taken_at=CLOCK)]), EARLY)
    said = season.date_visit(EARLY, WRONG)
    number = season.journal(1)[0]["id"]
    assert said.endswith(f"tillercount season remove {in_command(season.place)} --add {number}")
    ((what, _),), _ = season.remove_added([number])
    assert what == "the day 2026-04-03, Elm Hill, North, early"
    assert day_of(season) == ("2026-03-04", "photos")


def test_a_visit_that_goes_takes_its_day_along(file_season: Season) -> None:
    season = file_season
    season.add_counts(counts([entry(1)]), NORTH)
    slip = season.add_counts(counts([entry(2)]), EARLY, day=WRONG)
    ((_, said),), _ = season.remove_added([slip.act])
    assert said == ["gone: visit 'early'"]
    season.add_counts(counts([entry(3)]), EARLY, day=RIGHT)
    season.remove(EARLY)
    assert [row["visit"] for row in season.overview()] == ["visit 1"]


def test_a_day_of_an_older_layout_stays(tmp_path: Path) -> None:
    """By whom it was given isn't known."""
    file = tmp_path / "season.sqlite"
    with Season.create(file, who="Ash") as season:
        act = season.add_counts(counts([entry(1), entry(2)]), EARLY, day=RIGHT).act
        more = season.add_counts(counts([entry(3)]), EARLY).act
    engine = make_engine(place_of(file))
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE former_names")
        connection.exec_driver_sql("DROP TABLE days")
        connection.exec_driver_sql("UPDATE season SET value = '2' WHERE key = 'schema'")
    engine.dispose()
    with Season.open(file, who="Ash") as season:
        assert season.copy is not None
        season.add_counts(counts([entry(4)]), EARLY)
        season.remove_added([act, more])
        assert day_of(season) == ("2026-03-04", "typed")
        slip = season.add_counts(counts([entry(5)]), EARLY, day=WRONG).act
        season.remove_added([slip])
        assert day_of(season) == ("2026-03-04", "typed")


def test_the_command_says_so(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    def run(*args: object) -> Any:
        return CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")

    file = tmp_path / "s.sqlite"
    run("season", "new", file)
    one = write(tmp_path / "c.json", counts([entry(1, taken_at=CLOCK)]))
    where = ("--farm", "Elm Hill", "--field", "North", "--visit", "early")
    run("season", "add", file, one, *where)
    dated = run("season", "add", file, one, *where, "--date", "2025-03-20").stdout
    number = dated.rstrip().rpartition(" ")[2]
    gone = run("season", "remove", file, "--add", number, "--yes")
    assert gone.exit_code == 0, gone.output
    assert "taken out: the day 2025-03-20, Elm Hill, North, early" in gone.stdout
    assert "is taken back; date of early: 2026-03-04 (by the photos' clocks" in gone.stdout
