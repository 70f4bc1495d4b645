"""Rows and files of several visits aren't pooled without a word."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from tillercount.errors import InputError
from tillercount.field import collect
from tillercount.handfile import read_hand_counts

HEAD = "spot,observer,plants,shoots,area,visit\n"


def sheet(path: Path, *rows: str, head: str = HEAD) -> Path:
    path.write_text(head + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def test_two_visits_in_one_sheet_are_refused_once_with_what_to_do(tmp_path: Path) -> None:
    rows = [f"{n},JM,2{n},80,1 ft2,6 March" for n in range(3)]
    rows += [f"{n},JM,1{n},60,1 ft2,20 March" for n in range(3)]
    with pytest.raises(InputError, match=r"row 5: 20 March, but rows above are of 6 March") as said:
        read_hand_counts(sheet(tmp_path / "a.csv", *rows))
    text = str(said.value)
    assert text.count("rows above are of") == 1
    assert "already" not in text  # the second visit's rows are no slips of their own
    assert "filter the column visit" in text
    assert "write the same visit in all rows" in text
    assert 'tillercount season add SEASON FILE --visit "20 March" --date DAY' in text


def test_one_visit_however_it_is_written(tmp_path: Path) -> None:
    rows = ["1,JM,28,80,1 ft2,Visit 1", "2,JM,30,82,1 ft2,visit  1", "3,JM,30,82,1 ft2,"]
    counts = read_hand_counts(sheet(tmp_path / "a.csv", *rows))
    assert [count.visit for count in counts] == ["Visit 1", "visit 1", ""]


def test_a_field_however_it_is_written(tmp_path: Path) -> None:
    head = HEAD.replace("visit", "visit,field")
    rows = ["1,JM,28,80,1 ft2,6 March,Creek field", "2,JM,30,82,1 ft2,8 March,creek  field"]
    with pytest.raises(InputError, match="8 March of creek  field, but rows above are of 6 March"):
        read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=head))
    one, two = (sheet(tmp_path / f"{n}.csv", row, head=head) for n, row in enumerate(rows))
    with pytest.raises(InputError, match="is of 8 March, but"):
        collect([one, two])


def test_visits_of_different_fields_are_kept_apart_elsewhere(tmp_path: Path) -> None:
    head = HEAD.replace("visit", "visit,field")
    rows = ["1,JM,28,80,1 ft2,6 March,Creek", "2,JM,30,82,1 ft2,8 March,Pole"]
    assert len(read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=head))) == 2


def test_two_files_of_two_visits(tmp_path: Path) -> None:
    one = sheet(tmp_path / "a.csv", "1,JM,28,80,1 ft2,early", "2,JM,30,82,1 ft2,early")
    two = sheet(tmp_path / "b.csv", "3,JM,28,80,1 ft2,late")
    with pytest.raises(InputError, match=r"b\.csv is of late, but .*a\.csv is of early"):
        collect([one, two])
    same = sheet(tmp_path / "c.csv", "3,JM,28,80,1 ft2,Early")
    assert len(collect([one, same]).spots) == 3


def test_the_command_gives_no_verdict(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    file = sheet(tmp_path / "a.csv", "1,JM,28,80,1 ft2,early", "2,JM,30,82,1 ft2,late")
    done = CliRunner().invoke(app, ["assess", str(file), "--stage", "Feekes 3"])
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "two visits aren't one stand: judge one at a time" in done.stderr


DAYS = "spot,plants,shoots,area,{}\n"


@pytest.mark.parametrize("column", ["visit_date", "date", "Date"])
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("4 March", "12 March"),
        ("4 March 2025", "2026-03-04"),
        ("2026-03-04 09:15", "2026-03-08T10:00:00"),
        ("3/4/2026", "3/12/2026"),  # two visits in either country's reading
    ],
)
def test_days_of_two_visits_are_refused_before_spots_counted_twice(
    tmp_path: Path, column: str, first: str, second: str
) -> None:
    rows = [f"{n},28,80,1 ft2,{day}" for day in (first, second) for n in (1, 2)]
    with pytest.raises(InputError) as said:
        read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=DAYS.format(column)))
    text = str(said.value)
    assert f"row 4: {second}, but rows above are of {first}; two visits aren't one stand" in text
    assert f"filter the column {column.lower()} in" in text
    assert "write the same day in all rows" in text
    assert "already" not in text


@pytest.mark.parametrize(
    "days",
    [
        ("4 March", "5 March", "7 March"),
        ("4 March 2025", "2025-03-04", "March 4", "Tue 4 March"),
        ("31 December", "2 January"),
        ("3/4/2026", "4 March 2026"),
        ("morning", "noon", ""),
    ],
)
def test_days_of_one_visit(tmp_path: Path, days: tuple[str, ...]) -> None:
    rows = [f"{n},28,80,1 ft2,{day}" for n, day in enumerate(days)]
    counts = read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=DAYS.format("date")))
    assert [count.visit_date for count in counts] == list(days)


def test_the_days_of_one_visit_are_held_together_from_first_to_last(tmp_path: Path) -> None:
    rows = [f"{n},28,80,1 ft2,{n} March" for n in (4, 2, 6)]
    with pytest.raises(InputError, match="row 4: 6 March, but rows above are of 2 March"):
        read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=DAYS.format("date")))


def test_a_date_beside_a_visit_date_is_the_users_own(tmp_path: Path) -> None:
    head = DAYS.format("visit_date,date")
    rows = ["1,28,80,1 ft2,4 March,30 Feb", "2,28,80,1 ft2,4 March,1 May"]
    counts = read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=head))
    assert {count.visit_date for count in counts} == {"4 March"}


@pytest.mark.parametrize(
    ("cell", "says"),
    [
        ("30 Feb", "'30 Feb' is no day that there is"),
        ("2026-02-30", "'2026-02-30' is no day that there is"),
        ("Fri 4 March 2026", "'Fri 4 March 2026' says Friday, but 2026-03-04 is a Wednesday"),
    ],
)
def test_a_day_that_cant_be_is_refused_with_its_row(tmp_path: Path, cell: str, says: str) -> None:
    rows = ["1,28,80,1 ft2,4 March 2026", f"2,28,80,1 ft2,{cell}", f"3,28,80,1 ft2,{cell}"]
    with pytest.raises(InputError) as said:
        read_hand_counts(sheet(tmp_path / "a.csv", *rows, head=DAYS.format("date")))
    assert f"a.csv, row 3, date: {says}" in str(said.value)
    assert "every row that has it" in str(said.value)


def test_two_files_of_two_days(tmp_path: Path) -> None:
    head = DAYS.format("date")
    files = [
        sheet(tmp_path / f"{n}.csv", f"{n},28,80,1 ft2,{day}", head=head)
        for n, day in enumerate(("4 March", "6 March", "12 March"))
    ]
    assert len(collect(files[:2]).spots) == 2
    with pytest.raises(InputError, match=r"2\.csv is of 12 March, but .*0\.csv is of 4 March"):
        collect(files)


def test_the_command_says_what_it_passed_over(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    rows = [f"{n},28,80,1 ft2,morning" for n in range(4)]
    file = sheet(tmp_path / "a.csv", *rows, head=DAYS.format("date"))
    done = CliRunner().invoke(app, ["assess", str(file), "--stage", "Feekes 3"])
    assert done.exit_code == 0
    assert "passed over in the column visit_date or date" in done.stderr
    assert "'morning'" in done.stderr
