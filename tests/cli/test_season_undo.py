"""Slips of a tired person with ``tillercount season``, and the way back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import counts, entry, hand_csv, plan, write

Run = Callable[..., Any]
HOME = ("--farm", "Elm Hill", "--field", "Home")


@pytest.fixture
def run() -> Run:
    from tillercount.cli.app import app

    def go(*args: object, answer: str | None = None) -> Any:
        words = [str(arg) for arg in args]
        return CliRunner().invoke(app, words, prog_name="tillercount", input=answer)

    return go


@pytest.fixture
def file(tmp_path: Path, run: Run) -> Path:
    """A season with hand counts of one field."""
    made = tmp_path / "2027.sqlite"
    run("season", "new", made)
    rows = "\n".join(f"{n},Ash,{20 + n},{61 + n},1 ft2" for n in range(1, 7))
    result = run("season", "add", made, hand_csv(tmp_path / "h.csv", rows), *HOME)
    assert result.exit_code == 0, result.output
    assert "6 hand counts added to Elm Hill, Home, visit 1" in result.stdout
    assert "NEW in the season: farm 'Elm Hill'; field 'Home'; visit 'visit 1'" in result.stdout
    return made


def test_a_mistyped_field(tmp_path: Path, run: Run, file: Path) -> None:
    more = hand_csv(tmp_path / "i.csv", "9,Ash,20,61,1 ft2")
    slip = run("season", "add", file, more, "--field", "Hoem")
    assert slip.exit_code == 2
    assert "did you mean that? Give --field Home" in slip.stderr
    assert "6" in run("season", "show", file, "--field", "Home").stdout
    meant = run("season", "add", file, more, "--field", "Hoem", "--new")
    assert "NEW in the season: field 'Hoem' (beside Home)" in meant.stdout
    # the farm needn't be named for a field that only it has
    assert run("season", "show", file, "--field", "Home").exit_code == 0


def test_renaming(run: Run, file: Path) -> None:
    assert "say what to rename" in run("season", "rename", file, "--to", "x").stderr
    done = run("season", "rename", file, "--field", "home", "--to", "Home 80", "--who", "Birch")
    assert done.stdout == "field 'Home' is now 'Home 80': Elm Hill, Home 80\n"
    done = run("season", "rename", file, "--farm", "elm hill", "--to", "Elm Rise")
    assert done.stdout == "farm 'Elm Hill' is now 'Elm Rise': Elm Rise\n"
    done = run("season", "rename", file, "--visit", "visit 1", "--to", "12 March")
    assert done.stdout == "visit 'visit 1' is now '12 March': Elm Rise, Home 80, 12 March\n"
    log = run("season", "show", file, "--log").stdout
    assert "Birch: rename field 'Home' of Elm Hill to 'Home 80'" in log


def test_taking_out_asks_and_copies(tmp_path: Path, run: Run, file: Path) -> None:
    for arguments, says in (
        ((), "say what to take out"),
        (("--field", "Hoem"), "did you mean 'Home'?"),
        (("--field", "Home", "--observer", "Ash"), "--observer goes with --hand-count"),
        (("--hand-count", "1", "--photo", "a"), "one at a time"),
        (("--field", "Home"), "nobody answered, so nothing was taken out"),
    ):
        result = run("season", "remove", file, *arguments)
        assert (result.exit_code, says in result.stderr) == (2, True), result.output
    no = run("season", "remove", file, "--field", "Home", answer="n\n")
    assert "the field Elm Hill, Home with 1 visit, 6 spots, 6 hand counts?" in no.stdout
    assert "nothing was taken out" in no.stderr
    assert not list(tmp_path.glob("*before-remove*"))
    one = run("season", "remove", file, "--hand-count", "6", "--yes")
    assert one.exit_code == 0
    assert "hand count of spot 6 taken out of Elm Hill, Home, visit 1" in one.stdout
    yes = run("season", "remove", file, "--field", "Home", "--who", "Birch", answer="y\n")
    assert "taken out: field 'Home', farm 'Elm Hill'" in yes.stdout
    copies = list(tmp_path.glob("2027.before-remove.*.sqlite"))
    assert len(copies) == 2
    (copy,) = [path for path in copies if str(path) in yes.stdout]
    assert "5 spots" in run("season", "show", copy).stdout
    assert "Birch: remove field 'Home'" in run("season", "show", file, "--log").stdout


def test_hand_counts_of_several_spots_go_together(run: Run, file: Path) -> None:
    none = run("season", "remove", file, "--hand-count", "2", "--hand-count", "99", "--yes")
    assert none.exit_code == 2
    assert "no hand count of spot '99'" in none.stderr
    assert "interval, 6 spots)" in run("season", "show", file, "--field", "Home").stdout
    metric = run("season", "show", file, "--field", "Home", "--units", "metric")
    assert "per m² (" in metric.stdout
    assert "ft²" not in metric.stdout
    assert run("season", "show", file, "--field", "Home", "--units", "cubits").exit_code == 2
    three = ("--hand-count", "2", "--hand-count", "spot_04", "--hand-count", "02")
    two = run("season", "remove", file, *three, "--yes")
    assert two.exit_code == 0, two.output
    assert "hand count of spot 2, spot_04 taken out of Elm Hill, Home, visit 1" in two.stdout
    assert "interval, 4 spots)" in run("season", "show", file, "--field", "Home").stdout
    fewer = ("--hand-count", "1", "--hand-count", "spot_03", "--hand-count", "spot_05")
    run("season", "remove", file, *fewer, "--yes")
    assert "interval, 1 spot)" in run("season", "show", file, "--field", "Home").stdout


def test_a_season_of_another_name(tmp_path: Path, run: Run, file: Path) -> None:
    for command in (
        ("season", "show", tmp_path / "2028.sqlite"),
        ("season", "check", tmp_path / "2028.sqlite"),
        ("season", "export", tmp_path / "2028.sqlite", tmp_path / "a.csv"),
        ("report", tmp_path / "2028.sqlite", "--field", "Home", "--html", tmp_path / "a.html"),
    ):
        result = run(*command)
        assert result.exit_code == 2, command
        assert "2028.sqlite doesn't exist; check the name (there: 2027.sqlite)" in result.stderr
        assert result.stderr.index("check the name") < result.stderr.index("season new")
    elsewhere = run("season", "show", tmp_path / "fields" / "2027.sqlite")
    assert "there is no folder" in elsewhere.stderr


def test_a_correction_beside_a_hand_count_says_that_it_changes_nothing(
    tmp_path: Path, run: Run, file: Path
) -> None:
    photos = [entry(n, spot=str(n)) for n in (1, 8)]
    run("season", "add", file, write(tmp_path / "c.json", counts(photos)))
    before = run("season", "show", file).stdout.splitlines()[1]
    beside = run("season", "correct", file, "IMG_1.jpg", "--plants", "30", "--shoots", "70")
    assert "mind: spot 1 was counted by hand too (by Ash)" in beside.stdout
    assert "plants stay" in beside.stdout
    assert run("season", "show", file).stdout.splitlines()[1] == before
    alone = run("season", "correct", file, "IMG_8.jpg", "--plants", "40")
    assert "mind" not in alone.stdout
    assert run("season", "show", file).stdout.splitlines()[1] != before


@pytest.mark.parametrize(
    ("numbers", "says"),
    [
        (("--plants", "90"), "fewer than plants 90"),
        (("--plants", "5"), "give both, --plants and --shoots. Nothing was changed"),
    ],
)
def test_one_count_corrected_and_the_other_forgotten(
    tmp_path: Path, run: Run, file: Path, numbers: tuple[str, ...], says: str
) -> None:
    run("season", "add", file, write(tmp_path / "c.json", counts([entry(8)])))  # 28, 84 shoots
    result = run("season", "correct", file, "IMG_8.jpg", *numbers)
    assert result.exit_code == 2
    assert says in result.stderr
    both = run("season", "correct", file, "IMG_8.jpg", "--plants", "5", "--shoots", "15")
    assert both.exit_code == 0


def test_two_visits_on_the_screen(tmp_path: Path, run: Run, file: Path) -> None:
    photos = [entry(n, taken_at="2027-03-30T09:00:00") for n in range(5)]
    later = write(tmp_path / "c.json", counts(photos))
    run("season", "add", file, later, "--visit", "second")
    shown = run("season", "show", file, "--field", "Home").stdout
    assert shown.startswith("Elm Hill, Home, second (2027-03-30), the last of 2 visits\n")
    assert "since visit 1: plants −" in shown
    assert "90% interval" in shown
    assert "other visit: visit 1 (put in " in shown
    assert "24 plants per ft²" in shown
    first = run("season", "show", file, "--field", "Home", "--visit", "visit 1").stdout
    assert "NOT the last of 2 visits: that is second" in first
    judged = run("season", "assess", file).stdout
    assert "Of Elm Hill, Home, second (2027-03-30), the last of 2 visits" in judged
    again = run("season", "add", file, tmp_path / "h.csv").stdout
    assert "0 hand counts added to Elm Hill, Home, visit 1, 6 known already" in again
    assert "visit 1 isn't the last visit of Home: that is second" in again
    log = run("season", "show", file, "--log").stdout.splitlines()
    assert log[0].endswith("for Elm Hill, Home, visit 1")
    assert "nothing new in" in log[0]
    assert "2027-03-30" in run("season", "show", file, "--farm", "Elm Hill").stdout


def test_an_export_leaves_a_table_of_ones_own_alone(tmp_path: Path, run: Run, file: Path) -> None:
    own = tmp_path / "h.csv"
    held = own.read_bytes()
    assert "left as it is" in run("season", "export", file, own).stderr
    assert own.read_bytes() == held
    for _ in range(2):  # an export may be written over
        assert run("season", "export", file, tmp_path / "out.csv").exit_code == 0


def test_a_plan_is_taken_out_and_the_counts_stay(tmp_path: Path, run: Run) -> None:
    made = tmp_path / "2028.sqlite"
    run("season", "new", made)
    planned = write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)]))
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    assert run("season", "add", made, planned, hand, *HOME).exit_code == 0
    assert "one at a time" in run("season", "remove", made, "--plan", "--photo", "a.jpg").stderr
    assert "nothing was taken out" in run("season", "remove", made, "--plan", answer="n\n").stderr
    done = run("season", "remove", made, "--plan", "--yes")
    assert "taken out of Elm Hill, Home, visit 1: the plan with 2 spots" in done.stdout
    assert "1 of its spots stays with what was counted there" in done.stdout
    shown = run("season", "show", made).stdout
    assert "planned" not in shown
    assert "20 per ft²" in shown
    assert "has no plan" in run("season", "remove", made, "--plan", "--yes").stderr


def test_photos_without_a_position_are_shown(tmp_path: Path, run: Run) -> None:
    made = tmp_path / "2028.sqlite"
    run("season", "new", made)
    both = counts([entry(1), entry(2, lat=38.5, lon=-97.5)])
    run("season", "add", made, write(tmp_path / "c.json", both), *HOME)
    shown = run("season", "show", made).stdout
    assert "1 photo has no position (IMG_1.jpg); the field is as given" in shown
    assert "word of" not in shown
    listed = run("season", "show", made, "--photos").stdout
    assert "IMG_1.jpg: spot IMG_1 by name; the photo has no position" in listed
    assert listed.count("no position") == 2


def test_advice_on_a_photo_of_another_field_works(tmp_path: Path, run: Run) -> None:
    """What `season add` says is typed as it stands."""
    made = tmp_path / "2028.sqlite"
    run("season", "new", made)
    lane = write(tmp_path / "l.json", counts([entry(1, photo="lane/IMG_1.jpg")]))
    run("season", "add", made, lane, "--farm", "Elm Hill", "--field", "Lane")
    slip = write(tmp_path / "c.json", counts([entry(2, photo="lane/IMG_2.jpg")]))
    said = run("season", "add", made, slip, "--field", "Home", "--farm", "Elm Hill").stdout
    assert "1 photo has no position; look whether it is of Home:" in said
    assert f"tillercount season remove {made} --photo NAME --field Home)" in said
    out = run("season", "remove", made, "--photo", "IMG_2.jpg", "--field", "Home", "--yes")
    assert out.exit_code == 0
    put = run("season", "add", made, slip, "--field", "Lane").stdout
    assert "1 photo put into Elm Hill, Lane, visit 1, its count being known" in put
    assert "0 counts" not in put
    assert "look whether" not in put
    run("season", "remove", made, "--photo", "IMG_2.jpg", "--field", "Lane", "--yes")
    back = run("season", "add", made, slip, "--field", "Home").stdout
    assert "look whether" not in back


def test_what_a_photo_note_says_of_its_position_is_not_said_twice(tmp_path: Path, run: Run) -> None:
    made = tmp_path / "2028.sqlite"
    run("season", "new", made)
    planned = write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)]))
    file = counts([entry(1), entry(2, spot="2", taken_at="2027-03-06T10:00:00")])
    run("season", "add", made, planned, write(tmp_path / "c.json", file), *HOME)
    listed = run("season", "show", made, "--photos").stdout.splitlines()
    (nowhere,) = [one for one in listed if "IMG_1.jpg: no spot" in one]
    (named,) = [one for one in listed if "IMG_2.jpg: spot 2" in one]
    assert nowhere.count("position") == 1
    assert named.endswith("; the photo has no position")
