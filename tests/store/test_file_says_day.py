"""The day of a visit that a file names: a season's export added to another, or a column."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from tests.store.helpers import NORTH, counts, entry, hand_csv
from tillercount.errors import InputError
from tillercount.handfile import read_hand_counts
from tillercount.store import Season, Where

EARLY = Where("Elm Hill", "North", "early")
DAY = dt.date(2025, 3, 4)


def with_day(path: Path, *rows: str) -> Path:
    path.write_text(
        "spot,observer,plants,shoots,area,visit_date\n" + "".join(f"{row}\n" for row in rows),
        encoding="utf-8",
    )
    return path


def day_of(season: Season, where: Where = NORTH) -> tuple[str, str]:
    date = season.history(where).here.date
    return date.days, date.how


@pytest.fixture
def other(tmp_path: Path) -> Season:
    return Season.create(tmp_path / "other.sqlite", who="Ash")


def test_an_export_keeps_its_day(season: Season, other: Season, tmp_path: Path) -> None:
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n2,Ash,30,90,1 ft2")
    season.add_hand_counts(hand, EARLY, day=DAY)
    out = tmp_path / "out.csv"
    season.export(out, EARLY)
    with other:
        added = other.add_hand_counts(out, NORTH)
        assert added.date == "2025-03-04 (as given), by the file's visit_date"
        assert day_of(other) == ("2025-03-04", "typed")
        assert "dated 2025-03-04" in other.journal(1)[0]["detail"]
        ((_, said),), _ = other.remove_added([added.act])
        assert said == ["gone: visit 'early', field 'North', farm 'Elm Hill'"]


def test_photos_of_an_export_keep_theirs(season: Season, other: Season, tmp_path: Path) -> None:
    season.add_counts(counts([entry(1, taken_at="2025-03-04T09:00:00"), entry(2)]), EARLY)
    out = tmp_path / "out.csv"
    season.export(out, EARLY)
    with other:
        with pytest.raises(InputError, match="2 photo counts of this export left out"):
            other.add_hand_counts(out, EARLY)
        hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
        season.add_hand_counts(hand, EARLY)
        season.export(out, EARLY)
        added = other.add_hand_counts(out, EARLY)
        assert added.new == 1
        assert any("2 photo counts of this export left out" in one for one in added.notes)
        assert day_of(other, EARLY) == ("2025-03-04", "typed")


def test_when_it_was_put_in_says_nothing(season: Season, other: Season, tmp_path: Path) -> None:
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2"), EARLY)
    out = tmp_path / "out.csv"
    season.export(out, EARLY)
    with other:
        assert other.add_hand_counts(out, EARLY).dated == ""
        assert day_of(other, EARLY)[1] == "added"


def test_a_day_typed_goes_before_the_files(season: Season, tmp_path: Path) -> None:
    file = with_day(tmp_path / "h.csv", "1,Ash,20,61,1 ft2,4 March 2025")
    season.add_hand_counts(file, EARLY, day=dt.date(2025, 3, 6))
    assert day_of(season, EARLY) == ("2025-03-06", "typed")
    more = with_day(tmp_path / "i.csv", "2,Ash,20,61,1 ft2,2025-03-04")
    (note,) = season.add_hand_counts(more, EARLY).notes
    assert "visit_date is 2025-03-04, but early is of 2025-03-06 (as given)" in note
    assert day_of(season, EARLY) == ("2025-03-06", "typed")


def test_the_day_of_typing_may_be_the_files_day(season: Season, tmp_path: Path) -> None:
    """Then more that is put in later doesn't move it."""
    season.add_counts(counts([entry(1)]), EARLY)
    today = dt.date.today().isoformat()
    file = with_day(tmp_path / "h.csv", f"7,Ash,20,61,1 ft2,{today}")
    season.add_hand_counts(file, EARLY)
    assert day_of(season, EARLY) == (today, "typed")


def test_a_weekday_that_is_wrong_is_refused(season: Season, tmp_path: Path) -> None:
    file = with_day(tmp_path / "h.csv", "1,Ash,20,61,1 ft2,Fri 4 March 2025")
    wrong = r"row 2, visit_date: 'Fri 4 March 2025' says Friday, but 2025-03-04 is a Tuesday"
    with pytest.raises(InputError, match=wrong):
        season.add_hand_counts(file, EARLY)
    assert season.overview() == []


def test_a_day_put_right_in_the_file_goes_before_the_day_of_typing(
    season: Season, tmp_path: Path
) -> None:
    """Added again, nothing in it is new but the day."""
    north = Where("Elm Hill", "North")
    file = with_day(tmp_path / "h.csv", "1,Ash,20,61,1 ft2,3/4/25")
    season.add_hand_counts(file, north)
    assert day_of(season)[1] == "added"
    again = season.add_hand_counts(with_day(file, "1,Ash,20,61,1 ft2,4 March 2025"), north)
    assert (again.new, again.dated) == (0, "2025-03-04")
    assert day_of(season) == ("2025-03-04", "typed")
    # a day that is known isn't moved by a file that is added once more
    other = season.add_hand_counts(with_day(file, "1,Ash,20,61,1 ft2,6 March 2025"), north)
    assert other.dated == ""
    assert day_of(season) == ("2025-03-04", "typed")


def test_a_column_called_date_says_the_day(season: Season, tmp_path: Path) -> None:
    file = tmp_path / "h.csv"
    rows = "1,20,61,1 ft2,4 March 2025\n2,20,61,1 ft2,2025-03-04\n3,20,61,1 ft2,4 March\n"
    file.write_text(f"spot,plants,shoots,area,Date\n{rows}", encoding="utf-8")
    assert season.add_hand_counts(file, NORTH).dated == "2025-03-04"


def test_the_first_visit_is_called_as_the_file_calls_it(season: Season, tmp_path: Path) -> None:
    file = tmp_path / "h.csv"
    text = "spot,plants,shoots,area,visit\n1,20,61,1 ft2,{}\n"
    file.write_text(text.format("Tillering  walk"), encoding="utf-8")
    assert season.add_hand_counts(file, NORTH).visit == "Tillering walk"
    # the next one isn't: whether it is another visit is for somebody to say
    file.write_text(text.format("late").replace("\n1,", "\n2,"), encoding="utf-8")
    added = season.add_hand_counts(file, NORTH)
    assert added.visit == "Tillering walk"
    assert any("column visit says late" in one for one in added.notes)


def test_what_is_no_day_at_all_is_passed_over(season: Season, tmp_path: Path) -> None:
    rows = ("1,Ash,20,61,1 ft2,morning", "2,Ash,20,61,1 ft2,4 March 2025")
    added = season.add_hand_counts(with_day(tmp_path / "h.csv", *rows), EARLY)
    assert added.dated == "2025-03-04"
    assert any("passed over" in one and "'morning'" in one for one in added.notes)


def test_a_day_that_is_another_one_in_each_reading_isnt_mixed_in(
    season: Season, tmp_path: Path
) -> None:
    """4 March or 3 April: neither is 20 March, and the counts aren't of its walk."""
    season.add_hand_counts(with_day(tmp_path / "h.csv", "1,Ash,20,61,1 ft2,3/20/2025"), NORTH)
    assert day_of(season) == ("2025-03-20", "typed")
    late = with_day(tmp_path / "i.csv", "7,Ash,20,61,1 ft2,3/4/2025")
    with pytest.raises(InputError, match=r"'3/4/2025' is another day, whichever way it is read"):
        season.add_hand_counts(late, NORTH)
    near = with_day(tmp_path / "j.csv", "7,Ash,20,61,1 ft2,3/4/2025")
    season.add_hand_counts(near, replace(NORTH, visit="4 March 2025"))
    assert len(season.history(NORTH).visits) == 2


def test_a_day_that_chains_in_each_reading_isnt_mixed_in(season: Season, tmp_path: Path) -> None:
    """7 March or 3 July lies within three days of the last photos, but not of the first."""
    photos = [entry(n, taken_at=f"2025-03-0{n}T10:00:00") for n in (1, 4)]
    season.add_counts(counts(photos), NORTH)
    late = with_day(tmp_path / "i.csv", "7,Ash,20,61,1 ft2,3/7/2025")
    with pytest.raises(InputError, match=r"'3/7/2025' is another day, whichever way it is read"):
        season.add_hand_counts(late, NORTH)
    near = with_day(tmp_path / "j.csv", "8,Ash,20,61,1 ft2,3/4/2025")
    assert season.add_hand_counts(near, NORTH).new == 1


def test_another_day_isnt_mixed_into_the_last_visit(season: Season, tmp_path: Path) -> None:
    season.add_hand_counts(with_day(tmp_path / "h.csv", "1,Ash,20,61,1 ft2,2025-03-04"), NORTH)
    late = with_day(tmp_path / "i.csv", "7,Ash,20,61,1 ft2,2025-03-20")
    with pytest.raises(InputError, match=r"counts of 2025-03-04 already, and the file's visit_dat"):
        season.add_hand_counts(late, Where("Elm Hill", "North"))


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        (("3/4/25", "3/4/25"), "as no day gone by that can be read: '3/4/25'; give --date DAY"),
        (("2025-03-04", "2025-03-06"), "has several days (2025-03-04, 2025-03-06)"),
    ],
)
def test_a_day_that_cant_be_told_is_said(
    season: Season, tmp_path: Path, cells: tuple[str, str], says: str
) -> None:
    rows = [f"{n},Ash,20,61,1 ft2,{cell}" for n, cell in enumerate(cells, 1)]
    (note,) = season.add_hand_counts(with_day(tmp_path / "h.csv", *rows), EARLY).notes
    assert says in note
    assert day_of(season, EARLY)[1] == "added"


def test_visits_of_several_fields_give_the_first_no_name(season: Season, tmp_path: Path) -> None:
    file = tmp_path / "h.csv"
    rows = "1,20,61,1 ft2,early,Creek\n2,20,61,1 ft2,late,Pole\n"
    file.write_text(f"spot,plants,shoots,area,visit,field\n{rows}", encoding="utf-8")
    assert season.add_hand_counts(read_hand_counts(file), NORTH).visit == "visit 1"
