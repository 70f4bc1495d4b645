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
