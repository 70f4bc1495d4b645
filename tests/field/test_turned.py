"""Spots that a spreadsheet turned into dates."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.field.test_unpaired import spots
from tillercount.field.turned import counted_twice, turned
from tillercount.spotdates import may_be
from tillercount.stand import assess

NAMES = ["1-2", "spot_3-4", "5.6", "IMG_0412", "12-13", "7", "8-9-10"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("2-Jan", "1-2"), ("02.Jan", "1-2"), ("Jan-02", "1-2"), ("1-Feb", "1-2"),
        ("01. Feb", "1-2"), ("01-févr.", "1-2"), ("2026-01-02", "1-2"), ("01/02/2026", "1-2"),
        ("02.01.2026 00:00", "1-2"), ("3-Apr", "spot_3-4"), ("4. März", "spot_3-4"),
        ("05. Jun", "5.6"), ("13-Dec", "12-13"), ("Dez 13", "12-13"), ("2010-08-09", "8-9-10"),
        ("09.08.2010", "8-9-10"),
        ("1-2", ""), ("7", ""), ("7-Jan", ""), ("North", ""), ("2-Jab", ""), ("Jan", ""),
        ("2026-03-18", ""), ("", ""),
    ],
)  # fmt: skip
def test_which_name_a_date_may_have_been(text: str, name: str) -> None:
    assert may_be(text, NAMES) == ([name] if name else [])


def test_a_spot_that_is_called_so_is_no_date() -> None:
    assert may_be("2-Jan", ["1-2", "2-JAN"]) == []


PHOTOS = spots(["1-1", "1-2", "2-1", "3-5"], "photo")


def test_it_is_asked_first() -> None:
    counts = [*PHOTOS, *spots(["2-Jan", "5-Mar", "1-1"], "hand")]
    (said,) = turned(counts)
    assert "spot '2-Jan' is a date, as spreadsheets make of 1-2 or 2-1, and a photo is of" in said
    assert "is that the place? Then format the column spot as text" in said
    assert "(and likewise spot 5-Mar)" in said
    assert said in assess(counts).verdict.warnings


def test_nothing_is_asked_without_such_a_photo() -> None:
    assert turned(spots(["2-Jan", "5-Mar"], "hand")) == []
    assert turned([*spots(["1", "2"], "photo"), *spots(["2-Jan"], "hand")]) == []
    # both photos that it may be have their own hand count
    assert turned([*PHOTOS, *spots(["1-2", "2-1", "2-Jan"], "hand")]) == []


def test_a_sheet_given_before_and_after_it_was_mended_is_a_first_warning() -> None:
    mended = spots(["1-1", "1-2", "2-3"], "hand")
    dates = spots(["01. Jan", "01. Feb", "02. Mrz"], "hand")
    (said,) = counted_twice([*dates, *mended])
    assert said.startswith("3 pairs of spots have the same figures by hand, and one name is a date")
    assert "('01. Jan' and 1-1; '01. Feb' and 1-2; '02. Mrz' and 2-3)" in said
    assert "leave the file with the dates out; of a season" in said
    assert "season remove STORE --add N" in said
    for counts in ([*dates, *mended], [*PHOTOS, *mended, *dates]):
        assert assess(counts).verdict.warnings[0] == said


def test_other_figures_people_or_names_are_no_count_twice() -> None:
    (own,) = spots(["1-2"], "hand", observer="Ash")
    same = replace(own, spot="2-Jan")
    assert len(counted_twice([own, same])) == 1
    assert len(counted_twice([own, replace(same, observer="")])) == 1
    assert len(counted_twice([own, replace(same, observer=" ash")])) == 1
    for other in (
        replace(same, plants_per_m2=231.0), replace(same, area_m2=0.2), replace(same, spot="3-Jan"),
        replace(same, observer="Birch"), replace(same, source="photo", photo="2-Jan.jpg"),
    ):  # fmt: skip
        assert counted_twice([own, other]) == []
