"""Hand counts: definitions kept apart, files of many spreadsheets read, bad ones refused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tillercount.area import RowArea, SquareArea, parse_counted_area
from tillercount.errors import InputError
from tillercount.hand import (
    MOST_SHOOTS_PER_PLANT,
    Definition,
    HandCount,
    as_stems,
    parse_definition,
)
from tillercount.handfile import read_hand_counts, read_with_note
from tillercount.units import per_ft2

HEAD = "spot,observer,plants,shoots,area\n"
FOOT = SquareArea(304.8)


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "counts.csv"
    path.write_bytes(text.encode(encoding))
    return path


def test_a_plain_file(tmp_path: Path) -> None:
    path = write(tmp_path, HEAD + "1,Ash,24,71,square:12in\n2,Ash,,60,1 ft2\n3,Ash,20,,square:1ft")
    one, two, three = read_hand_counts(path)
    assert (one.spot, one.observer, one.plants, one.shoots) == ("1", "Ash", 24.0, 71.0)
    assert one.area == FOOT
    assert one.definition is Definition.STEMS
    assert per_ft2(one.plants_per_m2 or 0) == pytest.approx(24.0)
    assert two.plants is None
    assert two.plants_per_m2 is None
    assert three.shoots is None


def test_who_counted_need_not_be_said(tmp_path: Path) -> None:
    path = write(tmp_path, "spot,plants,shoots,area\n1,24,71,1 ft2\n2,20,60,1 ft2")
    assert [count.observer for count in read_hand_counts(path)] == ["", ""]
    twice = write(tmp_path, "spot,plants,shoots,area\n1,24,71,1 ft2\n1,20,60,1 ft2")
    with pytest.raises(InputError, match=r"already in row 2, by the same person \(no obs"):
        read_hand_counts(twice)


def test_all_columns(tmp_path: Path) -> None:
    text = (
        "Spot,Observer,Plants,Shoots,Area,Row length,Row spacing,"
        "Definition,Zone,Lat,Lon,Note,Mood\n"
        '7,Ash,40,,,3ft,7in,tillers,north,39.5,-76.2,"wet, cold",fine\n'
    )
    (count,) = read_hand_counts(write(tmp_path, text))
    assert count.area == RowArea(914.4, 177.8)
    # Penn State Extension, Wheat Stand Assessment: 40 plants in 3 ft of 7-in rows are 23 per ft²
    assert round(per_ft2(count.plants_per_m2 or 0)) == 23
    assert count.definition is Definition.TILLERS
    assert (count.zone, count.lat, count.lon, count.note) == ("north", 39.5, -76.2, "wet, cold")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_spreadsheets_of_other_places(
    tmp_path: Path, separator: str, encoding: str, end: str
) -> None:
    rows = [
        ["spot", "observer", "plants", "shoots", "area"],
        [],
        ["Mühle", "Bø", "24.5", "70", "square:12in"],
        ["", "", "", "", ""],
        ["b", "Bø", "12", "30", "0.25 m2"],
        [],
    ]
    text = end.join(separator.join(row) for row in rows)
    first, second = read_hand_counts(write(tmp_path, text, encoding))
    assert (first.spot, first.plants, second.spot) == ("Mühle", 24.5, "b")


BAD = {
    "missing column": ("spot,observer,area\n1,a,square:1ft", r"row 1: no column 'plants'"),
    "tillers beside empty shoots": (
        "spot,observer,plants,shoots,tillers,area\n1,a,2,5,9,square:1ft\n2,a,3,,9,square:1ft",
        r"row 3: shoots is empty, but 'tillers' has '9'.* under 'shoots' and add a column 'def",
    ),
    "tillers for shoots": (
        "spot,observer,plants,tillers,area\n1,a,2,9,square:1ft",
        r"column 'tillers' isn't known; call it 'shoots' and add a column 'definition'",
    ),
    "misspelt shoots": (
        "spot,observer,plants,shots,area\n1,a,2,9,square:1ft",
        r"column 'shots' isn't known; did you mean 'shoots'",
    ),
    "another word for the person": (
        "spot,who,plants,shoots,area\n1,a,2,9,square:1ft",
        r"column 'who' isn't known; did you mean 'observer'\? Call it that; if it is of something",
    ),
    "another word for the position": (
        "spot,plants,shoots,area,Latitude,Longitude\n1,2,9,square:1ft,39.5,-76",
        r"column 'latitude' isn't known; did you mean 'lat'",
    ),
    "sides that are none": (HEAD + "1,a,24,60,12 in x 1 ft2", r"row 2, area .* isn't a unit"),
    "a length for an area": (
        HEAD + "1,a,24,60,12in",
        r"row 2, area '12in' is a length, not an area.*square:12in",
    ),
    "a dash for nothing": (
        HEAD + "1,a,24,-,1 ft2",
        r"row 2, shoots '-' isn't a number; leave the cell empty where it wasn't counted, and wri",
    ),
    "text in a number": (HEAD + "1,a,many,3,1 ft2", r"row 2, plants 'many' isn't a number"),
    "spreadsheet error": (HEAD + "1,a,#N/A,3,1 ft2", r"row 2, plants '#N/A' isn't a number"),
    "negative": (HEAD + "1,a,3,9,1 ft2\n2,a,-3,9,1 ft2", r"row 3, plants -3 is below zero"),
    "not a number": (HEAD + "1,a,nan,9,1 ft2", r"row 2, plants 'nan' isn't a number"),
    "infinite": (HEAD + "1,a,3,inf,1 ft2", r"row 2, shoots 'inf' isn't a number"),
    "decimal comma": (
        HEAD + '1,a,"24,5",60,1 ft2',
        r"row 2, plants '24,5' has a comma; write decimals with a point, like 24\.5",
    ),
    "thousands": (
        HEAD + '1,a,"1,250",,9 m2',
        r"row 2, plants '1,250' has a comma; write thousands .* like 1250, or 1\.250 if",
    ),
    "fewer shoots than plants": (HEAD + "1,a,24,20,1 ft2", r"row 2, shoots 20 are fewer than plan"),
    "too many tillers": (HEAD + "1,a,10,211,1 ft2", r"row 2, shoots 211 are too many .* 21\.1 per"),
    "shoots without plants": (HEAD + "1,a,0,5,1 ft2", r"row 2, shoots 5 are too many.*no plant"),
    "nothing counted": (HEAD + "1,a,,,1 ft2", r"nothing is counted in it yet \(1 spot is liste"),
    "a remark without a spot": (HEAD + ",a,,,1 ft2", r"row 2, spot is empty; give each"),
    "numbers that have moved": (HEAD + "1,a,,,24", r"row 2, area '24' has no unit"),
    "a range": (HEAD + "1,a,20-25,60,1 ft2", r"row 2, plants '20-25' is a range, 20 to 25; give"),
    "two numbers in a cell": (HEAD + "1,a,22/60,,1 ft2", r"plants '22/60' may be a fraction or"),
    "two that divide": (HEAD + "1,a,12/32,,1 ft2", r"plants '12/32' may be .* a column each"),
    "missing area": (HEAD + "1,a,24,60,", r"row 2, area is empty"),
    "area without a unit": (HEAD + "1,a,24,60,1", r"row 2, area '1' has no unit"),
    "unknown area": (HEAD + "1,a,24,60,ring:12in", r"row 2, area 'ring:12in': unknown kind"),
    "photo scale as area": (HEAD + "1,a,24,60,whole:0.6mm", r"row 2, area .* photo's scale"),
    "no spot": (HEAD + ",a,24,60,1 ft2", r"row 2, spot is empty"),
    "same spot twice": (
        HEAD + "1,a,24,60,1 ft2\n1,A,25,61,1 ft2",
        r"row 3, spot: '1' was counted by A in row 2",
    ),
    "two definitions": (
        HEAD.strip() + ",definition\n1,a,2,4,1 ft2,stems\n2,a,2,4,1 ft2,tillers",
        r"row 3, definition: tillers, but row 2 has stems",
    ),
    "a definition left out": (
        HEAD.strip() + ",definition\n1,a,2,4,1 ft2,tillers\n2,a,2,4,1 ft2,",
        r"row 3, definition: stems, but row 2 has tillers",
    ),
    "unknown definition": (
        HEAD.strip() + ",definition\n1,a,2,4,1 ft2,leaves",
        r"row 2, definition 'leaves' isn't known; use one of: stems",
    ),
    "half a row": (
        "spot,observer,plants,shoots,area,row_length,row_spacing\n1,a,2,4,,3ft,",
        r"row 2, row_spacing is empty",
    ),
    "areas that disagree": (
        "spot,observer,plants,shoots,area,row_length,row_spacing\n1,a,2,4,1 ft2,3ft,7in",
        r"row 2, area '1 ft2' is 0\.0929 m2, but row_length x row_spacing is 0\.1626 m2",
    ),
    "misspelt column": (HEAD.strip() + ",defintion\n1,a,2,4,1 ft2,x", r"did you mean 'definition'"),
    "column twice": (HEAD.strip() + ",plants\n1,a,2,4,1 ft2,3", r"two columns are called 'plants'"),
    "too many cells": (HEAD + "1,a,2,4,1 ft2,wet", r"row 2: 6 cells under 5 column names"),
    "place off the earth": (HEAD.strip() + ",lat,lon\n1,a,2,4,1 ft2,99,0", r"row 2, lat 99"),
    "no rows": (HEAD, r"no counts below the column names"),
    "empty": ("", r"empty; the first row must name the columns"),
    "binary": ("\x00\x01\x02", r"not a text file"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files(tmp_path: Path, name: str) -> None:
    text, says = BAD[name]
    path = write(tmp_path, text)
    with pytest.raises(InputError, match=says) as caught:
        read_hand_counts(path)
    message = str(caught.value)
    assert str(path) in message
    assert "\n" not in message


@pytest.mark.parametrize("kept", ["plants", "shoots"])
def test_a_column_that_was_not_counted_may_be_missing(tmp_path: Path, kept: str) -> None:
    path = write(tmp_path, f"spot,observer,{kept},area,field\n4,a,24,1 ft2,Creek field\n")
    (count,) = read_hand_counts(path)
    other = "shoots" if kept == "plants" else "plants"
    assert getattr(count, kept) == 24
    assert getattr(count, other) is None
    assert count.field == "Creek field"


def test_one_spot_by_two_names_is_one_row_too_many(tmp_path: Path) -> None:
    path = write(tmp_path, HEAD + "4,a,24,60,1 ft2\nspot_04,a,25,61,1 ft2\n")
    with pytest.raises(InputError, match="counted by a in row 2 already"):
        read_hand_counts(path)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.csv: can't be read"):
        read_hand_counts(tmp_path / "none.csv")
    with pytest.raises(InputError, match="can't be read"):
        read_hand_counts(tmp_path)


def test_most_shoots_per_plant() -> None:
    """21, the Fibonacci number for nine leaves on the main stem (from memory)."""
    leaves = [1, 1]
    while len(leaves) < 8:
        leaves.append(leaves[-1] + leaves[-2])
    assert leaves[-1] == MOST_SHOOTS_PER_PLANT
    HandCount("1", "a", 10, 210, FOOT)
    with pytest.raises(InputError, match="can't have opened before jointing"):
        HandCount("1", "a", 10, 210.5, FOOT)
    HandCount("1", "a", 10, 200, FOOT, Definition.TILLERS)
    with pytest.raises(InputError, match="too many"):
        HandCount("1", "a", 10, 201, FOOT, Definition.TILLERS)


def test_definitions() -> None:
    assert parse_definition(" Stems ") is Definition.STEMS
    assert parse_definition("main stem + tillers") is Definition.STEMS
    assert parse_definition("tillers_3_leaves") is Definition.TILLERS_3_LEAVES
    assert Definition.TILLERS_3_LEAVES.min_leaves == 3
    assert not Definition.TILLERS.main_stem


def test_tillers_become_stems_by_adding_the_plants() -> None:
    """A count without the main stems, plus the plants, is the count of stems."""
    count = HandCount("1", "a", 24, 47, FOOT, Definition.TILLERS)
    stems = as_stems(count)
    assert stems.shoots == 71
    assert stems.definition is Definition.STEMS
    assert stems.flags == ("tillers + plants = stems",)
    assert count.shoots == 47
    plain = HandCount("1", "a", 24, 71, FOOT)
    assert as_stems(plain) is plain


def test_tillers_without_plants_stay_unknown() -> None:
    with pytest.raises(InputError, match="the plants weren't counted"):
        as_stems(HandCount("1", "a", None, 47, FOOT, Definition.TILLERS))


def test_three_leaf_minimum_is_kept() -> None:
    """North Carolina and Oklahoma count only tillers with three leaves; that can't be undone."""
    count = HandCount("1", "a", 24, 40, FOOT, Definition.STEMS_3_LEAVES)
    assert as_stems(count) is count
    tillers = as_stems(HandCount("1", "a", 24, 16, FOOT, Definition.TILLERS_3_LEAVES))
    assert tillers.shoots == 40
    assert tillers.definition is Definition.STEMS_3_LEAVES
    assert "main stems taken to have 3" in tillers.flags[0]
    # young plants may have no shoot with three leaves at all
    assert HandCount("1", "a", 24, 3, FOOT, Definition.STEMS_3_LEAVES).shoots == 3


def test_mistakes_of_several_rows_are_told_at_once(tmp_path: Path) -> None:
    """A sheet with five slips once took five runs to put right."""
    text = (
        "spot,observer,plants,shoots,area\n"
        "1,me,many,50,square:12in\n"
        "2,me,20,50,square:12in\n"
        "3,me,20,50,12\n"
        "2,me,21,51,square:12in\n"
    )
    path = write(tmp_path, text)
    with pytest.raises(InputError) as caught:
        read_hand_counts(path)
    said = str(caught.value)
    assert said.startswith(f"{path}: 3 rows can't be used: (1) row 2, plants 'many' isn't a number")
    assert "; (2) row 4, area" in said
    assert "; (3) row 5, spot: '2' was counted by me in row 3 already" in said
    many = "spot,plants,area\n" + "".join(f"{n},x,square:12in\n" for n in range(14))
    with pytest.raises(InputError, match=r"14 rows can't be used: .*\(10\) row 11.*; and 4 more$"):
        read_hand_counts(write(tmp_path, many))


def test_a_table_of_photo_counts_is_told_from_hand_counts(tmp_path: Path) -> None:
    from tillercount.cli.countscsv import COLUMNS

    path = write(tmp_path, ",".join(COLUMNS) + "\na.jpg,counted" + "," * (len(COLUMNS) - 2))
    with pytest.raises(InputError, match=r"counts\.csv is the table of count --csv.*write one"):
        read_hand_counts(path)
    path.with_suffix(".json").write_text("{}")
    with pytest.raises(InputError, match=r"counts file of count --json: give .*counts\.json$"):
        read_hand_counts(path)


def test_exchanged_columns_are_told_once_for_the_file(tmp_path: Path) -> None:
    rows = "1,Ash,71,24,1 ft2\n2,Ash,60,20,1 ft2\n3,Ash,,60,1 ft2\n4,Ash,270,70,1 ft2\n"
    rows += "5,Ash,24,24,1 ft2\n6,Ash,0,0,1 ft2\n"
    path = write(tmp_path, HEAD + rows)
    with pytest.raises(InputError, match="columns plants and shoots look exchanged") as told:
        read_hand_counts(path)
    said = str(told.value)
    assert str(path) in said
    assert "in 3 rows shoots are fewer than plants" in said
    assert "exchange the two names in row 1" in said
    assert "row 2" not in said
    right = HEAD.replace("plants,shoots", "shoots,plants")
    read = read_hand_counts(write(tmp_path, right + rows))
    assert [count.plants for count in read] == [24, 20, 60, 70, 24, 0]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("1,,71,24,1 ft2\n2,,20,60,1 ft2\n", "row 2, shoots 24 are fewer"),  # one row is right
        ("1,,71,24,1 ft2\n", "row 2, shoots 24 are fewer"),  # one row alone
        ("1,,71,0,1 ft2\n2,,60,0,1 ft2\n", "row 2, shoots 0 are fewer"),  # nor the other way round
        ("1,,71,24,1 ft2\n2,,60,6o,1 ft2\n", "row 2, shoots 24 are fewer"),
        ("1,,21,20,1 ft2\n2,,22,20,1 ft2\n", "row 2, shoots 20 are fewer"),  # a miscount may do it
    ],
)
def test_rows_that_are_no_exchange_are_told_one_by_one(
    tmp_path: Path, rows: str, said: str
) -> None:
    with pytest.raises(InputError, match=said) as told:
        read_hand_counts(write(tmp_path, HEAD + rows))
    assert "look exchanged" not in str(told.value)


def test_tillers_may_be_fewer_than_plants(tmp_path: Path) -> None:
    head = HEAD.replace("area", "area,definition")
    rows = "1,,71,24,1 ft2,tillers\n2,,60,20,1 ft2,tillers\n"
    assert len(read_hand_counts(write(tmp_path, head + rows))) == 2


TWO_FIELDS = (
    "spot,field,observer,plants,shoots,area\n1,Willow,Ash,24,70,1 ft2\n2,willow ,Ash,26,75,1 ft2\n"
    "1,Dune,Ash,12,30,1 ft2\n2,,Ash,11,28,1 ft2\n"
)


def test_of_a_sheet_with_several_fields_the_rows_of_one_are_read(tmp_path: Path) -> None:
    path = write(tmp_path, TWO_FIELDS)
    assert [count.plants for count in read_hand_counts(path, "Willow")] == [24, 26]
    read, note = read_with_note(path, "dune")
    assert [count.plants for count in read] == [12]
    assert note == f"{path}: 1 row is of Dune; left out: 3 rows of Willow or of no field"


def test_a_sheet_with_several_fields_asks_which(tmp_path: Path) -> None:
    path = write(tmp_path, TWO_FIELDS)
    with pytest.raises(InputError, match=r"names 2 fields \(Willow, Dune\), and none is 'Pole'"):
        read_hand_counts(path, "Pole")
    with pytest.raises(InputError, match=r"row 4, field: spot 1 is of Dune, and .* of Willow"):
        read_hand_counts(path)


def test_a_sheet_with_one_field_is_read_whole_whatever_it_is_called(tmp_path: Path) -> None:
    rows = "".join(TWO_FIELDS.splitlines(keepends=True)[:3])
    read, note = read_with_note(write(tmp_path, rows + "3,,Ash,11,28,1 ft2\n"), "Pole")
    assert [count.plants for count in read] == [24, 26, 11]
    assert not note


def test_a_field_written_in_two_ways_is_asked_about(tmp_path: Path) -> None:
    """One of its rows would be missing without a word."""
    rows = "1,2,9,1 ft2,Dune 60\n2,3,9,1 ft2,dune60\n3,3,9,1 ft2,Willow"
    path = write(tmp_path, f"spot,plants,shoots,area,field\n{rows}")
    _, note = read_with_note(path, "Dune 60")
    assert note.endswith(
        "left out: 2 rows of dune60, Willow. Is dune60 the same field? Then its 1 row must be in "
        "too: write both names alike"
    )
    assert "same field" not in read_with_note(path, "Willow")[1]


@pytest.mark.parametrize(
    "name",
    [
        "Average", "avg.", "MEAN", "Mean of 3", "Field average:", "Total", "Sum", "St. Dev.",
        "Mean (3)", "Ø",
    ],
)  # fmt: skip
def test_a_row_that_sums_the_sheet_up_is_no_spot(tmp_path: Path, name: str) -> None:
    """Counted as a fourth spot it would make three surer than they are."""
    rows = "1,,21,62,1 ft2\n2,,24,71,1 ft2\n3,,18,55,1 ft2\n"
    path = write(tmp_path, f"{HEAD}{rows}{name},,21,62.7,1 ft2")
    with pytest.raises(InputError, match=r"row 5, spot .*: a row of means or sums isn't a spot"):
        read_hand_counts(path)


def test_a_column_of_numbers_names_nobody(tmp_path: Path) -> None:
    rows = "1,1,24,60,1 ft2\n2,2,22,58,1 ft2"
    for word in ("counter", "by"):
        path = write(tmp_path, f"spot,{word},plants,shoots,area\n{rows}")
        assert [count.observer for count in read_hand_counts(path)] == ["", ""]


@pytest.mark.parametrize("name", ["Mean Creek", "summit", "maxwell", "average hill", "A", "min 3"])
def test_places_may_have_such_words_in_their_names(tmp_path: Path, name: str) -> None:
    assert len(read_hand_counts(write(tmp_path, f"{HEAD}{name},,21,62,1 ft2"))) == 1


EUROPE = "spot;plants;shoots;area;lat;lon;note\n"


@pytest.mark.parametrize("first", ["sep=;\r\n", "SEP=;;;;\n", "\ufeffsep=;\n"])
def test_a_line_that_names_the_separator_is_no_row(tmp_path: Path, first: str) -> None:
    sheet = tmp_path / "h.csv"
    rows = "spot;plants;shoots;area\n1;27,5;80;1 ft2\n2;x;80;1 ft2\n"
    sheet.write_bytes((first + rows.replace("x", "24")).encode())
    assert [one.plants for one in read_hand_counts(sheet)] == [27.5, 24]
    sheet.write_bytes((first + rows).encode())
    with pytest.raises(InputError, match="row 4"):  # as the spreadsheet numbers it
        read_hand_counts(sheet)


def test_decimal_commas_between_semicolons(tmp_path: Path) -> None:
    text = EUROPE + (
        "1;12,5;40;square:30,5cm;52,123456;9,501;1,250 steps in\n"
        "2;140;1.250,5;1 m2;52,123;9,5;\n"
        "3;22;60,25;0,093 m2;;;\n"
    )
    for separator in ";\t":
        rows = read_hand_counts(write(tmp_path, text.replace(";", separator)))
        assert [row.plants for row in rows] == [12.5, 140, 22]
        assert [row.shoots for row in rows] == [40, 1250.5, 60.25]
        assert [row.area_m2 for row in rows] == pytest.approx([0.305**2, 1, 0.093])
        assert [row.lat for row in rows] == [52.123456, 52.123, None]
        assert rows[0].note == "1,250 steps in"


@pytest.mark.parametrize("size", ["square:30,5cm", "1,000 m2", "0,25 m2"])
def test_a_comma_in_an_area_says_the_same_in_any_sheet(tmp_path: Path, size: str) -> None:
    """Quoted between commas or bare between semicolons, and as it is typed behind --area."""

    def said(sheet: str) -> object:
        try:
            return read_hand_counts(write(tmp_path, sheet))[0].area_m2
        except InputError as error:
            return str(error)

    there = said(f"{EUROPE}1;30;90;{size};;;")
    assert said(f'{HEAD}1,a,30,90,"{size}"') == there
    if isinstance(there, str):
        with pytest.raises(InputError) as told:
            parse_counted_area(size)
        assert str(told.value) in there
    else:
        assert parse_counted_area(size).area_m2 == there  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("cell", "says"),
    [
        ("1.250", "the point may stand for .*; write 1250 for .*, or 1\\.2500 for "),
        ("24,333", "the comma may stand for .*; write 24333 for .*, or 24,3330 for "),
        ("1.250.000", "isn't a number"),
        ("1 250", "isn't a number"),
        ("1,250,5", "has a comma"),
    ],
)
def test_what_may_be_thousands_is_asked(tmp_path: Path, cell: str, says: str) -> None:
    with pytest.raises(InputError, match=rf"row 2, shoots '{re.escape(cell)}'.*{says}"):
        read_hand_counts(write(tmp_path, f"{EUROPE}1;;{cell};1 m2;;;"))


@pytest.mark.parametrize("separator", [";", "\t"])
@pytest.mark.parametrize("cell", ["30.125", "30,125", "30.129", "1,250"])
def test_both_ways_to_write_what_may_be_thousands_are_exact(
    tmp_path: Path, cell: str, separator: str
) -> None:
    """Each way that the message names is read as that very number, by the same kind of sheet."""

    def read(text: str) -> float | None:
        sheet = f"{EUROPE}1;;{text};24 m2;;;".replace(";", separator)
        return read_hand_counts(write(tmp_path, sheet))[0].shoots

    with pytest.raises(InputError) as told:
        read(cell)
    ways = re.search(r"write (\S+) for thousands, or (\S+) for decimals", str(told.value))
    assert ways is not None
    number = float(cell.replace(",", "."))
    assert [read(way) for way in ways.groups()] == pytest.approx([1000 * number, number], rel=1e-12)


@pytest.mark.parametrize("size", ["1,000 m2", "1.000 cm2", "4.000 cm2"])
def test_sizes_are_never_off_by_a_thousand(tmp_path: Path, size: str) -> None:
    with pytest.raises(InputError, match="row 2, area"):
        read_hand_counts(write(tmp_path, f"{EUROPE}1;30;90;{size};;;"))


def test_rows_not_counted_yet_are_left_out_and_named(tmp_path: Path) -> None:
    head = "spot,planned,plants,shoots,area,note\n"
    rows = (
        "1,photo,,,,\n2,photo and by hand,24,70,1 ft2,\n3,photo and by hand,,,1 ft2,\n"
        "4,photo and by hand,,,,drowned\n5,photo,,,,gate\n"
    )
    counts, note = read_with_note(write(tmp_path, head + rows), None)
    assert [count.spot for count in counts] == ["2"]
    assert "3 spots have no count yet and are left out: 3, 4 (drowned), 5 (gate). Where" in note
    assert "write 0" in note
    more = rows + "3,,20,60,1 ft2,\n4,,0,0,1 ft2,\n5,,21,60,1 ft2,\n"
    counts, note = read_with_note(write(tmp_path, head + more), None)
    assert (len(counts), note) == (4, "")
    with pytest.raises(InputError, match=r"nothing is counted .*\(2 spots are listed: 1, 3\); w"):
        read_hand_counts(write(tmp_path, head + "1,photo,,,,\n3,photo and by hand,,,1 ft2,\n"))


def test_a_blank_row_of_another_day_is_no_second_visit(tmp_path: Path) -> None:
    text = "spot,plants,shoots,area,visit_date\n1,24,70,1 ft2,2026-03-05\n2,,,,2026-03-20\n"
    (count,) = read_hand_counts(write(tmp_path, text))
    assert count.visit_date == "2026-03-05"


@pytest.mark.parametrize("mark", [",", ";"])
def test_rows_that_stand_in_one_cell_each_are_parted(tmp_path: Path, mark: str) -> None:
    rows = ["spot,plants,shoots,area,note", '1,24,71,square:12in,""by the road, low""']
    rows = [one.replace(",", mark) for one in (*rows, "2,20,60,1 ft2,")]
    path = write(tmp_path, "".join(f'"{one}"\n' for one in rows))
    one, two = read_hand_counts(path)
    assert (one.spot, one.plants, one.area) == ("1", 24.0, FOOT)
    assert one.note == f"by the road{mark} low"
    assert (two.shoots, two.row) == (60.0, 3)


def test_rows_of_which_some_stand_in_one_cell_are_told_what_to_do(tmp_path: Path) -> None:
    path = write(tmp_path, '"spot,plants,shoots,area"\n"1,24,71,1 ft2"\n2,20,60,1 ft2\n')
    with pytest.raises(InputError) as caught:
        read_hand_counts(path)
    said = str(caught.value)
    assert "all column names stand in one cell, and row 3 isn't one cell" in said
    assert "Part the first column at its commas" in said
    assert "found:" not in said


@pytest.mark.parametrize(
    ("lat", "lon"), [("484014212", "107654321"), ("484.014.212", "10.7"), ("48.4", "-972013")]
)
def test_degrees_that_lost_their_point_are_told_once(tmp_path: Path, lat: str, lon: str) -> None:
    head = "spot,plants,shoots,area,lat,lon\n"
    rows = "".join(f"{spot},24,71,1 ft2,{lat},{lon}\n" for spot in range(1, 6))
    with pytest.raises(InputError) as caught:
        read_hand_counts(write(tmp_path, head + rows))
    said = str(caught.value)
    assert said.count("probably dropped the decimal point") == 1
    assert "rows can't be used" not in said
    assert "empty both columns" in said
    emptied = write(tmp_path, head + rows.replace(f"{lat},{lon}", ","))
    assert len(read_hand_counts(emptied)) == 5


def test_a_mistyped_degree_is_told_with_its_row(tmp_path: Path) -> None:
    head = "spot,plants,shoots,area,lat,lon\n"
    with pytest.raises(InputError, match=r"row 2, lat 484\.5 is outside -90 to 90"):
        read_hand_counts(write(tmp_path, head + "1,24,71,1 ft2,484.5,10.7\n"))
