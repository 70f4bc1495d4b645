"""The row spacing that photos show, against the drill's."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tillercount.field.photoflags import flag_name
from tillercount.field.rowspacing import RowsSeen, rows_seen, seen_mm, spacing_text, stick_flags
from tillercount.units import MM_PER_IN, length_mm


def seen(*inches: float | None, kind: str = "square") -> list[dict[str, Any]]:
    rows = [
        {"found": False, "reason": "none"}
        if one is None
        else {"found": True, "spacing_mm": one * MM_PER_IN}
        for one in inches
    ]
    counted = [{"status": "counted", "area": {"kind": kind}, "rows": one} for one in rows]
    return [*counted, {"status": "refused"}]


def rows(*inches: float | None) -> RowsSeen:
    found = rows_seen(seen(*inches))
    assert found is not None
    return found


def test_median_of_the_photos_that_show_rows() -> None:
    found = rows(7.2, None, 7.4, 7.9)
    assert (found.spacing_mm, found.photos) == (pytest.approx(7.4 * MM_PER_IN), 3)
    assert "Rows stand 7.4 in (19 cm) apart in 3 photos" in found.line()
    assert "may be wrong" in found.line()


@pytest.mark.parametrize(
    ("inches", "words"), [(14.6, "probably too large"), (3.1, "probably too small"),
                          (11.1, "perhaps too large"), (10.3, "If your drill's"),
                          (10.0, "If your drill's"), (4.2, "If your drill's")]
)  # fmt: skip
def test_rows_that_few_drills_have_say_that_the_size_is_wrong(inches: float, words: str) -> None:
    """As where a hoop's size was typed almost twice as large."""
    assert words in rows(inches, inches).line()


def test_what_is_said_unasked_of_one_photo_and_of_some_that_disagree() -> None:
    assert rows(11.2, None).line() == (
        "Rows stand 11.2 in (28.5 cm) apart in the 1 photo that shows them. If your drill's "
        "spacing is more than a quarter off that, the size in --area is probably wrong "
        "(--row-spacing compares them)."
    )
    assert rows(7.2, 8.4).line() == ""
    assert rows(7.2, 8.2).line()
    assert rows_seen(seen(None)) is None


@pytest.mark.parametrize("spacing", [True, -190.0, 0.0, math.nan, math.inf, "190", None])
def test_what_is_no_spacing(spacing: Any) -> None:
    assert seen_mm({"status": "counted", "rows": {"spacing_mm": spacing}}) is None


def test_typed_spacings_and_refused_photos_show_none() -> None:
    (one, _) = seen(7.5)
    assert seen_mm(one) == pytest.approx(190.5)
    assert seen_mm(one | {"area": {"kind": "row"}}) is None
    assert seen_mm(one | {"status": "refused"}) is None


def sticks(*inches: float | None, spacing: str = "6in") -> list[dict[str, Any]]:
    """Photos with a stick, its row spacing typed, and the rows that are seen beside it."""
    mm = length_mm(spacing)
    area = {"kind": "row", "text": f"row:600mm/{mm:g}mm", "typed": f"row:600mm/{spacing}"}
    typed = {"status": "counted", "area": area, "rows": {"found": True, "spacing_mm": mm}}
    return [
        typed if one is None else typed | {"stick_rows": {"spacing_mm": one * MM_PER_IN}}
        for one in inches
    ]


def test_rows_beside_sticks_are_held_against_the_typed_spacing() -> None:
    assert seen_mm(sticks(7.4)[0]) == pytest.approx(7.4 * MM_PER_IN)
    ((area, said),) = stick_flags(sticks(7.4, None, 7.6)).items()
    assert area == "row:600mm/152.4mm"
    assert said.startswith("rows stand 7.5 in apart in 2 photos, and the drill's were given as 6in")
    assert flag_name(said) == "row spacing"
    for fine in (
        sticks(6.2, 5.9),
        sticks(6.5, 6.6),  # less than a tenth off
        sticks(7.4, None),  # one photo is no evidence
        sticks(6.0, 7.5),  # they don't agree
        sticks(12.1, 11.9),  # every second row may be hidden
        seen(7.4, 7.6),  # a frame has no spacing of its own
    ):
        assert stick_flags(fine) == {}


@pytest.mark.parametrize(
    ("inches", "says"),
    [
        (7.5, "agrees with the drill's 7.5 in"),
        (8.2, "agrees"),
        (6.8, "agrees"),
        (9.375, "may be about a quarter too large"),
        (8.5, "may be somewhat too large"),
        (6.0, "may be about a fifth too small"),
        (5.0, "may be about a third too small"),
        (14.2, "about twice the drill's 7.5 in: every second row may be hidden"),
        (19.0, "may be about 2.5 times too large"),
        (2.95, "may be about 2.5 times too small"),
    ],
)
def test_against_the_drill(inches: float, says: str) -> None:
    line = rows(inches, inches).against(7.5 * MM_PER_IN, "7.5 in")
    assert says in line
    assert "%" not in line
    assert "\n" not in line


def test_what_cannot_be_checked_is_said() -> None:
    line = rows(7.3).against(190.5, "7.5 in")
    assert line == "Only 1 photo shows rows (7.3 in apart), so the drill's 7.5 in can't be checked."
    # one photo is hardly ever off by more than 15 %, which is worth a look though no proof
    line = rows(9.2).against(190.5, "7.5 in")
    assert line.startswith("Only 1 photo shows rows: 9.2 in apart, which doesn't agree with the ")
    assert "One photo proves nothing" in line
    assert "measure the frame's inside" in line
    assert "every second row may be hidden" in rows(14.5).against(190.5, "7.5 in")
    line = rows(6.0, 7.5, 9.0).against(190.5, "7.5 in")
    assert "6.0 in to 9.0 in apart in 3 photos, which differ too much to check" in line


@pytest.mark.parametrize(
    ("inches", "wrong"),
    [(6.6, False), (7.5, False), (9.6, False), (9.9, True), (11.2, True), (5.0, True),
     (14.5, False)],
)  # fmt: skip
def test_one_photo_tells_a_size_that_is_far_off(inches: float, wrong: bool) -> None:
    """As half again too large; by less than that one photo may be off itself."""
    found = rows(inches)
    assert bool(found.flag(190.5, "7.5 in")) is wrong
    if wrong:
        line = found.against(190.5, "7.5 in")
        assert f"Rows stand {inches} in apart in the 1 photo that shows them, and the d" in line
        assert "measure the frame's inside" in line


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("12.5 cm", "12.5 cm"), ("5 in", "4.9 in"), ("125 mm", "125 mm"), ("", "4.9 in (12.5 cm)"),
        ("0.125 m", "12.5 cm"),
    ],
)  # fmt: skip
def test_in_the_users_unit(typed: str, shown: str) -> None:
    assert spacing_text(124.6, typed) == shown
    if typed:
        line = rows(4.9, 4.91).against(length_mm(typed), typed)
        agrees = f"which agrees with the drill's {typed}."
        assert line == f"Rows stand {shown} apart in 2 photos, {agrees}"
