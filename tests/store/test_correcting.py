"""What is said of a photo's count that a person sets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry
from tillercount.store import Season


def correct(file: Path, *args: object) -> str:
    from tillercount.cli.app import app

    words = ["season", "correct", str(file), *(str(arg) for arg in args)]
    done = CliRunner().invoke(app, words, prog_name="tillercount")
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "2027.sqlite"


def filled(file: Path, *entries: dict[str, Any]) -> None:
    with Season.create(file, who="Ash") as made:
        made.add_counts(counts([*entries]), NORTH)


def test_a_correction_far_from_the_models_count_is_asked_about(file: Path) -> None:
    """95 for 35: it became the truth without a word."""
    few = {"count": 4.0, "low": 2.0, "high": 7.0}
    filled(file, entry(1), entry(2), entry(3, plants=few, shoots={**few, "count": 4.5}))
    command = (
        f'tillercount season correct {file} IMG_1.jpg --farm "Elm Hill" --field North --visit '
        '"visit 1" '
    )
    said = correct(file, "IMG_1.jpg", "--plants", 64, "--shoots", 190)
    assert "IMG_1.jpg: plants 64 (the model: 21)" in said  # still taken
    assert (
        "MIND: 64 plants are more than 3 times the model's 21; 190 shoots are more than 3 times "
        "the model's 63. Taken as given. A slip? Give the right count, or go back to the model's "
        f"counts: {command}--withdraw\n"
    ) in said
    # a slip after a correction that was right, and its way back
    assert "MIND" not in correct(file, "IMG_1.jpg", "--plants", 25, "--shoots", 70)
    said = correct(file, "IMG_1.jpg", "--plants", 2.5, "--shoots", 7)
    assert "2.5 plants are less than a third of the model's 21; 7 shoots are less than a" in said
    assert f"to what was corrected before: {command}--plants 25 --shoots 70\n" in said
    # its other count was counted by hand before
    assert "MIND" not in correct(file, "IMG_2.jpg", "--shoots", 80)
    said = correct(file, "IMG_2.jpg", "--plants", 79)
    assert "--withdraw (the 80 shoots counted by hand before go too: give them again)" in said
    # exactly so many times, and beside small counts
    assert "MIND" not in correct(file, "IMG_2.jpg", "--plants", 66)
    assert "MIND" not in correct(file, "IMG_3.jpg", "--plants", 15, "--shoots", 40)
    assert "MIND" not in correct(file, "IMG_1.jpg", "--withdraw")


def test_a_refused_photo_that_is_counted_by_hand_is_told_in_words(file: Path) -> None:
    filled(file, entry(1, status="refused", reason="blurred", plants=None, shoots=None))
    said = correct(file, "IMG_1.jpg", "--plants", 28)
    assert said.splitlines()[0] == "IMG_1.jpg: plants 28 (the model refused it)"
    assert "shoots" not in said
    said = correct(file, "IMG_1.jpg", "--withdraw")
    assert said == "IMG_1.jpg: no count, as the model refused it\n"
