"""Hand counts of which one doesn't go with the others."""

from __future__ import annotations

from pathlib import Path

import pytest

from tillercount.field import collect
from tillercount.field.oddrecords import areas_line, odd_records
from tillercount.stand import assess

Row = tuple[float, float, str]
FOOT = "square:12in"
EVEN: list[Row] = [(22, 65, FOOT), (27, 88, FOOT), (24, 80, FOOT)]


def sheet(folder: Path, rows: list[Row]) -> Path:
    path = folder / "h.csv"
    lines = [f"{n},{p:g},{s:g},{area}" for n, (p, s, area) in enumerate(rows, start=1)]
    path.write_text("\n".join(["spot,plants,shoots,area", *lines]) + "\n")
    return path


def lines_of(folder: Path, rows: list[Row]) -> list[str]:
    return [one.line for one in odd_records(collect(sheet(folder, rows)).spots)]


def test_a_slip_in_one_number_is_named_with_row_and_figures(tmp_path: Path) -> None:
    """72 plants with 77 shoots, 1.07 to a plant, where the others have 2.95 to 3.33."""
    (line,) = lines_of(tmp_path, [EVEN[0], (72, 77, FOOT), *EVEN[1:]])
    assert line.startswith("spot 2 (row 3): 72 plants and 77 shoots in square:12in are 1.1 shoots")
    assert "the other spots have 3.0 to 3.3" in line
    assert "check the number of plants (22 to 27 at the others)" in line


def test_the_shoots_are_named_where_they_are_off(tmp_path: Path) -> None:
    (line,) = lines_of(tmp_path, [*EVEN, (25, 30, FOOT)])
    assert "check the number of shoots (65 to 88 at the others)" in line


@pytest.mark.parametrize(
    "rows",
    [
        EVEN,
        [*EVEN, (12, 40, FOOT)],  # a thin spot is no slip: as many shoots to a plant
        [*EVEN[:2], (72, 77, FOOT)],  # two others don't tell which one is odd
        [(20, 90, FOOT), (30, 60, FOOT), (25, 100, FOOT), (40, 50, FOOT)],  # all differ
        [*EVEN, (54, 170, "rect:12inx24in")],  # a larger area, and a number to go with it
    ],
)
def test_what_isnt_odd(tmp_path: Path, rows: list[Row]) -> None:
    assert lines_of(tmp_path, rows) == []


def test_an_area_unlike_the_others_with_a_number_like_theirs(tmp_path: Path) -> None:
    rows = [(14, 45, "square:10in"), (23, 77, "square:10in"), (24, 80, "square:10in")]
    (line,) = lines_of(tmp_path, [*rows, (27, 88, "square:21in")])
    assert line.startswith("spot 4 (row 5): 27 plants in square:21in (3.06 ft²) are 8.8 per ft²")
    assert "check the area there" in line


def test_areas_that_differ_are_said(tmp_path: Path) -> None:
    rows = [*EVEN, (54, 170, "rect:12inx24in")]
    spots = collect(sheet(tmp_path, rows)).spots
    assert "square:12in at spot 1, 2, 3; rect:12inx24in at spot 4" in areas_line(spots)
    assert areas_line(spots) in assess(spots).flags
    assert areas_line(spots[:3]) == ""


def test_a_row_spacing_unlike_the_others(tmp_path: Path) -> None:
    rows = [(22, 80, "row:12in/7.5in"), (24, 85, "row:12in/7.5in"), (20, 75, "row:12in/7.5in")]
    (line,) = lines_of(tmp_path, [*rows, (23, 82, "row:12in/5.7in")])
    assert "spot 4 (row 5): by row:12in/5.7in the rows are 5.7 in apart, at the other spots 7.5 in"
    assert "check the row spacing there" in line
    assert lines_of(tmp_path, [*rows, (23, 82, "row:12in/7.6in")]) == []


def test_spacings_that_no_drill_has_are_said_before_the_verdict(tmp_path: Path) -> None:
    rows = [(22, 80, "row:12in/7.5in"), (24, 85, "row:12in/7.5in"), (20, 75, "row:12in/7.5in")]
    result = assess(sheet(tmp_path, [*rows, (23, 82, "row:12in/75in")]))
    (warning,) = result.verdict.warnings
    assert warning.startswith("spot 4 (row 5): rows 75in apart, which no drill for small grain has")
    assert "'row:12in/75in'" in warning
    assert warning.endswith("was row:12in/7.5in meant?")
    assert not result.verdict.clear
    assert not any("doesn't fit the rest" in flag for flag in result.flags)  # it is named already


def test_swapped_length_and_spacing(tmp_path: Path) -> None:
    rows = [(22, 80, "row:7.5in/19.2in")] * 3
    (warning,) = assess(sheet(tmp_path, rows)).verdict.warnings
    assert "was row:19.2in/7.5in meant?" in warning


def test_only_the_record_is_advised_where_the_verdict_hangs_on_it(tmp_path: Path) -> None:
    result = assess(sheet(tmp_path, [EVEN[0], (72, 77, FOOT), *EVEN[1:]]), stage="Feekes 3")
    (step,) = result.verdict.actions
    assert step.text.startswith("Look at spot 2 (row 3) again: check the number of plants")
    assert "Map" not in result.verdict.headline + step.text
    assert not any("besides each main stem" in flag for flag in result.flags)
    assert assess(sheet(tmp_path, [*EVEN, (24, 78, FOOT)])).plants.held is None  # type: ignore[union-attr]


def test_only_the_area_is_advised_where_a_size_cant_be(tmp_path: Path) -> None:
    rows = [EVEN[0], (23, 77, "square:12ft"), *EVEN[1:]]
    result = assess(sheet(tmp_path, rows), stage="Feekes 3", yield_goal=80.0)
    (step,) = result.verdict.actions
    assert step.text.startswith("Check the area of the hand counts and its unit")
    assert result.nitrogen is not None
    assert result.nitrogen.withheld
    assert "Spend no nitrogen" not in " ".join(result.nitrogen.lines)
    assert len(result.verdict.warnings) == 1


def test_a_record_that_turns_nothing_is_only_named(tmp_path: Path) -> None:
    rows = [(24, 78, FOOT)] * 4 + [(22, 70, FOOT), (25, 80, FOOT), (23, 75, FOOT), (25, 30, FOOT)]
    result = assess(sheet(tmp_path, rows))
    assert any("spot 8 (row 9)" in one for one in result.verdict.warnings)
    assert result.plants is not None
    assert result.plants.held is None
