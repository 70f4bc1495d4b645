"""Hand counts read from a CSV file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from tillercount.area import Area, RowArea, StatedArea, WholePhoto, parse_counted_area
from tillercount.definition import Definition, parse_definition
from tillercount.errors import InputError
from tillercount.hand import HandCount
from tillercount.handblank import Uncounted, is_blank
from tillercount.handcolumns import column_names, needed_names, refuse_lost_shoots
from tillercount.handcommas import refuse_thousands, with_points
from tillercount.handdegrees import refuse_lost_points
from tillercount.handexport import ByHand
from tillercount.handfields import of_field, two_fields
from tillercount.handlimits import refuse_too_dense
from tillercount.handonecell import parted
from tillercount.handsummary import refuse_summary
from tillercount.handswap import refuse_exchanged
from tillercount.handvisits import Visits, day_said, visit_said
from tillercount.names import first_few, spot_key, spot_name, spot_text
from tillercount.typed import counted
from tillercount.units import length_mm, number

__all__ = ["read_hand_counts", "read_with_note"]

_TOLD = 10
"""Rows whose mistakes are told at once; more are counted."""


def read_hand_counts(path: str | Path, field: str | None = None) -> list[HandCount]:
    """Read a CSV of hand counts; of a sheet with several fields the rows of ``field`` alone.

    The first row names the columns: ``spot, plants, shoots, area`` and, where wanted, ``observer,
    row_length, row_spacing, definition, zone, lat, lon, note, field, visit, visit_date`` (``date``
    is taken for visit_date where that is missing). Comma,
    semicolon or tab between cells; UTF-8 with or without byte-order mark, UTF-16, or the Western
    spreadsheet code page; blank lines are skipped. Where a semicolon or a tab parts cells, a
    decimal comma is read. Where each row stands in one quoted cell, that cell is parted.
    ``plants`` or ``shoots`` may be empty or its column missing (not counted); a row with neither
    isn't counted yet and left out.
    ``area`` may be empty, or its column missing, where row_length and row_spacing are given.

    Raises
    ------
    InputError
        Anything that can't be used, with the file, the row (as a spreadsheet numbers it), the
        column and what to do; up to ten rows at once.
    """
    return read_with_note(path, field)[0]


def read_with_note(path: str | Path, field: str | None) -> tuple[list[HandCount], str]:
    """As `read_hand_counts`, and which rows were left out: of other fields, photos of an export,
    not counted yet."""
    path = Path(path)
    header, all_rows, separator = _read_rows(path)
    fields = [_named(header, cells).get("field", "") for _, cells in all_rows]
    rows, left_out = of_field(all_rows, fields, field, str(path))
    counts: list[HandCount] = []
    mistakes: list[str] = []
    named = [(line, _named(header, cells)) for line, cells in rows]
    refuse_lost_points(path, named)
    refuse_exchanged(path, (row for _, row in named))
    reader = _Reader(path, header, rows, separator)
    for line, cells in rows:
        try:
            count = reader.count(line, cells)
        except InputError as error:
            mistakes.append(str(error).removeprefix(f"{path}, "))
            continue
        if count is not None:
            counts.append(count)
    if mistakes:
        raise InputError(_all_of(path, mistakes))
    photos = reader.by_hand.note
    if not counts:
        why = photos or "no counts below the column names; add one row per spot"
        raise InputError(reader.blank.nothing(path) or f"{path}: {why}")
    notes = (photos, reader.blank.note({spot_key(spot_name(one.spot)) for one in counts}))
    return counts, "; ".join(filter(None, (left_out, *(f"{path}: {one}" for one in notes if one))))


def _named(header: list[str], cells: list[str]) -> dict[str, str]:
    # zip stops at the shorter: a short row has its last columns empty
    return dict(zip(header, (cell.strip() for cell in cells), strict=False))


def _all_of(path: Path, mistakes: list[str]) -> str:
    """Each row's first mistake, so that a sheet is put right in one go."""
    if len(mistakes) == 1:
        return f"{path}, {mistakes[0]}"
    each = (f"({n}) {text}" for n, text in enumerate(mistakes, start=1))
    told = first_few(each, _TOLD, between="; ")
    return f"{path}: {len(mistakes)} rows can't be used: {told}"


class _Reader:
    """Rows of one file, each held against those before it."""

    def __init__(
        self, path: Path, header: list[str], rows: Sequence[tuple[int, list[str]]], separator: str
    ) -> None:
        self._path = path
        self._separator = separator
        self.blank = Uncounted()
        day = "visit_date" if "visit_date" in header else "date"
        at = header.index(day) if day in header else len(header)
        days = [cells[at].strip() for _, cells in rows if cells[at:]]
        self._header = ["visit_date" if name == day else name for name in header]
        self._definition: tuple[int, Definition] | None = None
        self._seen: dict[tuple[str, str], tuple[int, str]] = {}
        self.by_hand = ByHand(header, [_named(header, cells) for _, cells in rows])
        self._visits = Visits(exported=self.by_hand.exported, column=day, days=days)

    def count(self, line: int, cells: list[str]) -> HandCount | None:
        """One row's count; None where it has none: a photo's row of a season's export, one of
        another visit, one that isn't counted yet."""
        where, header = f"{self._path}, row {line}", self._header
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            raise InputError(
                f"{where}: {len(cells)} cells under {len(header)} column names; put quotes around "
                "a text with the separator in it, and write decimals with a point"
            )
        row = self.by_hand.of(_named(header, cells))
        if row is None or not (is_blank(row) or self._visits.has(where, row)):
            return None
        refuse_summary(where, row.get("spot", ""))
        refuse_lost_shoots(where, row)
        refuse_thousands(where, row, self._separator)
        read = _row_count(where, row)
        if read is None:
            self.blank.add(row)
            return None
        count = replace(read, row=line)
        if self._definition is None:
            self._definition = (line, count.definition)
        elif self._definition[1] is not count.definition:
            raise InputError(
                f"{where}, definition: {count.definition.value}, but row {self._definition[0]} "
                f"has {self._definition[1].value}; one file holds one definition: fill the column "
                "alike, or split the file in two"
            )
        key = (spot_key(spot_name(count.spot)), count.observer.casefold())
        before, field = self._seen.setdefault(key, (line, count.field))
        if two_fields(field, count.field):
            raise InputError(
                f"{where}, field: {spot_text(count.spot)} is of {count.field}, and that of row "
                f"{before} of {field}: give --field with the one that is meant, and its rows alone "
                "are read"
            )
        if before != line:
            once = f"already in row {before}, by the same person (no observer given)"
            by = f"by {count.observer} in row {before} already" if count.observer else once
            raise InputError(
                f"{where}, spot: {count.spot!r} was counted {by}; give each place its own name, or "
                "drop one row"
            )
        return count


_SEPARATOR_LINE = re.compile(r"sep=([,;\t])[,;\t ]*(?:\r\n|\r|\n)", re.IGNORECASE)
"""What spreadsheets write first to say what parts the cells."""


def _read_rows(path: Path) -> tuple[list[str], list[tuple[int, list[str]]], str]:
    """Column names, (line number, cells) of each row that isn't blank, and what parts cells."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    text = _decode(path, raw)
    named = _SEPARATOR_LINE.match(text)
    if named:
        text = f"\n{text[named.end() :]}"  # rows keep their numbers
    lines = [line for line in text.splitlines() if line.strip(" \t,;")]
    if not lines:
        raise InputError(f"{path}: empty; the first row must name the columns {needed_names()}")
    separator = named[1] if named else max((",", ";", "\t"), key=lines[0].count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, cells))
    except csv.Error as error:
        raise InputError(
            f"{path}, row {reader.line_num}: not a readable CSV row ({error}); "
            "save the sheet as CSV again"
        ) from error
    rows = parted(path, rows, separator)
    header = column_names(path, rows[0][1], [cells for _, cells in rows[1:]])
    read = [(line, with_points(header, cells, separator)) for line, cells in rows[1:]]
    return header, read, separator


def _decode(path: Path, raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\x00" in raw[:4096]:
        raise InputError(f"{path}: not a text file; save the sheet as CSV (UTF-8)")
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError(f"{path}: its letters can't be read; save the sheet as CSV (UTF-8)")


def _row_count(where: str, row: Mapping[str, str]) -> HandCount | None:
    """The count of a row; None where it has none, which mustn't hide that its cells have moved."""
    field = ""
    blank = is_blank(row)
    try:
        numbers: dict[str, float | None] = {}
        for field in ("plants", "shoots", "lat", "lon"):
            numbers[field] = _number_cell(field, row.get(field, ""))
        field = "area"
        sized = any(row.get(name) for name in ("area", "row_length", "row_spacing"))
        area = _row_area(row) if sized or not blank else None
        field = "definition"
        text = row.get("definition", "")
        definition = parse_definition(text) if text else Definition.STEMS
        field = ""
        if blank and row.get("spot"):
            return None
        if area is None:
            raise InputError("spot is empty; give each counted place a name or number")
        assert not isinstance(area, WholePhoto)  # parse_counted_area refuses it
        # before plants and shoots are held against each other: a slip of the keyboard is both
        refuse_too_dense(area, numbers["plants"], numbers["shoots"])
        return HandCount(
            spot=row.get("spot", ""),
            observer=row.get("observer", ""),
            plants=numbers["plants"],
            shoots=numbers["shoots"],
            area=area,
            definition=definition,
            zone=row.get("zone", ""),
            lat=numbers["lat"],
            lon=numbers["lon"],
            note=row.get("note", ""),
            field=row.get("field", ""),
            visit=visit_said(row),
            visit_date=day_said(row),
        )
    except InputError as error:
        message = str(error)
        if field and not message.startswith((field, "row_")):
            message = f"{field}: {message}"
        raise InputError(f"{where}, {message}") from error


def _number_cell(field: str, text: str) -> float | None:
    if field in ("plants", "shoots") and text and not any(char.isdigit() for char in text):
        raise InputError(
            f"{field} {text!r} isn't a number; leave the cell empty where it wasn't counted, and "
            "write 0 where none was found"
        )
    if not text:
        return None
    if field in ("plants", "shoots"):
        return counted(text, what=field, apart="write plants and shoots in a column each")
    return number(text, what=field, commas=False)


def _row_area(row: Mapping[str, str]) -> Area | StatedArea:
    """Marked area of one row, from its area, its row length and spacing, or both if they agree."""
    length, spacing = row.get("row_length", ""), row.get("row_spacing", "")
    if bool(length) != bool(spacing):
        missing = "row_spacing" if length else "row_length"
        raise InputError(f"{missing} is empty; the area of a length of row needs both")
    stated = parse_counted_area(row["area"]) if row.get("area") else None
    if not length:
        if stated is None:
            raise InputError("area is empty; write it like square:12in, row:19.2in/7.5in or 1 ft2")
        return stated
    sides = length_mm(length, what="row_length"), length_mm(spacing, what="row_spacing")
    rows = RowArea(*sides, typed=f"row:{length}/{spacing}")
    if stated is not None:
        assert not isinstance(stated, WholePhoto)  # parse_counted_area refuses it
        if abs(stated.area_m2 / rows.area_m2 - 1) > 0.01:
            raise InputError(
                f"area {row['area']!r} is {stated.area_m2:.4g} m2, but row_length x row_spacing "
                f"is {rows.area_m2:.4g} m2; correct one of them or leave the area empty"
            )
    return rows
