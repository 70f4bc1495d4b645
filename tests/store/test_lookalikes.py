"""Photos added that look like others of the season, turned or saved again."""

from __future__ import annotations

from dataclasses import replace

from tests.store.helpers import NORTH, counts, entry
from tillercount.field.copies import LOOKS
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")
ONE, OTHER = "0f3a" * 64, "93c1" * 64
NEARLY = f"{ONE[:-1]}b"
MIND = f"MIND: {LOOKS}: "


def said(season: Season, where: Where, *entries: object) -> list[str]:
    notes = season.add_counts(counts(list(entries)), where).notes  # type: ignore[arg-type]
    return [note for note in notes if note.startswith(MIND)]


def test_they_are_told_with_their_fields_and_left_in(season: Season) -> None:
    first = [entry(1, look=ONE), entry(2, look=OTHER), entry(3)]
    assert said(season, NORTH, *first) == []
    (line,) = said(season, SOUTH, entry(4, look=NEARLY), entry(5), entry(6, look=""))
    assert line.startswith(f"{MIND}IMG_4.jpg and IMG_1.jpg of North, visit 1. If it is a copy, ")
    assert "twice" not in line
    assert line.endswith('--field South --visit "visit 1" --photo IMG_4.jpg')
    assert len(season.placed(SOUTH)) == 3
    # of the same adding; and those of before aren't told once more
    (line,) = said(season, SOUTH, entry(7, look="5a0c" * 64), entry(8, look="5a0c" * 64))
    assert "IMG_8.jpg and IMG_7.jpg. If one is a copy, its place counts twice: take it out" in line
    assert said(season, SOUTH, entry(9)) == []


def test_one_taken_out_is_like_nothing_any_more(season: Season) -> None:
    said(season, NORTH, entry(1, look=ONE))
    season.remove_photos(["IMG_1.jpg"])
    assert said(season, SOUTH, entry(4, look=ONE)) == []


def test_the_same_count_without_its_look_is_the_same_count(season: Season) -> None:
    """Counts files of older programs have none."""
    season.add_counts(counts([entry(1)]), NORTH)
    assert season.add_counts(counts([entry(1, look=ONE)]), NORTH).new == 0


def test_the_field_goes_on_saying_it(season: Season) -> None:
    """Also of a corrected photo, which has two records; never of a photo and itself."""

    def told() -> list[str]:
        flags = season.assess(NORTH, "common-practice").flags
        return [flag for flag in flags if flag.startswith(LOOKS)]

    season.add_counts(counts([entry(1, look=ONE), entry(2, look=OTHER), entry(3)]), NORTH)
    assert not told()
    season.correct("IMG_1.jpg", plants=17.0)
    assert not told()
    season.add_counts(counts([entry(4, look=NEARLY)]), NORTH)
    (flag,) = told()
    assert "(IMG_4.jpg and IMG_1.jpg)" in flag


def test_refused_photos_count_nowhere(season: Season) -> None:
    season.add_counts(counts([entry(1, look=ONE, status="refused", reason="too dark")]), NORTH)
    assert said(season, NORTH, entry(2, look=ONE)) == []
    season.correct("IMG_1.jpg", plants=17.0)
    (line,) = said(season, NORTH, entry(3, look=NEARLY))
    assert "IMG_3.jpg and IMG_1.jpg" in line


def test_two_of_one_name_are_told_apart(season: Season) -> None:
    """By visit, and by the beginning of the hash in the command, which works as it stands."""
    season.add_counts(counts([entry(1, look=ONE)]), replace(NORTH, visit="early"))
    late = replace(NORTH, visit="late")
    (line,) = said(season, late, entry(1, sha256="ab" * 32, look=ONE))
    assert "IMG_1.jpg and IMG_1.jpg of early. If it is a copy" in line
    assert line.endswith(f"--field North --visit late --photo {'ab' * 6}")
    season.remove_photos(["ab" * 6], where=late)
    assert not season.placed(late)


def test_many_alike_are_told_once_each(season: Season) -> None:
    (line,) = said(season, NORTH, *(entry(n, look=ONE) for n in range(1, 10)))
    assert line.count(" and IMG_1.jpg") <= 8
    assert "IMG_3.jpg and IMG_2.jpg" not in line
    assert "take the first of them out" in line
    assert line.count("--photo ") == 6
