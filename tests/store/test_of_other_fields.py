"""Photos of one field added to another: that field's counts stay, and it is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, write
from tillercount.cli.app import app
from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")


def test_a_wrong_size_for_another_field_changes_nothing_there(season: Season) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    season.add_counts(counts([entry(3)]), SOUTH)
    before = season.summary(NORTH).estimate
    wider = {"kind": "square", "text": "square:381mm", "ft2": 1.5625}
    wrong = counts([entry(1, area=wider)])
    said = season.add_counts(wrong, SOUTH)
    assert season.summary(NORTH).estimate == before
    assert said.new == 0
    line = next(note for note in said.notes if "left as counted there: IMG_1.jpg" in note)
    assert line.startswith("in North already")
    # in its own field the same counts hold from now on
    assert season.add_counts(wrong, NORTH).new == 1
    assert season.summary(NORTH).estimate != before


def test_several_photos_go_together_or_not_at_all(season: Season) -> None:
    season.add_counts(counts([entry(k) for k in (1, 2, 3)]), NORTH)
    with pytest.raises(InputError):
        season.remove_photos(["IMG_1.jpg", "nowhere.jpg"])
    assert len(season.placed(NORTH)) == 3
    gone, _ = season.remove_photos(["IMG_1.jpg", "IMG_2.jpg"])
    assert [name for name, _ in gone] == ["IMG_1.jpg", "IMG_2.jpg"]
    assert [one.photo for one in season.placed(NORTH)] == ["IMG_3.jpg"]


def test_photos_counted_already_are_said_to_be_elsewhere(tmp_path: Path) -> None:
    samples = Path(__file__).parents[2] / "sample_images" / "creek_field"
    file, photo = str(tmp_path / "my season.sqlite"), str(samples / "spot_06_no_frame.jpg")
    run = CliRunner()
    assert run.invoke(app, ["season", "new", file]).exit_code == 0
    add = ["season", "add", file, photo, "--area", "square:12in", "--farm", "Alder Bend", "--field"]
    run.invoke(app, [*add, "Creek field"])
    done = run.invoke(app, [*add, "Barn field", "--new"])
    again, nothing = done.output.splitlines()
    assert again.startswith("MIND: in Creek field already, and left as counted there: spot_06_no")
    # with the photo's name and the season's, ready to be typed
    assert f'remove "{file}" --field "Creek field" --photo spot_06_no_frame.jpg;' in again
    assert again.endswith('add the photos with --field "Creek field" --again')
    assert done.exit_code == 0
    assert nothing.startswith(
        "Nothing was added; field Barn field was not made: 1 photo lies in Creek field. If"
    )
    assert "take it out there as said above and give this command again" in nothing
    assert "Barn field" not in run.invoke(app, ["season", "show", file]).output
    same = run.invoke(app, [*add, "Creek field"]).output
    assert "MIND" not in same
    assert "Nothing was added" not in same
    assert "in Creek field, visit 1: nothing changed there" in same


def test_a_photo_of_another_field_is_told_of_once(season: Season) -> None:
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    season.add_counts(counts([entry(3)]), SOUTH)
    notes = season.add_counts(counts([entry(1), entry(2)]), SOUTH).notes
    for name in ("IMG_1.jpg", "IMG_2.jpg"):
        (line,) = [note for note in notes if name in note]
        assert line.startswith("in North already, and left as counted there: ")
    assert "--field North --photo IMG_1.jpg --photo IMG_2.jpg;" in line
    later = season.add_counts(counts([entry(3)]), Where("Elm Hill", "South", "later")).notes
    assert "IMG_3.jpg is in the season already (South, visit 1) and stays there" in later


def test_a_long_command_names_some_and_counts_the_rest(season: Season) -> None:
    season.add_counts(counts([entry(k) for k in range(20)]), NORTH)
    season.add_counts(counts([entry(30)]), SOUTH)
    notes = season.add_counts(counts([entry(k) for k in range(20)]), SOUTH).notes
    (line,) = [note for note in notes if "left as counted" in note]
    assert line.count("--photo IMG_") == 12
    assert "(and the other 8 likewise)" in line
    assert "PHOTO" not in line


def test_counts_of_a_file_are_sent_there_as_a_file(season: Season, tmp_path: Path) -> None:
    """--again is for photos: a counts file holds again by being added."""
    season.add_counts(counts([entry(1), entry(2)]), NORTH)
    season.add_counts(counts([entry(3)]), SOUTH)
    file = write(tmp_path / "new counts.json", counts([entry(1, plants={"count": 9.0})]))
    (line,) = [n for n in season.add_counts(file, SOUTH).notes if "left as counted" in n]
    assert "--again" not in line
    assert line.endswith(f'season add {in_command(season.place)} "{file}" --field North')
    assert season.add_counts(file, NORTH).new == 1  # as it says


def test_a_photo_under_another_spots_name_is_said_and_named_as_it_is_there(
    season: Season, tmp_path: Path
) -> None:
    """The command that takes it out must not take another photo of that name."""
    season.add_counts(counts([entry(1), entry(3)]), NORTH)
    renamed = entry(1, photo="south/IMG_3.jpg")
    notes = season.add_counts(counts([renamed]), SOUTH).notes
    said = [note for note in notes if "IMG_3.jpg is IMG_1.jpg of North" in note]
    assert len(said) == 1
    assert "byte for byte the same" in said[0]
    (taken_out,) = [note for note in notes if note.startswith("in North already")]
    assert "--photo IMG_1.jpg" in taken_out
    assert "IMG_3.jpg" not in taken_out
    own = season.add_counts(counts([renamed]), NORTH).notes
    assert any("IMG_3.jpg is IMG_1.jpg of North" in note for note in own)
    assert not any("another name" in note for note in season.add_counts(
        counts([entry(1), entry(3)]), NORTH).notes)  # fmt: skip


def test_the_same_before_photos_are_counted(tmp_path: Path) -> None:
    samples = Path(__file__).parents[2] / "sample_images" / "creek_field"
    file, copy = str(tmp_path / "s.sqlite"), tmp_path / "spot_03.jpg"
    copy.write_bytes((samples / "spot_06_no_frame.jpg").read_bytes())
    run = CliRunner()
    run.invoke(app, ["season", "new", file])
    add = ["season", "add", file, "--area", "square:12in", "--farm", "Alder Bend", "--field"]
    run.invoke(app, [*add, "Creek field", str(samples / "spot_06_no_frame.jpg")])
    for field in ("Barn field", "Creek field"):
        said = run.invoke(app, [*add, field, str(copy), "--new"]).output
        assert "(spot_03.jpg is spot_06_no_frame.jpg of Creek field)" in said
        assert "--photo spot_03.jpg" not in said
