"""One sheet of hand counts for several fields, spots numbered anew in each."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tillercount.cli.app import app

SHEET = """spot,field,observer,plants,shoots,area
1,Willow,Ash,24,70,1 ft2
2,Willow,Ash,26,75,1 ft2
3,Willow,Ash,25,75,1 ft2
1,Dune,Ash,12,30,1 ft2
2,Dune,Ash,11,28,1 ft2
3,Dune,Ash,10,27,1 ft2
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "two.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


@pytest.mark.parametrize(("field", "mean"), [("Willow", 25), ("dune", 11)])
def test_assess_takes_the_field_that_is_named(sheet: Path, field: str, mean: float) -> None:
    out = sheet.with_name("a.json")
    args = ["assess", str(sheet), "--rules", "common-practice", "--stage", "Feekes 3"]
    done = CliRunner().invoke(app, [*args, "--field", field, "--json", str(out)])
    assert done.exit_code == 0, done.stderr
    assert "left out: 3 rows of" in done.stderr
    plants = json.loads(out.read_text("utf-8"))["field"]["plants_per_ft2"]
    assert plants["mean"] == pytest.approx(mean)


def test_a_mean_of_two_fields_is_refused(sheet: Path) -> None:
    sheet.write_text(SHEET.replace("1,Dune", "4,Dune").replace("2,Dune", "5,Dune"), "utf-8")
    done = CliRunner().invoke(app, ["assess", str(sheet), "--rules", "common-practice"])
    assert done.exit_code == 2
    assert "names 2 fields (Willow, Dune)" in done.stderr


@pytest.mark.parametrize(
    "args",
    [
        ["nitrogen", "--yield-goal", "60 bu/ac"],
        ["report", "--rules", "common-practice", "--stage", "Feekes 3", "--html", "r.html"],
    ],
)
def test_so_do_nitrogen_and_report(
    sheet: Path, args: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(sheet.parent)
    command = [args[0], str(sheet), *args[1:]]
    done = CliRunner().invoke(app, [*command, "--field", "Dune"])
    assert done.exit_code == 0, done.stderr
    asked = CliRunner().invoke(app, command)
    assert asked.exit_code == 2
    assert "names 2 fields (Willow, Dune)" in asked.stderr


def test_a_season_gets_the_rows_of_each_field(sheet: Path) -> None:
    file = str(sheet.with_name("s.sqlite"))
    run = CliRunner().invoke
    run(app, ["season", "new", file])
    for field in ("Willow", "Dune"):
        done = run(app, ["season", "add", file, str(sheet), "--farm", "Low", "--field", field])
        assert "3 hand counts added" in done.stdout
        assert f"3 rows are of {field}; left out: 3 rows of" in done.stdout
    shown = run(app, ["season", "show", file, "--field", "Dune"]).stdout
    assert "11" in shown
    wrong = run(app, ["season", "add", file, str(sheet), "--farm", "Low", "--field", "Pole"])
    assert wrong.exit_code == 2
    assert "none is 'Pole'" in wrong.stderr
    assert "Pole" not in run(app, ["season", "show", file]).stdout
