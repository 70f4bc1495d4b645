"""Hand counts in a season: the same twice is one, another number is a question."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text

from tests.store.helpers import NORTH, counts, entry, hand_csv
from tillercount.errors import InputError
from tillercount.store import Season, Where
from tillercount.units import per_ft2


def plants_per_ft2(season: Season, where: Where = NORTH) -> float:
    estimate = season.summary(where).estimate
    assert estimate is not None
    assert estimate.plants is not None
    return per_ft2(estimate.plants.mean)


def test_hand_counts(season: Season, tmp_path: Path) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2\n2,Ash,24,70,1 ft2\n2,Birch,22,,1 ft2")
    assert season.add_hand_counts(file, NORTH).new == 3
    assert season.add_hand_counts(file, NORTH).known == 3
    assert plants_per_ft2(season) == pytest.approx((20 + 23) / 2)
    changed = hand_csv(tmp_path / "i.csv", "01,ash,30,90,1 ft2")
    with pytest.raises(InputError, match=r"i\.csv, spot 01: ash counted 20 plants, 61 shoots"):
        season.add_hand_counts(changed, NORTH)
    assert plants_per_ft2(season) == pytest.approx(21.5)
    season.add_hand_counts(changed, NORTH, replace=True)
    assert plants_per_ft2(season) == pytest.approx((30 + 23) / 2)
    with season.engine.connect() as connection:  # the first count is history, not gone
        assert connection.scalar(text("SELECT count(*) FROM hand_counts")) == 4


def test_an_old_file_given_again_after_a_second_visit(season: Season, tmp_path: Path) -> None:
    file = hand_csv(tmp_path / "h.csv", "1,Ash,20,61,1 ft2")
    season.add_hand_counts(file, NORTH)
    later = Where("Elm Hill", "North", "late March")
    season.add_hand_counts(hand_csv(tmp_path / "i.csv", "1,Ash,25,90,1 ft2"), later)
    again = season.add_hand_counts(file, NORTH)
    assert (again.new, again.visit) == (0, "visit 1")
    assert plants_per_ft2(season) == pytest.approx(25)  # the last visit
    assert plants_per_ft2(season, Where("elm hill", "north", "Visit 1")) == pytest.approx(20)


def test_the_same_sheet_in_another_field_is_said(season: Season, tmp_path: Path) -> None:
    """By a slip of --field, or by a name that the field no longer has: both fields would be judged
    by the counts of one."""
    rows = ["1,Ash,20,61,1 ft2", "2,Ash,24,,1 ft2", "3,Ash,22,66,1 ft2"]
    file = hand_csv(tmp_path / "h.csv", "\n".join(rows))
    assert season.add_hand_counts(file, NORTH).notes == ()
    south = Where("Elm Hill", "South")
    (said,) = season.add_hand_counts(file, south).notes
    assert said.startswith("MIND: the same 3 counts, figure for figure, are in Elm Hill, North")
    other = hand_csv(tmp_path / "i.csv", "\n".join([*rows[:2], "3,Ash,23,66,1 ft2"]))
    assert season.add_hand_counts(other, Where("Elm Hill", "West")).notes == ()
    few = hand_csv(tmp_path / "j.csv", "\n".join(rows[:2]))
    assert season.add_hand_counts(few, Where("Elm Hill", "East")).notes == ()
    # what was taken out again is nowhere else any more
    season.remove_added([1, 2])
    assert season.add_hand_counts(file, Where("Elm Hill", "Hill")).notes == ()


def test_a_spot_that_became_a_date_is_asked_about(season: Season, tmp_path: Path) -> None:
    places = [{**entry(n), "photo": f"{name}.jpg"} for n, name in enumerate(["1-2", "7"], start=1)]
    season.add_counts(counts(places), NORTH)
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("spot,plants,shoots,area\n2-Jan,22,60,1 ft2\n7,21,58,1 ft2\n", "utf-8")
    notes = season.add_hand_counts(sheet, NORTH).notes
    (said,) = [note for note in notes if "is a date" in note]
    assert said.startswith("MIND: spot '2-Jan' is a date, as spreadsheets make of 1-2, and this ")
    assert "write its name there again" in said


def test_spots_not_counted_yet_are_named(season: Season, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("spot,plants,shoots,area\n1,22,60,1 ft2\n2,,,\n", "utf-8")
    added = season.add_hand_counts(sheet, NORTH)
    assert added.new == 1
    assert any("1 spot has no count yet and is left out: 2" in note for note in added.notes)


def test_a_sheet_with_dates_and_then_mended_is_asked_about(season: Season, tmp_path: Path) -> None:
    rows = [f"Ash,{20 + n},{60 + n},1 ft2" for n in range(5)]
    dates = ["01. Jan", "01. Feb", "01. Mrz", "02. Jan", "North"]
    names = ["1-1", "1-2", "1-3", "2-1", "North"]
    turned, mended = (
        hand_csv(tmp_path / f"{k}.csv", "\n".join(map(",".join, zip(some, rows, strict=True))))
        for k, some in enumerate((dates, names))
    )
    assert season.add_hand_counts(turned, NORTH).notes == ()
    added = season.add_hand_counts(mended, NORTH)
    assert (added.new, added.known) == (4, 1)
    said = added.notes[0]
    assert said.startswith("MIND: 4 pairs of spots have the same figures by hand")
    assert "'01. Feb' and 1-2" in said
    assert "tillercount season remove" in said
    assert "--add 1; then add the mended sheet" in said
    warned = season.assess(NORTH, "common-practice").verdict.warnings
    assert warned[0].startswith("4 pairs of spots have the same figures by hand")
    # what it says to do leaves every walked spot there once
    season.remove_added([1])
    assert season.add_hand_counts(mended, NORTH).notes == ()
    estimate = season.summary(NORTH).estimate
    assert estimate is not None
    assert estimate.plants is not None
    assert estimate.plants.n == 5


def test_the_sheet_with_dates_added_last_is_asked_about_too(
    season: Season, tmp_path: Path
) -> None:
    season.add_hand_counts(hand_csv(tmp_path / "a.csv", "1-2,Ash,20,61,1 ft2"), NORTH)
    again = hand_csv(tmp_path / "b.csv", "01. Feb,Ash,20,61,1 ft2")
    assert "--add 2; then" in season.add_hand_counts(again, NORTH).notes[0]
    other = hand_csv(tmp_path / "c.csv", "02. Jan,Ash,21,61,1 ft2\n3,Ash,20,61,1 ft2")
    # neither other figures nor what was asked before
    notes = season.add_hand_counts(other, NORTH).notes
    assert not any("same figures" in note for note in notes)
