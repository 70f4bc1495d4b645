"""The count added last holds: a wrong size is put right by adding the right file again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from tests.cli.helpers import StandIn, write_photo
from tests.store.helpers import NORTH, counts, entry, write
from tillercount.names import in_command
from tillercount.store import Season, Where
from tillercount.store import counts as adding

Run = Callable[..., Any]
ELM = ("--farm", "Elm Hill", "--field", "North")
SMALL = {"kind": "square", "text": "square:304.8mm", "typed": "square:12in", "ft2": 1.0}
LARGE = {"kind": "square", "text": "square:533.4mm", "typed": "square:21in", "ft2": 3.0625}


def right(*numbers: int) -> dict[str, Any]:
    return counts([entry(n, spot=str(n), area=SMALL) for n in numbers])


def wrong(*numbers: int) -> dict[str, Any]:
    return counts([entry(n, spot=str(n), area=LARGE) for n in numbers])


def plants(season: Season, where: Where = NORTH) -> float:
    """Mean plants per ft²."""
    estimate = season.summary(where).estimate
    assert estimate is not None
    assert estimate.plants is not None
    return estimate.plants.mean * 0.09290304


def number_of_counts(season: Season) -> int:
    with season.engine.connect() as connection:
        return int(connection.scalar(text("SELECT count(*) FROM predictions")) or 0)


def test_a_known_count_added_again_holds_again(season: Season) -> None:
    season.add_counts(right(1, 2), NORTH)
    assert plants(season) == pytest.approx(21.5)
    season.add_counts(wrong(1, 2), NORTH)
    assert plants(season) == pytest.approx(21.5 / 3.0625)
    for flip in range(2):  # and this can go on
        added = season.add_counts(right(1, 2, 3), NORTH)
        assert (added.new, added.known, added.back) == (1 - flip, 2 + flip, 2)
        assert added.changed
        assert added.notes == ("in place of those with square:21in: IMG_1.jpg, IMG_2.jpg",)
        assert plants(season) == pytest.approx(22)
        back = season.add_counts(wrong(1, 2), NORTH)
        assert (back.new, back.known, back.back) == (0, 2, 2)
    assert number_of_counts(season) == 2 + 2 + 3 + 2 + 2 + 2  # each act's rows are kept
    verb = season.journal()[0]
    assert (verb["verb"], verb["detail"]) == (
        "add counts", "to Elm Hill, North, visit 1: 0 new, 2 of before hold again",
    )  # fmt: skip
    assert not [one for one in season.check() if one.level == "bad"]


def test_what_holds_already_stays_known(season: Season) -> None:
    for given in (right(1), wrong(1), right(1)):
        season.add_counts(given, NORTH)
    before = number_of_counts(season)
    added = season.add_counts(right(1), NORTH)
    assert (added.new, added.known, added.back, added.notes) == (0, 1, 0, ())
    assert not added.changed
    assert number_of_counts(season) == before


def test_one_photo_in_several_batches_of_a_file(
    season: Season, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(adding, "BATCH", 1)
    one, other = right(1)["spots"][0], wrong(1)["spots"][0]
    for _ in range(2):
        season.add_counts(counts([one, other, one, other, one]), NORTH)
        assert plants(season) == pytest.approx(21)


def test_a_correction_holds_again_with_the_count_it_was_made_for(season: Season) -> None:
    season.add_counts(right(1), NORTH)
    season.correct("IMG_1.jpg", plants=30, shoots=90)
    season.add_counts(wrong(1), NORTH)
    assert season.summary(NORTH).corrected == 0
    season.add_counts(right(1), NORTH)
    assert season.summary(NORTH).corrected == 1
    assert plants(season) == pytest.approx(30)


def test_a_removed_photo_comes_back_with_the_count_added(season: Season) -> None:
    season.add_counts(right(1, 2), NORTH)
    season.add_counts(wrong(1, 2), NORTH)
    for photo in ("IMG_1.jpg", "IMG_2.jpg"):
        season.remove_photo(photo)
    added = season.add_counts(right(1, 2), NORTH)
    assert (added.back, len(added.placed), added.notes) == (2, 2, ())  # none held until now
    assert plants(season) == pytest.approx(21.5)


def test_many_replaced_counts_are_summed_up(season: Season) -> None:
    season.add_counts(right(*range(30)), NORTH)
    (line,) = season.add_counts(wrong(*range(30)), NORTH).notes
    assert line.startswith("in place of those with square:12in: IMG_0.jpg, IMG_1.jpg, ")
    assert line.endswith("IMG_19.jpg and 10 more")


def test_an_area_of_which_only_the_plain_text_is_known(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    (line,) = season.add_counts(wrong(1), NORTH).notes
    assert line == "in place of those with square:304.8mm: IMG_1.jpg"


def test_counted_asks_for_the_count_that_holds(season: Season) -> None:
    sha256 = entry(1)["sha256"]
    season.add_counts(right(1), NORTH)
    assert season.counted(sha256, SMALL["text"])
    season.add_counts(wrong(1), NORTH)
    assert not season.counted(sha256, SMALL["text"])
    assert season.counted(sha256, LARGE["text"])


def test_known_photos_make_no_visit(season: Season) -> None:
    season.add_counts(right(1, 2), NORTH)
    for given, new in ((right(1, 2), 0), (wrong(1, 2), 2)):
        added = season.add_counts(given, Where("Elm Hill", "North", "again"))
        assert (added.new, added.made, added.place) == (new, (), "Elm Hill, North")
        assert "visit 'again' not made: nothing here would be in it" in added.notes
        assert "IMG_1.jpg is in the season already (North, visit 1) and stays there" in added.notes
        assert [row["visit"] for row in season.overview()] == ["visit 1"]
    added = season.add_counts(wrong(1, 2), Where("Other", "South"))
    assert (added.place, added.changed) == ("", False)
    assert "visit 'visit 1', field 'South', farm 'Other' not made" in added.notes[-1]
    assert len(season.overview()) == 1
    # one photo of its own is enough
    assert season.add_counts(right(1, 3), Where("Elm Hill", "North", "again")).visit == "again"
    assert [row["visit"] for row in season.overview()] == ["visit 1", "again"]


@pytest.fixture
def run() -> Run:
    from tillercount.cli.app import app

    return lambda *args: CliRunner().invoke(app, ["season", *map(str, args)])


@pytest.fixture
def file(tmp_path: Path, run: Run) -> Path:
    made = tmp_path / "season.sqlite"
    assert run("new", made).exit_code == 0
    return made


def test_a_wrong_size_on_the_screen(tmp_path: Path, run: Run, file: Path) -> None:
    creek = write(tmp_path / "creek.json", right(1, 2))
    other = write(tmp_path / "wrong21.json", wrong(1, 2))
    run("add", file, creek, *ELM)
    run("correct", file, "IMG_2.jpg", "--plants", 23, "--shoots", 66)
    before = run("show", file).stdout
    slip = run("add", file, other)
    assert slip.exit_code == 2
    assert "2 photos have counts with square:12in in Elm Hill, North already (IMG_1.jpg, " in (
        slip.stderr
    )
    assert "and now square:21in is given, and the correction of IMG_2.jpg would not be" in (
        slip.stderr
    )
    assert "add --replace" in slip.stderr
    assert run("show", file).stdout == before
    run("correct", file, "IMG_2.jpg", "--withdraw")
    said = run("add", file, other, "--replace").stdout
    assert "2 counts added to Elm Hill, North, visit 1\n" in said
    assert "  in place of those with square:12in: IMG_1.jpg, IMG_2.jpg\n" in said
    said = run("add", file, creek, "--replace").stdout
    assert "0 counts added to Elm Hill, North, visit 1, 2 known already, of which 2 now" in said
    assert "  in place of those with square:21in: IMG_1.jpg, IMG_2.jpg\n" in said
    assert "plants: 22 per ft²" in run("show", file).stdout
    said = run("add", file, creek, "--visit", "again").stdout
    assert "0 counts added to Elm Hill, North, 2 known already\n" in said
    assert "NEW" not in said
    assert "visit 'again' not made" in said
    assert "of 2 visits" not in run("show", file).stdout


def test_refused_photos_are_not_called_counted(tmp_path: Path, run: Run, file: Path) -> None:
    bad = {"status": "refused", "plants": None, "shoots": None}
    refused = [entry(3, reason="too dark", **bad), entry(4, reason="IMG_4.jpg: no frame", **bad)]
    given = write(tmp_path / "some.json", counts([entry(1), entry(2), *refused]))
    said = run("add", file, given, *ELM).stdout
    assert "2 counts added to Elm Hill, North, visit 1, 2 refused:\n" in said
    assert "\n  IMG_3.jpg: too dark\n  IMG_4.jpg: no frame\n" in said
    assert "4 known already (2 of them refused)\n" in run("add", file, given).stdout
    none = write(tmp_path / "none.json", counts([entry(5, reason="too dark", **bad)]))
    said = run("add", file, none).stdout
    assert "0 counted, 1 refused (noted in Elm Hill, North, visit 1):\n  IMG_5.jpg: too" in said
    lost = write(tmp_path / "lost.json", counts([entry(6, reason="no photo", sha256="", **bad)]))
    said = run("add", file, lost, "--visit", "later").stdout
    assert f"{lost}: 0 counted, 1 refused:\n" in said
    assert "IMG_6.jpg was refused and can't be read, so it isn't kept" in said
    assert "visit 'later' not made" in said
    assert "of 2 visits" not in run("show", file).stdout


def test_a_folder_of_photos_counted_with_a_wrong_size(
    tmp_path: Path, run: Run, file: Path, stand_in: StandIn
) -> None:
    folder = tmp_path / "north"
    folder.mkdir()
    for number in range(2):
        write_photo(folder / f"p{number}.png", 20 + number)
    for size, was in (("12in", ""), ("21in", "12in"), ("12in", "21in")):
        command = ("add", file, folder, "--area", f"square:{size}", *ELM)
        if was:  # a slip is refused before anything is counted
            seen = len(stand_in.seen)
            slip = run(*command)
            assert (slip.exit_code, len(stand_in.seen)) == (2, seen)
            assert f"with square:{was} in Elm Hill, North already" in slip.stderr
        said = run(*command, "--replace").stdout
        assert ("in place of those with square:" in said) == bool(was)
        assert f"in place of those with square:{was}: p0.png, p1.png" in said or not was
    assert "0 counts added to Elm Hill, North, visit 1, 2 known already, of which 2 now" in said
    again = run("add", file, folder, "--area", "square:12in", "--visit", "again")
    assert "2 photos with a count of this area already" in again.stdout
    for path in folder.iterdir():
        path.write_bytes(b"no picture " + path.name.encode())
    result = run("add", file, folder, "--area", "square:12in")
    assert result.exit_code == 1
    assert "2 photos: 0 counted, 2 refused" in result.stdout


def test_a_refusal_does_not_take_the_place_of_a_count(season: Season) -> None:
    """A typed size of another frame: the photo is refused with it, and its good count stays."""
    season.add_counts(right(1, 2), NORTH)
    bad = {"status": "refused", "plants": None, "shoots": None, "reason": "no hoop in it"}
    refused = counts([entry(1, area=LARGE, **bad)])
    for _ in range(2):
        added = season.add_counts(refused, NORTH)
        assert (added.new, added.known, added.refused, added.changed) == (0, 1, 0, False)
        (note,) = added.notes
        assert "IMG_1.jpg: refused this time with square:21in (no hoop in it), so its" in note
        assert "count with square:12in stays in the mean" in note
        # either size may be the wrong one
        assert "If square:21in was the wrong one, that is right; if square:12in was, take" in note
        store = in_command(season.place)
        assert note.endswith(f"remove {store} --field North --photo IMG_1.jpg")
        assert plants(season) == pytest.approx(21.5)
        assert not season.summary(NORTH).refused
    # taken out as the note says, the refusal is what holds
    season.remove_photo("IMG_1.jpg")
    assert season.add_counts(refused, NORTH).refused == 1
    assert [one for one, _ in season.summary(NORTH).refused] == ["IMG_1.jpg"]
    # and a count takes the place of a refusal
    season.add_counts(right(1), NORTH)
    assert plants(season) == pytest.approx(21.5)


def test_many_refusals_are_summed_up(season: Season) -> None:
    season.add_counts(right(*range(30)), NORTH)
    bad = {"status": "refused", "plants": None, "shoots": None, "reason": "no hoop in it"}
    notes = season.add_counts(counts([entry(n, area=LARGE, **bad) for n in range(30)]), NORTH).notes
    assert notes[-1] == "and 10 more likewise"
    assert len(notes) == 21


def test_a_refusal_with_the_same_size_blames_no_size(season: Season) -> None:
    season.add_counts(right(1), NORTH)
    bad = {"status": "refused", "plants": None, "shoots": None, "reason": "too dark"}
    (note,) = season.add_counts(counts([entry(1, area=SMALL, **bad)]), NORTH).notes
    assert "refused this time (too dark), so its count with square:12in stays" in note
    assert "wrong" not in note


def test_the_wrong_size_goes_where_the_note_leads(season: Season) -> None:
    """Counted with 21 in, refused with the right 12 in: a count by hand went by 21 in unsaid."""
    season.add_counts(wrong(1), NORTH)
    bad = {"status": "refused", "plants": None, "shoots": None, "reason": "blurred"}
    refused = counts([entry(1, area=SMALL, **bad)])
    (note,) = season.add_counts(refused, NORTH).notes
    assert "if square:21in was, take that count out and add the photo again" in note
    assert "until then season correct goes by square:21in too" in note
    assert season.correct("IMG_1.jpg", plants=30, shoots=90)["area"] == "square:21in"
    assert plants(season) == pytest.approx(30 / 3.0625)
    season.remove_photo("IMG_1.jpg")
    season.add_counts(refused, NORTH)
    assert season.correct("IMG_1.jpg", plants=30, shoots=90)["area"] == "square:12in"
    assert plants(season) == pytest.approx(30)


def test_a_count_by_hand_says_in_which_area(tmp_path: Path, run: Run, file: Path) -> None:
    run("add", file, write(tmp_path / "w.json", wrong(1)), *ELM)
    said = run("correct", file, "IMG_1.jpg", "--plants", 30).stdout
    assert "  in square:21in, as the photo was given; densities go by that size\n" in said
