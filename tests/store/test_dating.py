"""The day of a visit: typed, by photos, by its name; said, kept and exported."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, at, counts, entry, hand_csv, plan, write
from tillercount.area import parse_area
from tillercount.days import without_year
from tillercount.errors import InputError
from tillercount.store import Season, Where
from tillercount.store.dating import day_given
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


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("31 Feb", "there is no such day"),
        ("2027-02-31", "there is no such day"),
        ("32 March", "there is no such day"),
        ("3/4/2026", "it may be 2026-03-04 or 2026-04-03"),
        ("3/4", r"it may be \d{4}-03-04 or \d{4}-04-03"),
        ("3.4.", r"it may be \d{4}-03-04 or \d{4}-04-03"),
        ("18/3", r"it has no year \(\d{4}-03-18\?\)"),
        ("2/31", "there is no such day"),
    ],
)
def test_a_visit_named_after_no_day_or_two_is_asked_about(
    season: Season, tmp_path: Path, name: str, why: str
) -> None:
    where = Where("Elm Hill", "North", name)
    with pytest.raises(InputError, match=f"looks like a day, but {why}"):
        season.add_hand_counts(hand(tmp_path), where)
    assert season.overview() == []
    # photos' clocks or --date tell it as well
    assert season.add_counts(counts([entry(1, taken_at="2027-03-04T09:30:00")]), where).date
    assert season.add_hand_counts(hand(tmp_path), Where("Elm Hill", "South", name), day=DAY).date
    # and a visit that is there already keeps its name
    assert season.add_hand_counts(hand(tmp_path, 9), where).new == 3


@pytest.mark.parametrize("name", ["2027-02-31", "3/4"])
def test_such_a_name_is_asked_about_before_photos_are_counted(
    season: Season, tmp_path: Path, name: str
) -> None:
    where, area = Where("Elm Hill", "North", name), parse_area("square:12in")
    with pytest.raises(InputError, match=r"there is no such day|it may be"):
        season.check_photos({"a" * 64: "a.jpg"}, area, where, None, False, clocks=False)
    season.check_photos({"a" * 64: "a.jpg"}, area, where, None, False)  # a clock tells it
    season.check_photos({"a" * 64: "a.jpg"}, area, where, DAY, False, clocks=False)
    season.add_hand_counts(hand(tmp_path), where, day=DAY)
    season.check_photos({"a" * 64: "a.jpg"}, area, where, None, False, clocks=False)  # it is there


@pytest.mark.parametrize("name", ["3-4", "3.4", "1/40", "13/14", "0/3", "visit 3/4"])
def test_other_figures_are_a_visits_name(season: Season, tmp_path: Path, name: str) -> None:
    assert season.add_hand_counts(hand(tmp_path), Where("Elm Hill", "North", name)).new == 3


def test_figures_without_a_year_are_of_the_last_such_day() -> None:
    today = dt.date(2026, 3, 20)
    assert without_year("3/4", today) == (dt.date(2025, 4, 3), dt.date(2026, 3, 4))
    assert without_year("29.2.", today) == (dt.date(2024, 2, 29),)
    assert without_year("4/4", today) == (dt.date(2025, 4, 4),)
    assert without_year("2/31", today) == ()


def test_a_day_typed_comes_first(season: Season, tmp_path: Path) -> None:
    given = counts([entry(1, taken_at="2001-01-01T09:30:00")])
    assert season.add_counts(given, FOURTH).date == (
        "2001-01-01 (by the photos' clocks; are the clocks right? Else give --date; its name says "
        "2027-03-04)"
    )
    added = season.add_counts(given, FOURTH, day=DAY)
    assert added.date == (
        "2027-03-20 (as given; its photos' clocks say 2001-01-01; its name says 2027-03-04); "
        "until now 2001-01-01"
    )
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
        connection.exec_driver_sql("DROP TABLE former_names")
        connection.exec_driver_sql("DROP TABLE days")
        connection.exec_driver_sql("ALTER TABLE visits DROP COLUMN day")
        connection.exec_driver_sql("UPDATE season SET value = '1' WHERE key = 'schema'")
    engine.dispose()
    with Season.open(file, who="Ash") as season:
        assert season.copy is not None
        added = season.add_hand_counts(hand(tmp_path), FOURTH, day=DAY)
        assert added.date == (
            "2027-03-20 (as given; its name says 2027-03-04); until now 2027-03-04"
        )


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


def put_in(season: Season, verb: str, at: str) -> None:
    """As if the acts of a verb had been done then."""
    with season.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE acts SET at = '{at}' WHERE verb = '{verb}'")


def test_known_photos_date_the_visit_they_lie_in(season: Season) -> None:
    early, late = (Where("Elm Hill", "North", name) for name in ("early", "late"))
    last = Where("Elm Hill", "North")
    first, second = counts([entry(1), entry(2)]), counts([entry(3), entry(4)])
    season.add_counts(first, early, day=dt.date(2026, 3, 4))
    season.add_counts(second, late, day=dt.date(2026, 4, 4))
    again = season.add_counts(first, last, day=dt.date(2026, 3, 5))
    assert (again.visit, again.date) == ("early", "2026-03-05 (as given); until now 2026-03-04")
    assert "dated 2026-03-05" in season.journal(1)[0]["detail"]
    days = [one.date.text for one in season.history(late).visits]
    assert days == ["2026-03-05", "2026-04-04"]
    unclear = r"which visit is meant isn't clear; give --visit"
    with pytest.raises(InputError, match=unclear):
        season.add_counts(counts([entry(1), entry(3)]), last, day=DAY)
    with pytest.raises(InputError, match=unclear):
        season.date_visit(last, DAY, [("North", "early"), ("North", "late")])
    said = season.date_visit(last, DAY, [("North", "early"), ("West", "late")])
    assert said.startswith("date of early: 2027-03-20 (as given); until now 2026-03-05\n")


def test_a_plan_long_before_is_for_the_next_such_day(season: Season, tmp_path: Path) -> None:
    fourth = Where("Elm Hill", "North", "4 March")
    season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0), (100, 0)])), fourth)
    put_in(season, "add plan", "2026-12-20T12:00:00Z")
    assert season.history(fourth).here.date.days == "2027-03-04"


def test_counts_without_a_clock_arent_of_a_day_to_come(season: Season) -> None:
    fourth = Where("Elm Hill", "North", "4 March")
    season.add_counts(counts([entry(1)]), fourth)
    put_in(season, "add counts", "2027-01-10T12:00:00Z")
    assert season.history(fourth).here.date.days == "2026-03-04"


def test_a_count_replaced_years_later_leaves_the_day(season: Season, tmp_path: Path) -> None:
    fourth = Where("Elm Hill", "North", "4 March")
    season.add_hand_counts(hand(tmp_path), fourth)
    put_in(season, "add hand counts", "2020-03-06T12:00:00Z")
    rows = "\n".join(f"{1 + n},Ash,{30 + n},90,1 ft2" for n in range(3))
    other = hand_csv(tmp_path / "o.csv", rows)
    assert season.add_hand_counts(other, fourth, replace=True).new == 3
    assert season.history(fourth).here.date.days == "2020-03-04"


def test_a_visit_that_was_dated_by_its_name_keeps_its_day(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand(tmp_path), FOURTH)
    season.rename(FOURTH, "before jointing", "visit")
    now = season.history(Where("Elm Hill", "North", "before jointing")).here.date
    assert (now.days, now.how) == ("2027-03-04", "typed")
    sixth = Where("Elm Hill", "South", "4 March 2027")
    season.add_hand_counts(hand(tmp_path), sixth)
    season.rename(sixth, "6 March 2027", "visit")  # a slip put right
    now = season.history(Where("Elm Hill", "South", "6 March 2027")).here.date
    assert (now.days, now.how) == ("2027-03-06", "name")


def test_an_order_that_is_guessed_is_said(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand(tmp_path), NORTH)
    backlog = Where("Elm Hill", "North", "early")
    notes = season.add_hand_counts(hand(tmp_path, 4), backlog, day=dt.date(2020, 3, 1)).notes
    (said,) = (note for note in notes if "taken to be before" in note)
    assert said.startswith("MIND: visit 1, of which no day is known, is taken to be before early")
    assert '--visit "visit 1" --date DAY' in said
    assert season.history(NORTH).here.name == "early"
    assert season.history(NORTH).guessed == ("visit 1",)
    today = Where("Elm Hill", "North", "visit 1")
    assert season.add_hand_counts(hand(tmp_path), today, day=dt.date.today()).new == 0
    assert season.history(NORTH).here.name == "visit 1"
    assert season.history(NORTH).guessed == ()


def test_tomorrow_where_the_clock_is_a_zone_behind() -> None:
    to_come = dt.date.today() + dt.timedelta(days=1)
    text = f"{to_come.day} {to_come:%B}"
    assert day_given(text, planned=False) == to_come
    with pytest.raises(InputError, match="which is to come"):
        day_given((to_come + dt.timedelta(days=1)).isoformat(), planned=False)


@pytest.mark.parametrize(("days", "asked"), [(0, False), (300, False), (400, True), (-9, True)])
def test_clocks_that_cant_be_right_are_asked_about(season: Season, days: int, asked: bool) -> None:
    taken = dt.date.today() - dt.timedelta(days=days)
    added = season.add_counts(counts([entry(1, taken_at=f"{taken}T09:00:00")]), NORTH)
    assert added.date.startswith(f"{taken} (by the photos' clocks")
    assert ("are the clocks right?" in added.date) is asked


@pytest.mark.parametrize("odd", ["soon", "", "2027:03:04 10:00:00"])
def test_a_time_that_is_none_says_nothing(season: Season, odd: str) -> None:
    """Of a counts file that another program or a person wrote; the season must stay readable."""
    both = [entry(1, taken_at=odd), entry(2, taken_at="2027-03-05T09:00:00")]
    assert season.add_counts(counts(both[:1]), NORTH).date.startswith(f"{dt.date.today()} (the day")
    assert season.add_counts(counts(both), NORTH).date.startswith("2027-03-05 (by the photos'")
    assert season.overview()[0]["date"] == "2027-03-05"


def test_a_weekday_in_the_name_that_is_wrong_is_asked_about(
    season: Season, tmp_path: Path
) -> None:
    tuesday = Where("Elm Hill", "North", "Tue 4 March 2025")  # which it was
    assert season.add_hand_counts(hand(tmp_path), tuesday).date == (
        "2025-03-04 (from the visit's name)"
    )
    friday = Where("Elm Hill", "South", "Fri 4 March 2025")
    wrong = "'Fri 4 March 2025' says Friday, but 2025-03-04 is a Tuesday"
    with pytest.raises(InputError, match=f"--visit {wrong}; which is right"):
        season.add_hand_counts(hand(tmp_path), friday)
    assert len(season.overview()) == 1
    # --date tells it, and a visit that is there keeps its name, with the question beside its day
    season.add_hand_counts(hand(tmp_path), friday, day=DAY)
    season.rename(tuesday, "Fri 4 March 2025", "visit")
    date = season.history(Where("Elm Hill", "North", "Fri 4 March 2025")).here.date
    asked = f"{wrong}: which is right? Give --date"
    assert date.known_by == f"2025-03-04 (from the visit's name; {asked})"


def test_a_day_without_its_year_goes_by_the_photos_added_with_it(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    def run(*args: Any) -> Any:
        return CliRunner().invoke(app, ["season", *map(str, args)], prog_name="tillercount")

    file = tmp_path / "s.sqlite"
    run("new", file, "--who", "Ash")
    photos = write(tmp_path / "c.json", counts([entry(1, taken_at="2024-03-06T09:30:00")]))
    where = ("--farm", "Elm Hill", "--field", "North", "--visit", "early", "--who", "Ash")
    done = run("add", file, photos, *where, "--date", "4 March")
    assert "date of early: 2024-03-04 (as given; its photos' clocks say 2024-03-06)" in done.output
    wrong = run("add", file, photos, *where, "--date", "Fri 4 March 2025")
    assert wrong.exit_code == 2
    assert "says Friday, but 2025-03-04 is a Tuesday" in wrong.stderr
