"""Renaming and taking out: nothing else changes, and there is a way back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from tests.store.helpers import NORTH, counts, entry, hand_csv, plan, write
from tillercount.errors import InputError
from tillercount.store import Season, Where

SOUTH = Where("Elm Hill", "South")


@pytest.fixture
def full(season: Season, tmp_path: Path) -> Season:
    """Two fields; the first with a plan, two visits, photos, hand counts, everything."""
    made = write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)], zone=["a", "b"]))
    season.add_plan(made, NORTH)
    season.add_counts(counts([entry(1, spot="1"), entry(2, spot="2")]), NORTH)
    season.add_hand_counts(hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2"), NORTH)
    season.correct("IMG_2.jpg", plants=25)
    season.assess(NORTH, "common-practice")
    season.add_counts(counts([entry(3)]), Where("Elm Hill", "North", "later"))
    season.add_counts(counts([entry(4), entry(5)]), SOUTH)
    return season


def rows(season: Season, table: str) -> int:
    with season.engine.connect() as connection:
        return int(connection.scalar(text(f"SELECT count(*) FROM {table}")) or 0)


def test_a_field_taken_out_leaves_the_others_as_they_were(full: Season) -> None:
    before = full.summary(SOUTH).estimate
    assert full.contents(NORTH) == {
        "visits": 2, "spots": 3, "photos": 3, "hand counts": 1, "corrections": 1, "assessments": 1,
    }  # fmt: skip
    gone, copy = full.remove(NORTH, backed_up=True)
    assert gone == ["field 'North'"]
    assert [row["field"] for row in full.overview()] == ["South"]
    assert full.summary(SOUTH).estimate == before
    for table, left in (("photos", 2), ("predictions", 2), ("corrections", 0), ("zones", 0),
                        ("hand_counts", 0), ("assessments", 0), ("spots", 2)):  # fmt: skip
        assert rows(full, table) == left, table
    assert not [one for one in full.check() if one.level == "bad"]
    (act, *_) = full.journal()
    assert (act["verb"], act["who"]) == ("remove", "Ash")
    assert "field 'North'" in act["detail"]
    if copy is not None:  # a file: the copy holds what is gone
        assert copy.name in act["detail"]
        with Season.open(copy) as old:
            assert len(old.overview()) == 3
            assert old.summary(Where("Elm Hill", "North", "visit 1")).corrected == 1


def test_the_last_visit_and_field_take_their_house_along(season: Season) -> None:
    season.add_counts(counts([entry(1)]), NORTH)
    gone, _ = season.remove(Where("Elm Hill", "North", "visit 1"), backed_up=True)
    assert gone == ["visit 'visit 1'", "field 'North'", "farm 'Elm Hill'"]
    assert season.overview() == []
    assert season.add_counts(counts([entry(1)]), NORTH).new == 1  # and can come back


def test_a_visit_taken_out(full: Season) -> None:
    gone, _ = full.remove(Where("Elm Hill", "North", "later"), backed_up=True)
    assert gone == ["visit 'later'"]
    assert full.summary(NORTH).visit == "visit 1"


def test_a_photo_moved_from_another_visit_stays_known(full: Season) -> None:
    full.assign("IMG_4.jpg", "IMG_3", Where("Elm Hill", "North", "later"), move=True)
    full.remove(Where("Elm Hill", "North", "later"), backed_up=True)
    assert rows(full, "photos") == 4  # IMG_3 is gone; IMG_4 was in South once
    assert full.add_counts(counts([entry(4)]), SOUTH).placed[0].photo == "IMG_4.jpg"


def test_a_hand_count_goes_and_comes_back(season: Season, tmp_path: Path) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n2,Ash,30,90,1 ft2\n2,Bo,32,90,1 ft2")
    season.add_hand_counts(file, NORTH)
    with pytest.raises(InputError, match=r"2 people counted spot '2' .* \(Ash, Bo\)"):
        season.remove_hand_count(NORTH, "2")
    with pytest.raises(InputError, match=r"no hand count of spot '7' .*: 1, 2"):
        season.remove_hand_count(NORTH, "7")
    at, copy = season.remove_hand_count(NORTH, "spot_02", "bo")
    assert at == "Elm Hill, North, visit 1"
    assert (copy is None) == (season.engine.dialect.name != "sqlite")
    assert season.overview()[0]["hand_counts"] == 2
    assert rows(season, "hand_counts") == 3  # kept in the history
    assert season.add_hand_counts(file, NORTH).new == 1
    assert season.overview()[0]["hand_counts"] == 3


def test_what_was_replaced_stays_so_when_the_old_file_comes_again(
    season: Season, tmp_path: Path
) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    season.add_hand_counts(file, NORTH)
    new = hand_csv(tmp_path / "i.csv", "1,Ash,30,90,1 ft2")
    season.add_hand_counts(new, NORTH, replace=True)
    assert season.add_hand_counts(file, NORTH).new == 0


def test_a_photo_goes_and_comes_back(season: Season) -> None:
    given = counts([entry(1), entry(2)])
    season.add_counts(given, NORTH)
    (name, at), _ = season.remove_photo("img_1.jpg")
    assert (name, at) == ("IMG_1.jpg", "Elm Hill, North, visit 1")
    assert season.summary(NORTH).estimate.spots == 1  # type: ignore[union-attr]
    assert not season.counted(entry(1)["sha256"], "square:304.8mm")
    season.add_counts(given, NORTH)
    assert season.summary(NORTH).estimate.spots == 2  # type: ignore[union-attr]
    assert season.counted(entry(1)["sha256"], "square:304.8mm")


def test_a_failed_removal_leaves_no_copy(file_season: Season, tmp_path: Path) -> None:
    file_season.add_counts(counts([entry(1)]), NORTH)
    with pytest.raises(InputError, match="no photo"):
        file_season.remove_photo("b.jpg")
    with pytest.raises(InputError, match="no field 'West'"):
        file_season.remove(Where("Elm Hill", "West"))
    assert not list(tmp_path.glob("*before-remove*"))
    assert len(file_season.journal()) == 1


def test_another_name(full: Season) -> None:
    before = full.summary(Where("Elm Hill", "North", "later")).estimate
    assert full.rename(NORTH, " North  End", "field") == "North"
    assert full.rename(Where("Elm Hill", "North End", "later"), "30 March", "visit") == "later"
    assert full.rename(SOUTH, "Elm Rise", "farm") == "Elm Hill"
    assert full.rename(Where("Elm Rise", "South"), "SOUTH", "field") == "South"  # its own name
    found = full.summary(Where("Elm Rise", "North End", "30 March"))
    assert found.estimate == before
    with pytest.raises(InputError, match="there is a field 'North End' already") as refused:
        full.rename(Where("Elm Rise", "South"), "north end".title(), "field")
    told = str(refused.value)  # what to do instead, in the order in which nothing is lost
    steps = (
        "Nothing was changed",
        "Give 'SOUTH' another name",
        'season add ... --field "North End"',
        "make again what was corrected",
        'season remove ... --farm "Elm Rise" --field SOUTH',
    )
    places = [told.index(step) for step in steps]
    assert places == sorted(places)
    with pytest.raises(InputError, match='--field "North End" --visit "visit 1"'):
        full.rename(Where("Elm Rise", "North End", "visit 1"), "30 march", "visit")
    said = [act["detail"] for act in full.journal() if act["verb"] == "rename"]
    assert said[-1] == "field 'North' of Elm Hill to 'North End'"
    assert len(said) == 4


def test_a_spot_that_was_emptied_is_no_spot(season: Season, tmp_path: Path) -> None:
    """Unplanned ones go by what was counted there; planned ones stay, they are still to visit."""
    made = write(tmp_path / "p.geojson", plan([(0, 0), (90, 0)]))
    season.add_plan(made, NORTH)
    season.add_hand_counts(
        hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n9,Ash,22,60,1 ft2"), NORTH
    )
    season.add_counts(counts([entry(5)]), SOUTH)

    def spots() -> dict[str, int]:
        return {row["field"]: row["spots"] for row in season.overview()}

    assert spots() == {"North": 3, "South": 1}
    season.remove_hand_count(NORTH, "9")
    season.remove_hand_count(NORTH, "1")
    assert spots() == {"North": 2, "South": 1}
    assert season.contents(NORTH)["spots"] == 2
    season.assign("IMG_5.jpg", "1", NORTH, move=True)
    assert spots() == {"North": 2, "South": 0}
    season.add_hand_counts(hand_csv(tmp_path / "again.csv", "9,Ash,22,60,1 ft2"), NORTH)
    assert spots() == {"North": 3, "South": 0}


def test_a_correction_that_no_stand_can_have_is_refused(full: Season) -> None:
    with pytest.raises(InputError, match=r"IMG_2\.jpg: .* plants per ft² can't be young wheat"):
        full.correct("IMG_2.jpg", plants=280, shoots=900)
    full.correct("IMG_2.jpg", plants=28, shoots=90)


def test_a_hand_count_of_several_visits_asks_for_the_visit(
    season: Season, tmp_path: Path
) -> None:
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n2,Ash,21,61,1 ft2")
    season.add_hand_counts(hand, NORTH)
    season.add_hand_counts(
        hand_csv(tmp_path / "i.csv", "1,Ash,24,71,1 ft2"), replace(NORTH, visit="late")
    )
    with pytest.raises(InputError, match=r"in 2 visits \(late, visit 1\).*--visit late"):
        season.remove_hand_count(NORTH, "1")
    assert season.remove_hand_count(replace(NORTH, visit="late"), "1")[0].endswith("late")
    with pytest.raises(InputError, match="no hand count of spot '1'"):
        season.remove_hand_count(replace(NORTH, visit="late"), "1")


def test_many_copies_are_said_and_none_is_deleted(tmp_path: Path) -> None:
    from tillercount.cli.app import app

    file = tmp_path / "farm.sqlite"
    hand = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    said = []
    with Season.create(file, who="Ash") as season:
        for _ in range(6):
            season.add_hand_counts(hand, NORTH)
            args = ["season", "remove", str(file), "--field", "North", "--hand-count", "1", "--yes"]
            said.append(CliRunner().invoke(app, args).stdout)
    assert "such copies lie" not in "".join(said[:5])
    assert f"6 such copies lie in {tmp_path.resolve()} now, " in said[5]
    assert len(list(tmp_path.glob("farm.before-remove.*.sqlite"))) == 6
