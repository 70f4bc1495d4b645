"""``tillercount season`` as a user runs it."""

from __future__ import annotations

import contextlib
import csv
import json
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.cli.helpers import StandIn, tillercount, write_photo
from tests.store.helpers import at, counts, entry, hand_csv, plan, write
from tillercount.names import in_command

Run = Callable[..., Any]
NORTH = ("--farm", "Elm Hill", "--field", "North", "--who", "Ash")


@pytest.fixture
def run() -> Run:
    from tillercount.cli.app import app

    def go(*args: object) -> Any:
        return CliRunner().invoke(app, [str(arg) for arg in args], prog_name="tillercount")

    return go


@pytest.fixture
def file(tmp_path: Path, run: Run) -> Path:
    made = tmp_path / "season.sqlite"
    result = run("season", "new", made, "--who", "Ash")
    assert result.exit_code == 0, result.output
    return made


def test_a_morning(tmp_path: Path, run: Run, file: Path) -> None:
    near = at(103, 0)
    planned = write(tmp_path / "plan.geojson", plan([(0, 0), (100, 0)], by_hand=[True, False]))
    photos = [entry(1, lat=near[0], lon=near[1]), entry(2)]
    given = write(tmp_path / "c.json", counts(photos))
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    result = run("season", "add", file, hand, given, planned, *NORTH)
    assert result.exit_code == 0, result.output
    assert "2 planned spots added to Elm Hill, North, visit 1" in result.stdout
    assert "IMG_1.jpg: spot 2 by position, 10 ft (3 m) away" in result.stdout
    assert "IMG_2.jpg: no spot (the photo has neither a position nor a time)" in result.stdout
    assert "1 at no spot, so not in the mean" in result.stdout
    assert f"tillercount season assign {in_command(str(file))} PHOTO SPOT --field North" in (
        result.stdout
    )
    again = run("season", "add", file, planned, given, hand)  # the only farm and field
    assert "0 counts added to Elm Hill, North, visit 1, 2 known already" in again.stdout
    assert run("season", "assign", file, "IMG_2.jpg", "1").stdout == "IMG_2.jpg: spot 1 by hand\n"
    fixed = run("season", "correct", file, "IMG_1.jpg", "--plants", "25", "--who", "Birch")
    assert "IMG_1.jpg: plants 25 (the model: 21)" in fixed.stdout
    shown = run("season", "show", file, "--photos")
    assert shown.exit_code == 0
    assert "plants: 23 per ft²" in shown.stdout
    assert "2 spots planned, 0 of them still to count" in shown.stdout
    assert "1 photo corrected by a person" in shown.stdout
    log = run("season", "show", file, "--log").stdout.splitlines()
    assert "Birch: correct IMG_1.jpg" in log[0]
    assert len(log) == 8
    assert "counts written" in run("season", "export", file, tmp_path / "a.csv").stdout
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as opened:
        assert [row["plants"] for row in csv.DictReader(opened)] == ["25.0", "22.0", "20.0"]
    checked = run("season", "check", file)
    assert checked.exit_code == 0
    assert "the file is whole" in checked.stdout


def test_photos_that_are_there_still_get_their_day(
    tmp_path: Path, run: Run, file: Path, stand_in: StandIn
) -> None:
    (tmp_path / "photos").mkdir()
    write_photo(tmp_path / "photos" / "a.png", 20)
    add = ("season", "add", file, tmp_path / "photos", "--area", "square:12in", *NORTH)
    assert run(*add).exit_code == 0
    again = run(*add, "--date", "20 March 2025")
    assert again.exit_code == 0, again.output
    assert "date of visit 1: 2025-03-20 (as given)" in again.output
    assert len(stand_in.seen) == 1


def test_the_drills_spacing_is_kept_with_the_photos(
    tmp_path: Path, run: Run, file: Path, stand_in: StandIn
) -> None:
    (tmp_path / "photos").mkdir()
    write_photo(tmp_path / "photos" / "a.png", 20)
    add = ["season", "add", file, tmp_path / "photos", "--area", "square:12in", *NORTH]
    wrong = run(*add, "--row-spacing", "7.5")
    assert wrong.exit_code == 2
    assert not stand_in.seen
    assert run(*add, "--row-spacing", "7.5 in").exit_code == 0
    with contextlib.closing(sqlite3.connect(file)) as opened:
        ((record,),) = opened.execute("SELECT record FROM predictions").fetchall()
    assert json.loads(record)["drill_rows"] == "7.5 in"
    later = run(*add, "--row-spacing", "10 in").output
    assert "those counted already, give --again too" in " ".join(later.split())


def test_photos_are_counted_once(tmp_path: Path, run: Run, file: Path, stand_in: StandIn) -> None:
    folder = tmp_path / "north"
    folder.mkdir()
    for number in range(3):
        write_photo(folder / f"p{number}.png", 20 + number)
    before = {path: path.read_bytes() for path in folder.iterdir()}
    result = run("season", "add", file, folder, "--area", "square:12in", *NORTH)
    assert result.exit_code == 0, result.output
    assert "3 photos: 3 counts added" in result.stdout
    write_photo(folder / "p3.png", 30)
    again = run("season", "add", file, folder, "--area", "square:12in", *NORTH)
    assert "3 photos with a count of this area already" in again.stdout
    assert "1 photo: 1 count added" in again.stdout
    assert len(stand_in.seen) == 4
    assert {path: path.read_bytes() for path in before} == before
    assert not list(tmp_path.glob("*.partial"))
    checked = run("season", "check", file, "--photos", tmp_path)
    assert "4 photos are as they were" in checked.stdout
    write_photo(folder / "p3.png", 31)
    checked = run("season", "check", file, "--photos", tmp_path)
    assert checked.exit_code == 1
    assert "other pictures under the names of 1 photos" in checked.stdout


def test_an_interrupted_count_goes_on(
    tmp_path: Path, run: Run, file: Path, stand_in: StandIn
) -> None:
    folder = tmp_path / "north"
    folder.mkdir()
    for number in range(4):
        write_photo(folder / f"p{number}.png", 20 + number)
    stand_in.stop_at = 2
    stopped = run("season", "add", file, folder, "--area", "square:12in", *NORTH)
    assert stopped.exit_code == 130
    stand_in.stop_at = None
    result = run("season", "add", file, folder, "--area", "square:12in", *NORTH)
    assert "4 counts added" in result.stdout
    assert len(stand_in.seen) == 4


def test_assess(tmp_path: Path, run: Run, file: Path) -> None:
    given = write(tmp_path / "c.json", counts([entry(n) for n in range(6)]))
    run("season", "add", file, given, *NORTH)
    direct = run("assess", given)
    kept = run("season", "assess", file)
    assert kept.exit_code == 0, kept.output
    # the same sentence and the same numbers by both doors
    assert kept.stdout.splitlines()[:8] == direct.stdout.splitlines()[:8]
    table = run("season", "show", file, "--log").stdout
    assert "assess Elm Hill, North" in table


def test_list_of_visits(tmp_path: Path, run: Run, file: Path) -> None:
    assert "Nothing in the season yet" in run("season", "show", file).stdout
    for number, field in enumerate(("North", "South")):
        given = write(tmp_path / f"{field}.json", counts([entry(number)]))
        run("season", "add", file, given, "--farm", "Elm Hill", "--field", field)
    shown = run("season", "show", file).stdout
    assert "North" in shown
    assert "South" in shown
    asked = run("season", "assess", file)
    assert asked.exit_code == 2
    assert "which field of Elm Hill is meant isn't clear; give --field NAME" in asked.stderr


def test_what_cant_be_used(tmp_path: Path, run: Run, file: Path) -> None:
    write_photo(tmp_path / "a.png", 20)
    (tmp_path / "a.pdf").write_text("x")
    for arguments, says in (
        (("add", file, tmp_path / "none.csv", *NORTH), "none.csv doesn't exist"),
        (("add", file, tmp_path / "a.png", *NORTH), "--area is needed"),
        (("add", file, tmp_path / "a.pdf", *NORTH), "a.pdf is neither a plan"),
        (("add", file, tmp_path / "a.pdf"), "a.pdf is neither a plan"),
        (
            ("add", tmp_path / "a.pdf", tmp_path / "a.png", "--area", "square:12in"),
            "isn't a season",
        ),
        (("show", tmp_path / "none.sqlite"), "none.sqlite doesn't exist"),
        (("new", file), "is there already"),
        (("export", file, file), "is read by this command"),
        (("correct", file, "a.jpg", "--plants", "3"), "no photo 'a.jpg'"),
    ):
        result = run("season", *arguments)
        assert result.exit_code == 2, arguments
        assert says in result.stderr
        assert result.stderr.count("\n") == 1


def test_help_is_quick_to_load() -> None:
    result = tillercount("season", "add", "--help")
    assert result.returncode == 0
    for option in ("--farm", "--field", "--visit", "--area", "--within", "--replace", "--who"):
        assert option in result.stdout


def test_nothing_heavy_for_the_help() -> None:
    code = "import sys, tillercount.cli.app; sys.exit('sqlalchemy' in sys.modules)"
    root = Path(__file__).parents[2]
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=root).returncode == 0


def test_an_unplaced_photo_is_named_once(tmp_path: Path, run: Run, file: Path) -> None:
    planned = write(tmp_path / "plan.geojson", plan([(0, 0)]))
    refused = {**entry(3), "status": "refused", "reason": "too dark"}
    given = write(tmp_path / "c.json", counts([entry(1, spot="1"), entry(2), refused]))
    assert run("season", "add", file, planned, given, *NORTH).exit_code == 0
    for options in ((), ("--photos",)):
        shown = run("season", "show", file, *options).stdout
        assert shown.count("IMG_2.jpg") == 1
        assert "not in the mean" in shown
    assert run("season", "show", file).stdout.count("IMG_3.jpg") == 1


def test_photos_of_one_name_are_told_apart_by_field(tmp_path: Path, run: Run, file: Path) -> None:
    for number, field in enumerate(("North", "South"), start=1):
        planned = write(tmp_path / f"{field}.geojson", plan([(0, 0), (90, 0)]))
        photo = {**entry(number), "photo": f"{field}/IMG_7.jpg"}
        given = write(tmp_path / f"{field}.json", counts([photo]))
        where = ("--farm", "Elm Hill", "--field", field)
        assert run("season", "add", file, planned, given, *where).exit_code == 0
    both = run("season", "assign", file, "IMG_7.jpg", "2")
    assert both.exit_code == 2
    assert "of Elm Hill, North, visit 1 (North/IMG_7.jpg: 21 plants, 63 shoots)" in both.stderr
    assert f"{entry(2)['sha256'][:12]} of Elm Hill, South, visit 1 (South/IMG_7" in both.stderr
    assert "by its field" in both.stderr
    assert run("season", "assign", file, "IMG_7.jpg", "2", "--field", "South").exit_code == 0
    fixed = run("season", "correct", file, "IMG_7.jpg", "--plants", "30", "--field", "South")
    assert "plants 30 (the model: 22)" in fixed.stdout
    assert "no spot" in run("season", "show", file, "--field", "North", "--photos").stdout
    assert "spot 2 by hand" in run("season", "show", file, "--field", "South", "--photos").stdout


def test_help_says_how_photos_find_their_spot(run: Run) -> None:
    assert "named after" in " ".join(run("season", "--help").stdout.split())


def test_a_season_shows_means_as_fine_as_its_report_does(tmp_path: Path, run: Run) -> None:
    import json

    file, page = tmp_path / "s.sqlite", tmp_path / "r.html"
    run("season", "new", file)
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,21,61,1 ft2\n2,Ash,31,93,1 ft2\n3,Ash,7,23,1 ft2")
    run("season", "add", file, hand, *NORTH)
    shown = run("season", "show", file).stdout
    done = run("report", file, "--html", page, "--json", tmp_path / "r.json")
    assert done.exit_code == 0, done.output
    text = re.sub("<[^>]*>", "", page.read_text("utf-8"))
    one = json.loads((tmp_path / "r.json").read_text("utf-8"))["evidence"][0]["per_ft2"]
    assert one["mean"] == pytest.approx(19.67, abs=0.01)  # which neither shows so
    assert "Plants: 20 per ft²" in text
    assert shown.splitlines()[1].startswith("plants: 20 per ft² (")
