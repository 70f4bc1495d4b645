"""The blank sheet for hand counts: what is in it, and that it is read as it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tillercount.area import WholePhoto, parse_counted_area
from tillercount.errors import InputError
from tillercount.handfile import read_hand_counts, read_with_note
from tillercount.plan import plan_visit, to_hand_sheet

SAMPLES = Path(__file__).parents[2] / "sample_images"
FIELDS = SAMPLES / "alder_bend_fields.geojson"
ZONES = SAMPLES / "alder_bend_creek_zones.geojson"


def sheet_rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def filled(rows: list[dict[str, str]], counts: dict[str, tuple[str, str]], separator: str) -> str:
    out = io.StringIO(newline="")
    to = csv.DictWriter(out, list(rows[0]), delimiter=separator)
    to.writeheader()
    for row in rows:
        if row["spot"] in counts:
            row |= {"area": "square:12in"} | dict(
                zip(("plants", "shoots"), counts[row["spot"]], strict=True)
            )
        to.writerow(row)
    return out.getvalue()


def test_spots_in_walking_order_with_blank_cells() -> None:
    made = plan_visit(FIELDS, 12, hand=4, field_name="Creek field", zones=ZONES, rng=7)
    rows = sheet_rows(to_hand_sheet(made))
    assert [row["spot"] for row in rows] == [str(spot.number) for spot in made.spots]
    assert [row["planned"] == "photo and by hand" for row in rows] == [
        spot.by_hand for spot in made.spots
    ]
    assert [row["zone"] for row in rows] == [spot.zone for spot in made.spots]
    assert {row["field"] for row in rows} == {"Creek field"}
    for name in ("area", "plants", "shoots", "observer", "note"):
        assert {row[name] for row in rows} == {""}
    bare = plan_visit("39.10,-97.20 39.10,-97.19 39.09,-97.19", 4, rng=1)
    assert not {"zone", "field"} & set(sheet_rows(to_hand_sheet(bare))[0])


@pytest.mark.parametrize("separator", [",", ";"])
def test_the_filled_sheet_is_read_as_it_is(tmp_path: Path, separator: str) -> None:
    made = plan_visit(FIELDS, 12, hand=4, field_name="Creek field", zones=ZONES, rng=7)
    rows = sheet_rows(to_hand_sheet(made))
    hand = [str(spot.number) for spot in made.by_hand]
    half = "24.5" if separator == "," else "24,5"
    counts = {hand[0]: (half, "70"), hand[1]: ("0", "0"), hand[2]: ("31", "")}
    path = tmp_path / "hand.csv"
    path.write_text(filled(rows, counts, separator), encoding="utf-8-sig")
    read, note = read_with_note(path, "Creek field")
    assert [(one.spot, one.plants, one.shoots) for one in read] == [
        (hand[0], 24.5, 70), (hand[1], 0, 0), (hand[2], 31, None),
    ]  # fmt: skip
    assert [one.zone for one in read] == [spot.zone for spot in made.by_hand[:3]]
    assert read[0].lat == made.by_hand[0].lat
    assert f"1 spot has no count yet and is left out: {hand[3]}. " in note
    blank = tmp_path / "blank.csv"
    blank.write_text(to_hand_sheet(made), encoding="utf-8-sig")
    with pytest.raises(InputError, match=r"blank\.csv: nothing is counted in it yet \(12 spots"):
        read_hand_counts(blank)


@pytest.fixture
def plan(tmp_path: Path) -> Callable[..., Any]:
    from tillercount.cli.app import app

    def run(sheet: str, *more: str) -> Any:
        args = ["plan", str(FIELDS), "--field", "Creek field", "--spots", "6", "--seed", "3"]
        args += ["--hand-sheet", str(tmp_path / sheet)] if sheet else []
        args += more
        return CliRunner().invoke(app, args, prog_name="tillercount")

    return run


def test_the_command_writes_it_and_never_over_counts(
    plan: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "sheet.csv"
    done = plan("sheet.csv")
    assert done.exit_code == 0, done.output
    assert f"written: {path}" in done.output
    assert "rows left blank are passed over" in done.output
    blank = path.read_bytes()
    assert blank.startswith(b"\xef\xbb\xbfspot,planned,")
    assert plan("sheet.csv").exit_code == 0
    assert path.read_bytes() == blank

    rows = sheet_rows(blank.decode("utf-8-sig"))
    path.write_text(filled(rows, {"2": ("24", "70")}, ","), encoding="utf-8-sig")
    before = path.read_bytes()
    done = plan("sheet.csv")
    assert done.exit_code != 0
    assert "has something written beside spot 2, so it is left as it is" in done.output
    assert path.read_bytes() == before

    path.write_text(filled(rows, {}, ";"), encoding="utf-8")
    assert "has something written beside spot 2" in plan("sheet.csv").output
    path.write_text(filled(rows, {}, "\t"), encoding="utf-8")
    assert "already and holds a table" in plan("sheet.csv").output
    assert "end its name in .csv" in plan("sheet.xlsx").output


@pytest.mark.parametrize(
    "written",
    [
        b"1,photo,1 ft2,24,70,J\xfcrg,\r\n",  # a spreadsheet's own code page
        b"1,photo,,,,,,2026-04-01\r\n",  # a column more than the sheet has
    ],
)
def test_the_command_spares_what_a_spreadsheet_saved(
    plan: Callable[..., Any], tmp_path: Path, written: bytes
) -> None:
    path = tmp_path / "sheet.csv"
    before = b"spot,planned,area,plants,shoots,observer,note,day\r\n" + written
    path.write_bytes(before)
    done = plan("sheet.csv")
    assert "has something written beside spot 1, so it is left as it is" in done.output
    assert path.read_bytes() == before


@pytest.mark.parametrize("commas", [False, True])
@pytest.mark.parametrize("area", ["hoop:13.54in", "1.5 ft2", "row:19.2in/7.5in"])
def test_both_kinds_of_sheet_are_read_as_the_plan_has_them(
    tmp_path: Path, commas: bool, area: str
) -> None:
    """Only plants and shoots are written in, as that person's spreadsheet writes them."""
    made = plan_visit(FIELDS, 12, hand=4, field_name="Creek field", zones=ZONES, rng=7)
    text = to_hand_sheet(made, area=area, decimal_commas=commas)
    separator = ";" if commas else ","
    assert text.startswith(f"spot{separator}planned{separator}zone{separator}area{separator}")
    lines = text.splitlines()
    columns = lines[0].split(separator)
    for at, line in enumerate(lines[1:], start=1):
        cells = line.split(separator)
        assert len(cells) == len(columns)
        half = f"{at},5" if commas else f"{at}.5"
        cells[columns.index("plants")], cells[columns.index("shoots")] = half, str(4 * at)
        lines[at] = separator.join(cells)
    path = tmp_path / "hand.csv"
    path.write_text("\n".join(lines), encoding="utf-8-sig")
    read, note = read_with_note(path, "Creek field")
    assert note == ""
    size = parse_counted_area(area)
    assert not isinstance(size, WholePhoto)
    assert [(one.spot, one.plants, one.shoots) for one in read] == [
        (str(spot.number), at + 0.5, 4 * at) for at, spot in enumerate(made.spots, start=1)
    ]
    assert {one.area_m2 for one in read} == {size.area_m2}
    assert [one.zone for one in read] == [spot.zone for spot in made.spots]
    for at in ("lat", "lon"):
        assert [getattr(one, at) for one in read] == [
            pytest.approx(getattr(spot, at), abs=5.1e-8) for spot in made.spots
        ]


def test_the_same_area_all_the_way_down_is_a_blank_sheet(
    plan: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "sheet.csv"
    for more in (("--area", "square:12in"), (), ("--area", "hoop:13.54in"), ("--area", "1 m2")):
        assert plan("sheet.csv", *more).exit_code == 0
    rows = sheet_rows(path.read_text("utf-8-sig"))
    path.write_text(filled(rows, {"2": ("24", "70")}, ","), encoding="utf-8-sig")
    assert "has something written beside spot 2, so it is" in plan("sheet.csv").output


def test_a_sheet_with_semicolons_and_its_area_is_spared_once_it_is_written_in(
    plan: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "sheet.csv"
    options = ("--decimal-commas", "--area", "square:12in")
    for more in ((), options[:1], options, options[1:], options):  # one blank one over another
        done = plan("sheet.csv", *more)
        assert done.exit_code == 0, done.output
        assert ("write plants and shoots beside" in done.output) == ("--area" in more)
    blank = path.read_text("utf-8-sig")
    with pytest.raises(InputError, match=r"nothing is counted in it yet \(6 spots"):
        read_hand_counts(path)
    for begun in (
        blank.replace(";square:12in;;", ";square:12in;24;", 1),
        blank.replace(";square:12in;", ";square:1ft;", 1),
    ):
        path.write_text(begun, encoding="utf-8")
        done = plan("sheet.csv", *options)
        assert "has something written beside spot 1, so it is" in done.output
        assert path.read_text("utf-8") == begun


@pytest.mark.parametrize(
    ("more", "blank", "counted"),
    [
        ((), ',"square:30,5cm",,', ',"square:30,5cm",24,'),
        (("--decimal-commas",), ";square:30,5cm;;", ";square:30,5cm;24;"),
    ],
)
def test_an_area_with_a_decimal_comma_comes_back_from_either_sheet(
    plan: Callable[..., Any], tmp_path: Path, more: tuple[str, ...], blank: str, counted: str
) -> None:
    path = tmp_path / "sheet.csv"
    for _ in range(2):  # a blank one may be written again
        done = plan("sheet.csv", "--area", "square:30,5cm", *more)
        assert done.exit_code == 0, done.output
    text = path.read_text("utf-8-sig")
    assert blank in text
    path.write_text(text.replace(blank, counted, 1), encoding="utf-8-sig")
    (count,) = read_hand_counts(path)
    assert count.area_m2 == pytest.approx(0.305**2)


def test_options_of_the_sheet_are_told_what_is_missing(plan: Callable[..., Any]) -> None:
    for option, *value in (("--decimal-commas",), ("--area", "square:12in")):
        done = plan("", option, *value)
        assert done.exit_code == 2
        assert f"{option} is for the blank sheet; write one with --hand-sheet F" in done.output
    assert "not an area counted by hand" in plan("s.csv", "--area", "whole:0.3mm").output
