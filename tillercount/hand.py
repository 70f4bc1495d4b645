"""Counts made by hand at a spot, and what exactly was counted.

"Tillers" mean different things in print: Penn State counts them with the main stem, Ohio counts
stems (main stem and tillers), North Carolina any stem with three leaves or more. So each count
says what was counted, a file holds one definition, and turning one into another is a named step
that fails where it can't be done.
"""

from __future__ import annotations

import csv
import difflib
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from tillercount.area import Area, RowArea, StatedArea, WholePhoto, parse_counted_area
from tillercount.definition import Definition, parse_definition
from tillercount.errors import InputError
from tillercount.units import length_mm, number

__all__ = [
    "MOST_SHOOTS_PER_PLANT",
    "Definition",
    "HandCount",
    "as_stems",
    "parse_definition",
    "read_hand_counts",
]

MOST_SHOOTS_PER_PLANT = 21
"""More shoots per plant than this can't be before jointing, as a mean over a marked area.

Each shoot's first side shoot comes about three leaves after the shoot itself, so the number that
can be open follows 1, 1, 1, 2, 3, 5, 8, 13, 21 with the leaves on the main stem (Fibonacci rule
of cereal tillering; from memory). Jointing comes at about nine leaves. Published stands in early
spring have 3 to 5.
"""

_REQUIRED = ("spot", "observer", "plants", "shoots", "area")
_OPTIONAL = ("row_length", "row_spacing", "definition", "zone", "lat", "lon", "note")


@dataclass(frozen=True)
class HandCount:
    """One marked area counted by a person.

    Attributes
    ----------
    spot, observer : str
        Where (a name), and who counted.
    plants, shoots : float or None
        What was counted in the area (a base under the frame counts half); None if not counted,
        never both. ``shoots`` is counted as ``definition`` says.
    area : Area or StatedArea
        The marked area.

    Raises
    ------
    InputError
        Counts that can't be: negative, not finite, both missing, fewer stems than plants, more
        shoots per plant than `MOST_SHOOTS_PER_PLANT`.
    """

    spot: str
    observer: str
    plants: float | None
    shoots: float | None
    area: Area | StatedArea
    definition: Definition = Definition.STEMS
    zone: str = ""
    lat: float | None = None
    lon: float | None = None
    note: str = ""
    flags: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.spot.strip():
            raise InputError("spot is empty; give each counted place a name or number")
        if isinstance(self.area, WholePhoto):
            raise InputError("area is a photo's scale; give the area counted, like square:12in")
        for name in ("plants", "shoots"):
            value = getattr(self, name)
            if value is None:
                continue
            if not math.isfinite(value):
                raise InputError(f"{name} {value!r} isn't a finite number; count again")
            if value < 0:
                raise InputError(f"{name} {value:g} is below zero; write what was counted")
        if self.plants is None and self.shoots is None:
            raise InputError("plants and shoots are both empty; give one of them at least")
        if self.plants is not None and self.shoots is not None:
            self._check_pair(self.plants, self.shoots)
        for name, limit in (("lat", 90.0), ("lon", 180.0)):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and abs(value) <= limit):
                raise InputError(
                    f"{name} {value!r} is outside -{limit:g} to {limit:g}; give decimal degrees"
                )

    def _check_pair(self, plants: float, shoots: float) -> None:
        if self.definition is Definition.STEMS and shoots < plants:
            raise InputError(
                f"shoots {shoots:g} are fewer than plants {plants:g}, though each plant has a main "
                "stem; count again, or set definition to tillers if the main stem wasn't counted"
            )
        most = MOST_SHOOTS_PER_PLANT - (0 if self.definition.main_stem else 1)
        if shoots > most * plants:
            why = (
                "no plant was counted"
                if plants == 0
                else f"that is {shoots / plants:.1f} per plant, and more than {most} can't have "
                "opened before jointing (each shoot's first side shoot comes three leaves later)"
            )
            raise InputError(
                f"shoots {shoots:g} are too many for plants {plants:g}: {why}; "
                "check both numbers and their columns"
            )

    @property
    def area_m2(self) -> float:
        """Area counted, m²."""
        assert not isinstance(self.area, WholePhoto)  # refused above
        return self.area.area_m2

    @property
    def plants_per_m2(self) -> float | None:
        """Plants per m², None if plants weren't counted."""
        return None if self.plants is None else self.plants / self.area_m2

    @property
    def shoots_per_m2(self) -> float | None:
        """What ``definition`` counts, per m²; None if shoots weren't counted."""
        return None if self.shoots is None else self.shoots / self.area_m2


def as_stems(count: HandCount) -> HandCount:
    """The same count with the main stem in it: tillers + plants = stems.

    Counts with the main stem in come back as they are. The three-leaf minimum stays: how many
    smaller shoots there were can't be known afterwards. Under it, each plant's main stem is taken
    to have three leaves, which a plant with tillers of three leaves always has; the result says so
    in its flags.

    Raises
    ------
    InputError
        The main stem isn't in the number and the plants weren't counted.
    """
    if count.shoots is None or count.definition.main_stem:
        return count
    if count.plants is None:
        raise InputError(
            f"spot {count.spot!r}: tillers without the main stem can't be turned into stems, as "
            "the plants weren't counted; count the plants too, or count main stems and tillers"
        )
    if count.definition is Definition.TILLERS:
        to, flag = Definition.STEMS, "tillers + plants = stems"
    else:
        to = Definition.STEMS_3_LEAVES
        flag = "tillers with 3 leaves + plants = stems with 3 leaves (main stems taken to have 3)"
    return replace(
        count,
        shoots=count.shoots + count.plants,
        definition=to,
        flags=(*count.flags, flag),
    )


def read_hand_counts(path: str | Path) -> list[HandCount]:
    """Read a CSV of hand counts.

    The first row names the columns: ``spot, observer, plants, shoots, area`` and, where wanted,
    ``row_length, row_spacing, definition, zone, lat, lon, note``. Comma, semicolon or tab between
    cells; UTF-8 with or without byte-order mark, UTF-16, or the Western spreadsheet code page;
    blank lines are skipped. ``plants`` or ``shoots`` may be empty (not counted), not both.
    ``area`` may be empty, or its column missing, where row_length and row_spacing are given.

    Raises
    ------
    InputError
        Anything that can't be used, with the file, the row (as a spreadsheet numbers it), the
        column and what to do.
    """
    path = Path(path)
    header, rows = _read_rows(path)
    counts: list[HandCount] = []
    first_definition: tuple[int, Definition] | None = None
    seen: dict[tuple[str, str], int] = {}
    for line, cells in rows:
        where = f"{path}, row {line}"
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            raise InputError(
                f"{where}: {len(cells)} cells under {len(header)} column names; put quotes around "
                "a text with the separator in it, and write decimals with a point"
            )
        # zip stops at the shorter: a short row has its last columns empty
        row = dict(zip(header, (cell.strip() for cell in cells), strict=False))
        count = _row_count(where, row)
        if first_definition is None:
            first_definition = (line, count.definition)
        elif first_definition[1] is not count.definition:
            raise InputError(
                f"{where}, definition: {count.definition.value}, but row {first_definition[0]} "
                f"has {first_definition[1].value}; one file holds one definition: fill the column "
                "alike, or split the file in two"
            )
        key = (count.spot.casefold(), count.observer.casefold())
        if key in seen:
            raise InputError(
                f"{where}, spot: {count.spot!r} was counted by {count.observer or 'nobody named'} "
                f"in row {seen[key]} already; give each place its own name, or drop one row"
            )
        seen[key] = line
        counts.append(count)
    if not counts:
        raise InputError(f"{path}: no counts below the column names; add one row per spot")
    return counts


def _read_rows(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Column names, and (line number, cells) of each row that isn't blank."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    text = _decode(path, raw)
    lines = [line for line in text.splitlines() if line.strip(" \t,;")]
    if not lines:
        raise InputError(f"{path}: empty; the first row must name the columns {_names()}")
    separator = max((",", ";", "\t"), key=lines[0].count)
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
    return _header(path, rows[0][1]), rows[1:]


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


def _names() -> str:
    return ",".join(_REQUIRED)


def _header(path: Path, cells: list[str]) -> list[str]:
    header = ["_".join(cell.strip().lower().split()) for cell in cells]
    for name in header:
        if name and header.count(name) > 1:
            raise InputError(f"{path}, row 1: two columns are called {name!r}; keep one")
    rows_given = {"row_length", "row_spacing"} <= set(header)
    for name in _REQUIRED:
        if name in header or (name == "area" and rows_given):
            continue
        raise InputError(
            f"{path}, row 1: no column {name!r}; the first row must name {_names()} "
            f"(found: {', '.join(filter(None, header)) or 'nothing'})"
        )
    known = _REQUIRED + _OPTIONAL
    for name in header:
        if name in known or not name:
            continue
        # Other columns are the user's own business, but a misspelt one must not be lost.
        close = difflib.get_close_matches(name, known, n=1, cutoff=0.8)
        if close and close[0] not in header:
            raise InputError(
                f"{path}, row 1: column {name!r} isn't known; did you mean {close[0]!r}?"
            )
    return header


def _row_count(where: str, row: Mapping[str, str]) -> HandCount:
    field = ""
    try:
        numbers: dict[str, float | None] = {}
        for field in ("plants", "shoots", "lat", "lon"):
            numbers[field] = _number_cell(field, row.get(field, ""))
        field = "area"
        area = _row_area(row)
        field = "definition"
        text = row.get("definition", "")
        definition = parse_definition(text) if text else Definition.STEMS
        field = ""
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
        )
    except InputError as error:
        message = str(error)
        if field and not message.startswith((field, "row_")):
            message = f"{field}: {message}"
        raise InputError(f"{where}, {message}") from error


def _number_cell(field: str, text: str) -> float | None:
    return number(text, what=field) if text else None


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
    rows = RowArea(length_mm(length, what="row_length"), length_mm(spacing, what="row_spacing"))
    if stated is not None:
        assert not isinstance(stated, WholePhoto)  # parse_counted_area refuses it
        if abs(stated.area_m2 / rows.area_m2 - 1) > 0.01:
            raise InputError(
                f"area {row['area']!r} is {stated.area_m2:.4g} m2, but row_length x row_spacing "
                f"is {rows.area_m2:.4g} m2; correct one of them or leave the area empty"
            )
    return rows
