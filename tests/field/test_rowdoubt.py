"""Rows that speak against a size, over all photos of a field."""

from __future__ import annotations

from typing import Any

import pytest

from tillercount.errors import InputError
from tillercount.field.rowdoubt import drill_typed, row_doubt, seen_rows
from tillercount.field.spots import SeenRows
from tillercount.units import MM_PER_IN

HOOP, SQUARE = "hoop:508mm", "square:304.8mm"


def rows(*inches: float, drill: str = "", area: str = HOOP, **more: Any) -> list[SeenRows]:
    return [SeenRows(one * MM_PER_IN, area, drill, **more) for one in inches]


def test_rows_that_few_drills_have_say_what_follows_in_one_sentence() -> None:
    """A hoop of 13.54 in typed as one of 20 in."""
    found = row_doubt(rows(11.2, 10.6, 11.1))
    assert found is not None
    assert not found.sure
    assert found.line.startswith("rows stand 11.1 in (28 cm) apart in 3 photos by the size in")
    assert "most drills have 4 to 10 in (10 to 25 cm; common practice)" in found.line
    assert "if yours has 7.5 in (19 cm), it is wrong and there are about 2.2 times" in found.line
    assert found.line.endswith("give --row-spacing with what your drill has")


@pytest.mark.parametrize(
    "seen",
    [
        rows(7.3, 7.5, 7.2),  # usual
        rows(4.9, 5.1),  # of 12.5 cm
        rows(10.3, 10.2),  # of 10 in, as photos show it
        rows(14.0),  # one photo
        rows(11.1, 14.9),  # that disagree
        rows(15.0, 15.1, of_stick=True, drill="15in"),  # typed, and flagged where wrong
        [],
    ],
)
def test_rows_that_say_nothing(seen: list[SeenRows]) -> None:
    assert row_doubt(seen) is None


@pytest.mark.parametrize("drill", ["11 in", "12 in", "28 cm"])
def test_the_drills_own_spacing_ends_the_doubt(drill: str) -> None:
    assert row_doubt(rows(11.2, 11.0, 11.1, drill=drill)) is None


def test_the_drills_own_spacing_may_prove_it() -> None:
    found = row_doubt(rows(11.2, 10.6, 11.1, drill="7.5 in"))
    assert found is not None
    assert found.sure
    assert "the drill's are 7.5 in: the size in --area may be about half too large" in found.line
    twice = row_doubt(rows(15.0, 14.6, drill="7.5 in"))
    assert twice is not None
    assert not twice.sure  # every second row may be hidden


def test_two_distances_in_one_field() -> None:
    near = rows(7.3, 7.4, 7.5, 7.4, 7.4, area=SQUARE)
    found = row_doubt([*rows(11.2, 10.6, 11.1), *near])
    assert found is not None
    assert found.line.startswith(
        "rows stand 7.4 in (19 cm) apart in 5 photos and 11.1 in (28 cm) in 3 others of this field"
    )
    assert "another drill, or another size of frame or stick" in found.line
    assert not found.sure
    told = row_doubt([*rows(11.2, 10.6, 11.1, drill="7.5 in"), *rows(7.3, 7.4, drill="7.5 in")])
    assert told is not None
    assert "7.4 in (18.5 cm) agrees with the drill's 7.5 in, so measure" in told.line
    # two drills, each said
    assert row_doubt([*rows(10.0, 10.1, drill="10 in"), *rows(7.3, 7.4, drill="7.5 in")]) is None


def test_two_visits_of_one_field() -> None:
    found = row_doubt(rows(9.5, 9.6), rows(7.4, 7.5, area=SQUARE))
    assert found is not None
    assert "in 2 photos and 7.5 in (19 cm) in 2 of the field's other visits" in found.line
    assert row_doubt(rows(7.7, 7.6), rows(7.4, 7.5)) is None
    assert row_doubt(rows(9.5), rows(7.4, 7.5)) is None
    assert row_doubt(rows(9.5, 9.6, drill="9.5 in"), rows(7.4, 7.5)) is None


@pytest.mark.parametrize(
    "seen",
    [
        [*rows(7.3, 7.4, 7.5), *rows(14.8, 14.9)],  # every second row hidden, the size being one
        [*rows(7.3, 7.4, 7.5), *rows(9.9)],  # one photo
        [*rows(*[7.4] * 9), *rows(9.9, 9.8)],  # a small part of them
        rows(6.7, 6.8, 7.2, 7.5, 7.6),  # as far off as photos are
    ],
)
def test_one_distance_all_the_same(seen: list[SeenRows]) -> None:
    assert row_doubt(seen) is None


def test_twice_the_distance_with_another_size_is_told() -> None:
    """The radius of a hoop typed for its diameter."""
    assert row_doubt([*rows(7.3, 7.4), *rows(14.8, 14.9, area="hoop:1016mm")]) is not None


@pytest.mark.parametrize(
    ("said", "drill"), [("7.5  in", "7.5 in"), ("7.5", ""), (7.5, ""), (None, ""), ("wide", "")]
)
def test_what_an_entry_says_of_the_drill(said: Any, drill: str) -> None:
    area = {"kind": "hoop", "text": HOOP}
    found = seen_rows({"area": area, "rows": {"spacing_mm": 280.0}, "drill_rows": said})
    assert found == SeenRows(280.0, HOOP, drill)


def test_a_stick_brings_its_own() -> None:
    area = {"kind": "row", "text": "row:487.68mm/190.5mm", "typed": "row:19.2in/7.5in"}
    found = seen_rows({"area": area, "stick_rows": {"spacing_mm": 230.0}})
    assert found == SeenRows(230.0, area["text"], "7.5in", of_stick=True)
    assert seen_rows({"area": area, "rows": {"spacing_mm": 190.5}}) is None


def test_a_drills_spacing_needs_its_unit() -> None:
    with pytest.raises(InputError, match=r"--row-spacing '7\.5' has no unit"):
        drill_typed("7.5")


@pytest.mark.parametrize("typed", ["19.05cm", "19,05cm"])
def test_a_sticks_row_spacing_is_read_with_either_decimal_mark(typed: str) -> None:
    area = {"kind": "row", "text": "row:487.7mm/190.5mm", "typed": f"row:48,77cm/{typed}"}
    found = seen_rows({"area": area, "stick_rows": {"spacing_mm": 191.0}})
    assert found is not None
    assert found.drill == "19.05cm"
