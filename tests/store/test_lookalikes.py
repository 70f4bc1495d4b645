"""Photos added that look like others of the season, turned or saved again."""

from __future__ import annotations

from tests.store.helpers import NORTH, counts, entry
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")
ONE, OTHER = "0f3a" * 64, "93c1" * 64
NEARLY = f"{ONE[:-1]}b"
MIND = "MIND: looks the same but for being turned, mirrored, made smaller or saved again: "


def said(season: Season, where: Where, *entries: object) -> list[str]:
    notes = season.add_counts(counts(list(entries)), where).notes  # type: ignore[arg-type]
    return [note for note in notes if note.startswith(MIND)]


def test_they_are_told_with_their_fields_and_left_in(season: Season) -> None:
    first = [entry(1, look=ONE), entry(2, look=OTHER), entry(3)]
    assert said(season, NORTH, *first) == []
    (line,) = said(season, SOUTH, entry(4, look=NEARLY), entry(5), entry(6, look=""))
    assert line.startswith(f"{MIND}IMG_4.jpg and IMG_1.jpg of North. If one is a copy")
    assert line.endswith("--field South --photo IMG_4.jpg")
    assert len(season.placed(SOUTH)) == 3
    # of the same adding; and those of before aren't told once more
    (line,) = said(season, SOUTH, entry(7, look="5a0c" * 64), entry(8, look="5a0c" * 64))
    assert "IMG_8.jpg and IMG_7.jpg. If" in line
    assert said(season, SOUTH, entry(9)) == []


def test_one_taken_out_is_like_nothing_any_more(season: Season) -> None:
    said(season, NORTH, entry(1, look=ONE))
    season.remove_photos(["IMG_1.jpg"])
    assert said(season, SOUTH, entry(4, look=ONE)) == []


def test_the_same_count_without_its_look_is_the_same_count(season: Season) -> None:
    """Counts files of older programs have none."""
    season.add_counts(counts([entry(1)]), NORTH)
    assert season.add_counts(counts([entry(1, look=ONE)]), NORTH).new == 0
