"""Slips with a season that were taken without a word, and now are refused or said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.cli.helpers import StandIn, write_photo
from tests.store.helpers import counts, entry, hand_csv, plan, write
from tillercount.store import Season, Where

Run = Callable[..., Any]
HOME = ("--farm", "Elm Hill", "--field", "Home")
LANE = ("--farm", "Elm Hill", "--field", "Lane")


def run(*args: object, answer: str | None = None) -> Any:
    from tillercount.cli.app import app

    words = ["season", *(str(arg) for arg in args)]
    return CliRunner().invoke(app, words, prog_name="tillercount", input=answer)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "2027.sqlite"
    assert run("new", made).exit_code == 0
    return made


def add(file: Path, place: tuple[str, ...], *entries: dict[str, Any]) -> Any:
    given = write(file.parent / f"c{len(list(file.parent.iterdir()))}.json", counts([*entries]))
    return run("add", file, given, *place)


def test_a_photo_of_another_field_is_moved_only_when_said(file: Path) -> None:
    add(file, HOME, entry(1), entry(2))
    add(file, LANE, entry(3))
    slip = run("assign", file, "IMG_3.jpg", "IMG_1", "--field", "Home")
    assert slip.exit_code == 2
    assert 'it is in Elm Hill, Lane, visit 1: give --farm "Elm Hill" --field Lane' in slip.stderr
    assert "--move" in slip.stderr
    with Season.open(file) as kept:
        assert [one.photo for one in kept.placed(Where("Elm Hill", "Lane"))] == ["IMG_3.jpg"]
    moved = run("assign", file, "IMG_3.jpg", "IMG_1", "--field", "Home", "--move")
    assert moved.stdout == (
        "IMG_3.jpg: moved from spot IMG_3 of Elm Hill, Lane, visit 1 to spot IMG_1 of Elm Hill, "
        "Home, visit 1 by hand\n"
    )
    assert "moved from Elm Hill, Lane, visit 1" in run("show", file, "--log").stdout
    assert run("assign", file, "IMG_1.jpg", "IMG_2", "--move").exit_code == 2  # where to?


def test_a_photo_of_another_visit_is_moved_only_when_said(file: Path) -> None:
    add(file, HOME, entry(1, taken_at="2027-03-06T09:00:00"))
    add(file, (*HOME, "--visit", "later"), entry(2, taken_at="2027-03-20T09:00:00"))
    slip = run("assign", file, "IMG_1.jpg", "IMG_2", *HOME)
    assert 'it is in visit 1: add --visit "visit 1" (or --move' in slip.stderr
    moved = run("assign", file, "IMG_1.jpg", "IMG_2", *HOME, "--move").stdout
    assert "of Elm Hill, Home, visit 1 to spot IMG_2 of Elm Hill, Home, later" in moved


def test_two_photos_of_one_name(file: Path) -> None:
    """What tells them apart is shown, and the hash goes with the field's name."""
    same = [entry(n, photo=f"{folder}/a.jpg") for n, folder in ((1, "one"), (2, "two"))]
    add(file, HOME, *same)
    both = run("assign", file, "a.jpg", "none", "--field", "Home")
    assert both.exit_code == 2
    for one, plants in zip(same, (21, 22), strict=True):
        told = f"{one['sha256'][:12]} of Elm Hill, Home, visit 1 ({one['photo']}: {plants} plants"
        assert told in both.stderr
    assert "by its field" not in both.stderr
    add(file, (*HOME, "--visit", "later"), entry(3, taken_at="2099-03-20T09:00:00"))
    for field in ((), ("--field", "Home")):  # a hash is of one photo, in whichever visit
        done = run("correct", file, same[1]["sha256"][:12], "--plants", 30, *field)
        assert done.exit_code == 0, done.stderr
    assert "a.jpg of Elm Hill, Home, visit 1" in run("show", file, "--log").stdout


def test_a_plan_for_the_next_walk_is_not_judged(tmp_path: Path, file: Path) -> None:
    rows = "\n".join(f"{n},Ash,{20 + n},{61 + n},1 ft2" for n in range(1, 7))
    run("add", file, hand_csv(tmp_path / "h.csv", rows), *HOME, "--visit", "first")
    before = run("show", file).stdout
    ahead = plan([(0, 0), (90, 0), (0, 90)], zone=["a", "b", "c"])
    made = run("add", file, write(tmp_path / "p.geojson", ahead), *HOME, "--visit", "second")
    assert made.exit_code == 0, made.output
    judged = run("assess", file, "--stage", "Feekes 3")
    assert judged.exit_code == 0, judged.stderr
    assert "the last counted of 2 visits: nothing at second yet" in judged.stdout
    shown = run("show", file, "--field", "Home").stdout
    assert "Elm Hill, Home, first" in shown.splitlines()[0]
    assert before.splitlines()[1] in shown
    assert "planned" not in shown
    assert "zones" not in shown
    # what is counted now belongs to the plan
    assert "Elm Hill, Home, second" in add(file, HOME, entry(7, spot="1")).stdout
    assert "second" in run("show", file, "--field", "Home").stdout.splitlines()[0]


def test_zones_of_another_visits_plan_are_not_weighed(tmp_path: Path, file: Path) -> None:
    """Each plan is of its own visit, and so are the zones it drew."""
    for visit, names, spots in (("first", "ab", (1, 2)), ("second", "cd", (3, 4))):
        zoned = plan([(0, 0), (90, 0)], zone=list(names))
        zoned["features"] += [
            {"type": "Feature", "geometry": None,
             "properties": {"what": "zone", "name": name, "area_ac": acres}}
            for name, acres in zip(names, (30.0, 10.0), strict=True)
        ]  # fmt: skip
        given = write(tmp_path / f"{visit}.geojson", zoned)
        run("add", file, given, *HOME, "--visit", visit)
        photos = [entry(n, spot=str(i)) for i, n in enumerate(spots, start=1)]
        add(file, (*HOME, "--visit", visit), *photos)
    with Season.open(file) as kept:
        for visit, names in (("first", "ab"), ("second", "cd")):
            found = kept.summary(Where("Elm Hill", "Home", visit))
            assert found.zone_areas is not None
            assert set(found.zone_areas) == set(names)
            assert not [note for note in found.notes if "zones" in note]


def test_another_day_is_refused_before_counting(
    tmp_path: Path, file: Path, stand_in: StandIn
) -> None:
    run("add", file, hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2"), *HOME,
        "--date", "2026-03-06")  # fmt: skip
    photo = tmp_path / "p.png"
    write_photo(photo, 20)
    slip = run("add", file, photo, "--area", "square:12in", *HOME, "--date", "2026-03-20")
    assert slip.exit_code == 2
    assert "has counts of 2026-03-06 already, and --date is 2026-03-20" in slip.stderr
    assert not stand_in.seen
    assert not list(tmp_path.glob("*.partial*"))


def test_a_visit_moved_to_another_day_says_from_which(tmp_path: Path, file: Path) -> None:
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    at = (*HOME, "--visit", "20 March 2026")
    run("add", file, hand, *at)
    moved = run("add", file, hand, *at, "--date", "2026-03-25").stdout
    assert "2026-03-25 (as given; its name says 2026-03-20); until now 2026-03-20" in moved


def test_taking_out_shows_what_goes_before_it_asks(tmp_path: Path, file: Path) -> None:
    run("add", file, hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2"), *HOME)
    add(file, HOME, entry(3))
    none = run("remove", file, "--hand-count", "8", answer="y\n")
    assert "no hand count of spot '8'" in none.stderr
    assert "Take out" not in none.stdout
    asked = run("remove", file, "--hand-count", "1", answer="n\n").stdout
    assert "the hand count of spot 1 of Elm Hill, Home, visit 1 by Ash (20 plants, 61 " in asked
    assert "Take out" not in run("remove", file, "--photo", "x.jpg", answer="y\n").stdout
    asked = run("remove", file, "--photo", "IMG_3.jpg", answer="n\n").stdout
    assert "the photo IMG_3.jpg of Elm Hill, Home, visit 1?" in asked


def test_spots_of_refused_photos_are_told_from_counted_ones(file: Path) -> None:
    bad = {"status": "refused", "plants": None, "shoots": None, "reason": "too dark"}
    add(file, HOME, entry(1), entry(2), entry(3, **bad))
    add(file, LANE, entry(5))
    with Season.open(file) as kept:
        home, lane = kept.overview()
    assert (home["spots"], home["counted"], home["refused"]) == (3, 2, 1)
    assert (lane["spots"], lane["counted"], lane["refused"]) == (1, 1, 0)
    table = " ".join(run("show", file).stdout.split())
    assert "(2" in table
    assert "counted)" in table
    assert "refused)" in table
    assert "2 spots)" in run("show", file, "--field", "Home").stdout
    with Season.open(file) as kept:  # what a person counted in it is a count
        kept.correct("IMG_3.jpg", plants=20, shoots=60)
        assert [row["counted"] for row in kept.overview()] == [3, 1]


def test_the_journal_has_only_what_a_person_counted(file: Path) -> None:
    add(file, HOME, entry(1))
    said = run("correct", file, "IMG_1.jpg", "--plants", 31).stdout
    assert "plants 31 (the model: 21)" in said
    assert "shoots 63 (as the model)" in said
    log = run("show", file, "--log").stdout.splitlines()[0]
    assert log.endswith("IMG_1.jpg of Elm Hill, Home, visit 1: plants 31")


@pytest.mark.parametrize("option", ["--plants", "--shoots"])
@pytest.mark.parametrize("typed", ["12/32", "12 / 32", "12/30", "+12/32"])
def test_plants_and_shoots_in_one_option_are_no_fraction(
    file: Path, option: str, typed: str
) -> None:
    """12/32 was taken for 0.375 plants."""
    add(file, HOME, entry(1))
    slip = run("correct", file, "IMG_1.jpg", option, typed)
    assert slip.exit_code == 2
    assert f"{option} {typed!r} may be a fraction or two numbers" in slip.stderr
    assert "give each its own option, like --plants 12 --shoots 32" in slip.stderr
    assert "IMG_1.jpg of" not in run("show", file, "--log").stdout
    assert run("correct", file, "IMG_1.jpg", option, "32.5").exit_code == 0


def test_a_change_is_rounded_as_in_the_report(file: Path) -> None:
    from tillercount.report.language import format_value, load_words
    from tillercount.units import per_ft2

    for visit, day, more in (("a", "06", 0.0), ("b", "20", 17.55)):
        photos = [
            entry(n + 10 * (visit == "b"), spot=str(n), taken_at=f"2027-03-{day}T09:00:00",
                  shoots={"count": 60 + more + n, "low": 50.0, "high": 90.0})
            for n in range(1, 5)
        ]  # fmt: skip
        add(file, (*HOME, "--visit", visit), *photos)
    with Season.open(file) as kept:
        (change,) = (c for c in kept.history(Where("Elm Hill", "Home")).same if c.what == "shoots")
    as_reported = format_value(per_ft2(change.mean), "change", load_words())
    assert as_reported == "+18"
    assert f"shoots {as_reported} per ft²" in run("show", file, "--field", "Home").stdout


def test_copies_are_left_out_and_said(tmp_path: Path, file: Path, stand_in: StandIn) -> None:
    folder = tmp_path / "home"
    folder.mkdir()
    for name, plants in (("a", 20), ("b", 20), ("c", 24), ("d", 20)):
        write_photo(folder / f"{name}.png", plants)
    said = run("add", file, folder, "--area", "square:12in", *HOME).stdout
    assert "2 photos left out that are copies, byte for byte: b.png of a.png, d.png of a" in said
    assert stand_in.seen == ["a.png", "c.png"]
    with Season.open(file) as kept:
        assert [one.photo for one in kept.placed(Where("Elm Hill", "Home"))] == ["a.png", "c.png"]
    first, copy = entry(1), entry(1, photo="home/IMG_9.jpg")
    said = add(file, LANE, first, copy).stdout
    assert "home/IMG_9.jpg is a copy of north/IMG_1.jpg: the first is kept" in said
    assert "IMG_1" in run("show", file, "--field", "Lane", "--photos").stdout


def test_refused_photos_are_not_called_photos_with_a_count(
    tmp_path: Path, file: Path, stand_in: StandIn
) -> None:
    folder = tmp_path / "home"
    folder.mkdir()
    write_photo(folder / "a.png", 20)
    (folder / "b.png").write_bytes(b"no picture")
    command = ("add", file, folder, "--area", "square:12in", *HOME)
    run(*command)
    again = run(*command).stdout
    assert "1 photo with a count of this area already and 1 refused with it already in" in again


def test_a_folder_in_place_of_a_season_is_called_one(file: Path) -> None:
    """It is there, so "doesn't exist; check the name" would send somebody looking for nothing."""
    said = run("show", file.parent).stderr
    assert f"{file.parent} is a folder, and a season is one file" in said
    assert "In it: 2027.sqlite." in said
    assert "doesn't exist" not in said


def test_a_spreadsheet_or_another_season_says_what_to_give(file: Path, tmp_path: Path) -> None:
    sheet, other = tmp_path / "day.xlsx", tmp_path / "other.sqlite"
    sheet.write_bytes(b"PK")
    assert run("new", other).exit_code == 0
    said = run("add", file, sheet, *HOME).stderr
    assert "save the sheet of hand counts as CSV, and give that" in said
    said = run("add", file, other, *HOME).stderr
    assert "other.sqlite is a season: name the season first" in said
    assert "season export" in said
