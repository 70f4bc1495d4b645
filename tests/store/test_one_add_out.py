"""All that one adding brought goes, and what it took the place of holds again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.store import Season, Where

LARGE = {"kind": "square", "text": "square:533.4mm", "typed": "square:21in", "ft2": 3.0625}


def test_photos_and_replaced_counts(season: Season) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    before = season.summary(NORTH).estimate
    slip = season.add_counts(counts([entry(n, area=LARGE) for n in (2, 3)]), NORTH)
    assert season.summary(NORTH).estimate != before
    assert season.brought([slip.act]) == [
        "1 photo, 1 newer count of a photo (IMG_3.jpg, IMG_2.jpg), Elm Hill, North, visit 1"
    ]
    ((_, said),), copy = season.remove_added([slip.act])
    assert said == ["1 count that stood before holds again (IMG_2.jpg)"]
    assert season.summary(NORTH).estimate == before
    assert (copy is None) == (season.engine.dialect.name != "sqlite")
    assert not [one for one in season.check() if one.level == "bad"]
    with pytest.raises(InputError, match="nothing of number"):
        season.remove_added([slip.act])
    again = season.add_counts(counts([entry(3, area=LARGE)]), NORTH)  # comes back by its file
    assert [one.photo for one in again.placed] == ["IMG_3.jpg"]


def test_hand_counts_that_replaced_others(season: Season, tmp_path: Path) -> None:
    right = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n2,Ash,30,90,1 ft2")
    season.add_hand_counts(right, NORTH)
    before = season.summary(NORTH).estimate
    slip = hand_csv(tmp_path / "i.csv", "2,Ash,35,95,1 ft2\n3,Ash,10,30,1 ft2")
    act = season.add_hand_counts(slip, NORTH, replace=True).act
    ((_, said),), _ = season.remove_added([act])
    assert said == ["1 count that stood before holds again (2)"]
    assert season.summary(NORTH).estimate == before
    with season.engine.connect() as connection:  # ended, not erased
        assert connection.scalar(text("SELECT count(*) FROM hand_counts")) == 5


def test_a_photo_put_to_another_spot_since_goes_too(season: Season) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    act = season.add_counts(counts([entry(3)]), NORTH).act
    season.assign("IMG_3.jpg", "IMG_2")
    season.remove_added([act])
    assert [one.photo for one in season.placed(NORTH)] == ["IMG_1.jpg", "IMG_2.jpg"]


def test_a_photo_that_was_only_placed_anew_stays(season: Season, tmp_path: Path) -> None:
    """The second adding found a spot for it; it was there before."""
    season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)])), NORTH)
    season.add_counts(counts([entry(1), entry(2, spot="2")]), NORTH)
    act = season.add_counts(counts([entry(1, spot="1"), entry(4, spot="1")]), NORTH).act
    assert {one.photo: one.spot for one in season.placed(NORTH)}["IMG_1.jpg"] == "1"
    season.remove_added([act])
    assert {one.photo for one in season.placed(NORTH)} == {"IMG_1.jpg", "IMG_2.jpg"}


def test_a_visit_made_by_mistake_goes(file_season: Season, tmp_path: Path) -> None:
    season = file_season
    season.add_counts(counts([entry(1)]), NORTH)
    wrong = Where("Elm Hill", "South")
    planned = season.add_plan(write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)])), wrong)
    counted = season.add_counts(counts([entry(2, spot="1")]), wrong)
    done, _ = season.remove_added([planned.act, counted.act])
    assert [row["field"] for row in season.overview()] == ["North"]
    assert "gone: visit 'visit 1', field 'South'" in done[-1][1]
    assert any("the plan with 2 spots" in line for _, said in done for line in said)


def test_only_addings_can_be_named(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    season.rename(NORTH, "South", "field")
    number = season.journal()[0]["id"]
    with pytest.raises(InputError, match="is 'rename', which added nothing"):
        season.remove_added([number])
    with pytest.raises(InputError, match="isn't in the journal"):
        season.brought([99])


def test_the_command_that_adding_says_can_be_typed(tmp_path: Path) -> None:
    import shlex

    from tillercount.cli.app import app

    def run(*args: object) -> Any:
        return CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")

    file = tmp_path / "my season.sqlite"
    run("season", "new", file)
    one = write(tmp_path / "c.json", counts([entry(1)]))
    home = ("--farm", "Elm Hill", "--field", "Home")
    run("season", "add", file, one, *home)
    two = write(tmp_path / "d.json", counts([entry(2)]))
    assert "a slip?" not in run("season", "add", file, one).stdout  # which brought nothing
    said = run("season", "add", file, two, "--field", "Lane", "--farm", "Elm Hill").stdout
    assert "1 count added" in said
    (line,) = [one for one in said.splitlines() if one.startswith("a slip? ")]
    command = shlex.split(line[line.index("tillercount season remove") :])[1:]
    assert "nobody answered" in run(*command).stderr
    assert "1 photo (IMG_2.jpg), Elm Hill, Lane, visit 1?" in run(*command).stdout
    gone = run(*command, "--yes")
    assert gone.exit_code == 0, gone.output
    assert "taken out: 1 photo (IMG_2.jpg), Elm Hill, Lane, visit 1" in gone.stdout
    assert "Lane" not in run("season", "show", file).stdout
    log = run("season", "show", file, "--log").stdout
    assert f"   {command[-1]}  " in log  # the number stands before the day
    # in words that hold on every system, and what they say works
    said = " ".join(gone.stdout.split())
    assert f"delete {file.name} (and {file.name}-wal and {file.name}-shm, if they are" in said
    assert f"rename that copy to {file.name}" in said
    assert "cp " not in gone.stdout
    (copy,) = tmp_path.glob("my season.before-remove.*.sqlite")
    assert str(copy) in gone.stdout
    file.unlink()
    copy.rename(file)
    assert "Lane" in run("season", "show", file).stdout
