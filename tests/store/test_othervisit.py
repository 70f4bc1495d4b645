"""Photos that belong to another visit, and those that the season has by another name."""

from __future__ import annotations

import pytest

from tests.store.helpers import NORTH, counts, entry
from tests.store.test_clocks import FIRST, VISIT_1, of
from tillercount.store import Season, Where


def test_one_photo_of_several_is_put_to_another_visit(season: Season) -> None:
    """By the command that is told: what came with it stays."""
    season.add_counts(of(FIRST, 1, 2, 3), NORTH)
    second = Where("Elm Hill", "North", "20 March")
    (note,) = (one for one in season.add_counts(of(FIRST, 2), second).notes if "MIND" in one)
    assert note.startswith("MIND: if it belongs to 20 March, take out that photo alone: ")
    assert '--field North --visit "visit 1" --photo IMG_2.jpg; then add it again' in note
    season.remove_photos(["IMG_2.jpg"], VISIT_1)
    assert season.add_counts(of(FIRST, 2), second).put == 1
    assert [one.photo for one in season.placed(VISIT_1)] == ["IMG_1.jpg", "IMG_3.jpg"]
    # several of them, and all that they came with
    way = season.to_other_visit("6 April", ["IMG_1.jpg", "IMG_2.jpg", "IMG_3.jpg"])
    assert "take out what they came with" in way
    season.add_counts(of(FIRST, 4, 5), Where("Elm Hill", "North", "visit 1"))
    way = season.to_other_visit("6 April", ["IMG_1.jpg", "IMG_2.jpg", "IMG_4.jpg"])
    assert "take out those photos alone" in way
    assert '--visit "visit 1" --photo IMG_1.jpg --photo IMG_4.jpg and tillercount season' in way
    assert '--visit "20 March" --photo IMG_2.jpg; then add them again' in way


@pytest.mark.parametrize(
    ("numbers", "line"),
    [
        (
            [1],
            "MIND: 1 photo is in the season by another name, byte for byte the same (0.jpg is "
            "IMG_1.jpg of Home), and stays as it is there; if another spot's photo was meant, give "
            "that one",
        ),
        (
            [1, 2],
            "MIND: 2 photos are in the season by other names, byte for byte the same (0.jpg is "
            "IMG_1.jpg of Home, 1.jpg is IMG_2.jpg of Home), and stay as they are there; if other "
            "spots' photos were meant, give those",
        ),
    ],
)
def test_photos_by_other_names_one_or_several(
    season: Season, numbers: list[int], line: str
) -> None:
    season.add_counts(counts([entry(1), entry(2)]), Where("Elm Hill", "Home"))
    again = [entry(number, photo=f"{n}.jpg") for n, number in enumerate(numbers)]
    assert line in season.add_counts(counts(again), Where("Elm Hill", "Home")).notes
