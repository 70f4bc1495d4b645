"""The year of a visit that is called by a day without one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.store.helpers import NORTH, counts, entry, hand_csv, plan, write
from tillercount.area import parse_area
from tillercount.errors import InputError
from tillercount.store import Season, Where, dating
from tillercount.store.dates import visit_dates
from tillercount.store.dating import day_given
from tillercount.store.whichyear import may_be

FIRST_OF_APRIL = Where("Elm Hill", "North", "1 April")


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


@pytest.mark.parametrize(
    ("text", "put_in", "known", "meant"),
    [
        ("1 April", "2026-04-03", [], ["2026-04-01"]),
        ("1 April", "2026-11-27", [], ["2026-04-01"]),  # typed in fall
        ("1 April", "2026-03-30", [], ["2025-04-01", "2026-04-01"]),  # walked before its day?
        ("1 April", "2026-03-30", ["2026-03-18"], ["2025-04-01", "2026-04-01"]),
        ("1 April", "2026-03-30", ["2025-03-18"], ["2025-04-01"]),  # last year's, typed late
        ("1 April", "2026-03-30", ["2025-03-18", "2026-03-18"], ["2025-04-01", "2026-04-01"]),
        ("1 April", "2026-11-27", ["2025-03-18"], ["2025-04-01"]),  # a season of the year before
        ("1 April", "2026-11-27", ["2025-03-18", "2026-03-20"], ["2026-04-01"]),
        # a day ago, where the year before is all that is known
        ("1 April", "2026-04-02", ["2025-03-18"], ["2025-04-01", "2026-04-01"]),
        ("1 April", "2026-04-02", ["2025-03-18", "2026-03-20"], ["2026-04-01"]),
        ("1 April", "2026-11-27", ["2026-11-20"], ["2026-04-01"]),  # a walk in fall says nothing
        ("1 April 2024", "2026-03-30", ["2026-03-18"], ["2024-04-01"]),
        ("visit 1", "2026-03-30", ["2026-03-18"], []),
        ("31 March", "2026-03-30", [], ["2026-03-31"]),  # tomorrow there
    ],
)
def test_the_days_that_may_be_meant(
    text: str, put_in: str, known: list[str], meant: list[str]
) -> None:
    found = may_be(text, day(put_in), [day(one) for one in known])
    assert sorted(map(str, found)) == meant


def test_doubtful_days_only_raise_a_question() -> None:
    found = may_be("1 April", day("2026-11-27"), [], [day("2024-03-18")])
    assert found == {day("2024-04-01"), day("2026-04-01")}


def put_in_on(season: Season, text: str, act: int | None = None) -> None:
    only = "" if act is None else f" WHERE id = {act}"
    with season.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE acts SET at = '{text}T12:00:00Z'{only}")


def hand(tmp_path: Path, first: int = 1) -> Path:
    return hand_csv(tmp_path / f"h{first}.csv", f"{first},Ash,20,60,1 ft2")


def test_it_is_asked_where_it_cant_be_told(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand(tmp_path), FIRST_OF_APRIL)
    put_in_on(season, "2026-03-30")
    date = season.history(FIRST_OF_APRIL).here.date
    assert (date.days, date.how) == ("2026-03-30", "added")
    assert date.known_by == (
        "2026-03-30 (the day it was put in: another? Give --date; by its name it may be of "
        "2025-04-01 or 2026-04-01)"
    )


def test_the_year_of_the_seasons_photos(season: Season, tmp_path: Path) -> None:
    """Last year's notes, typed a few weeks before the day comes round again."""
    south = Where("Elm Hill", "South")
    season.add_counts(counts([entry(9, taken_at="2025-03-18T10:00:00")]), south)
    season.add_hand_counts(hand(tmp_path), FIRST_OF_APRIL)
    put_in_on(season, "2026-02-20")
    date = season.history(FIRST_OF_APRIL).here.date
    assert (date.days, date.how) == ("2025-04-01", "name")


def test_one_field_and_all_of_them_say_the_same(season: Season, tmp_path: Path) -> None:
    """A doubtful clock of one field doesn't raise a question in another one."""
    clock = counts([entry(9, taken_at="2024-03-18T10:00:00")])
    season.add_counts(clock, Where("Elm Hill", "South", "visit 1"))
    season.add_hand_counts(hand(tmp_path, 2), Where("Elm Hill", "South", "5 March"))
    season.add_hand_counts(hand(tmp_path), FIRST_OF_APRIL)
    put_in_on(season, "2026-11-20")
    with season.engine.begin() as connection:
        every = visit_dates(connection)
        for field in (1, 2):
            assert {**every, **visit_dates(connection, field)} == every
    assert season.history(FIRST_OF_APRIL).here.date.days == "2026-04-01"


def test_a_season_of_the_year_before(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand(tmp_path), NORTH, day=day("2025-03-18"))
    season.add_hand_counts(hand(tmp_path, 2), FIRST_OF_APRIL)
    put_in_on(season, "2026-11-20")
    assert season.history(FIRST_OF_APRIL).here.date.days == "2025-04-01"


def test_a_day_that_is_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    class Then(dt.date):
        @classmethod
        def today(cls) -> dt.date:
            return day("2026-03-30")

    monkeypatch.setattr(dating.dt, "date", Then)
    with pytest.raises(InputError, match=r"may be 2025-04-01 or 2026-04-01, and nothing says wh"):
        day_given("1 April", planned=False)
    with pytest.raises(InputError, match="give its year too"):
        day_given("1 April", planned=False, near=[day("2026-03-18")])
    assert day_given("1 April", planned=False, near=[day("2025-03-30")]) == day("2025-04-01")
    assert day_given("1 April", planned=True) == day("2026-04-01")
    assert day_given("20 March", planned=False) == day("2026-03-20")
    assert day_given("1 April 2025", planned=False) == day("2025-04-01")


def test_such_a_weekday_is_asked_about_before_photos_are_counted(
    season: Season, tmp_path: Path
) -> None:
    """Of the last such day; where the year isn't told, of none that it may be of."""
    area, photo = parse_area("square:12in"), {"a" * 64: "a.jpg"}
    then = dt.date.today() - dt.timedelta(days=60)
    right, wrong = (
        Where("Elm Hill", "North", f"{one:%A} {then.day} {then:%B}")
        for one in (then, then + dt.timedelta(days=3))
    )
    with pytest.raises(InputError, match=rf"but {then} is a {then:%A}; which is .*, with its year"):
        season.check_photos(photo, area, wrong, None, False, clocks=False)
    season.check_photos(photo, area, wrong, None, False)  # a clock tells it
    season.check_photos(photo, area, wrong, day("2025-03-20"), False, clocks=False)
    season.check_photos(photo, area, right, None, False, clocks=False)
    with pytest.raises(InputError, match="which is right"):
        season.add_counts(counts([entry(1)]), wrong)
    assert season.add_counts(counts([entry(1, taken_at=f"{then}T09:30:00")]), wrong).new == 1
    with pytest.raises(InputError, match="which is right"):
        season.add_plan(
            write(tmp_path / "p.geojson", plan([(0, 0)])),
            Where("Elm Hill", "South", "Fri 4 March 2025"),
        )
