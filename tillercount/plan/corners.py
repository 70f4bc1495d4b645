"""Corners typed on the command line, or in the rows of a CSV file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping

from tillercount.errors import InputError
from tillercount.plan.degrees import minus_lost
from tillercount.plan.shapes import Drawing, Drawn, ring_of

__all__ = ["looks_typed", "read_csv", "read_position", "read_typed"]

_NUMBER = r"[+-]?\d{1,3}(?:\.\d+)?\s*°?"
_PAIR = rf"({_NUMBER})\s*([NSns]?)\s*,\s*({_NUMBER})\s*([EWew]?)"
_LIST = re.compile(rf"\s*{_PAIR}(?:[\s;]+{_PAIR})*[\s;]*")

_LAT = ("lat", "latitude", "y")
_LON = ("lon", "long", "lng", "longitude", "x")
_NAME = ("name", "field", "zone", "area", "part")


def looks_typed(text: str) -> bool:
    """Whether a text is a list of corners rather than a file's name."""
    return bool(re.match(r"\s*[+-]?\d{1,3}(\.\d+)?\s*°?\s*[NSns]?\s*,", text))


def read_position(text: str, *, what: str) -> tuple[float, float]:
    """Longitude and latitude of one position typed as ``lat,lon``.

    Raises
    ------
    InputError
        Not two numbers, or out of range.
    """
    match = re.fullmatch(rf"\s*{_PAIR}\s*", text)
    if match is None:
        raise InputError(f"{what} {text!r} can't be read; write it like 39.105,-97.203")
    lat, lon = (_signed(*match.group(i, i + 1)) for i in (1, 3))
    if abs(lat) > 90 or abs(lon) > 180:
        raise InputError(f"{what} {text!r}: latitude comes first and is at most 90; turn it round")
    return lon, lat


def _signed(number: str, letter: str) -> float:
    value = float(number.rstrip("° "))
    return -abs(value) if letter.upper() in {"S", "W"} else value


def read_typed(text: str) -> Drawing:
    """Corners in the order one would walk them, latitude first: ``lat,lon lat,lon lat,lon``.

    Decimal degrees; a minus, or the letters S and W, for south and west.

    Raises
    ------
    InputError
        Something that isn't a pair of numbers; fewer than three corners.
    """
    if not _LIST.fullmatch(text):
        bad = next(
            (p for p in re.split(r"[\s;]+", text.strip()) if not re.fullmatch(_PAIR, p)), text
        )
        raise InputError(
            f"corners: {bad[:40]!r} can't be read; write decimal degrees, latitude first, a blank "
            "between corners, like '39.10,-97.20 39.10,-97.19 39.09,-97.19'"
        )
    pairs = re.findall(_PAIR, text)
    rows = [(_signed(lon, ew), _signed(lat, ns)) for lat, ns, lon, ew in pairs]
    if len(rows) < 3:
        raise InputError(f"corners: {len(rows)} given; an area needs at least three")
    bare = not any(ew for *_, ew in pairs)
    doubt = minus_lost(*rows[0], "corners") if bare else ""
    return Drawing("corners", (Drawn("corners", "", (ring_of(rows, "corners"),)),), doubt=doubt)


def read_csv(data: bytes, source: str) -> Drawing:
    """Corners in rows, one a row in walking order; a ``name`` column tells areas apart.

    With a header (lat and lon, in any order and with other columns beside them), or without one
    and latitude first.

    Raises
    ------
    InputError
        Not text, columns that can't be told, a row that can't be read.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{source} isn't UTF-8 text; save it as CSV (UTF-8)") from None
    first = text.lstrip().split("\n", 1)[0]
    delimiter = next((mark for mark in ("\t", ";") if mark in first), ",")
    rows = [row for row in csv.reader(io.StringIO(text), delimiter=delimiter) if any(row)]
    if not rows:
        raise InputError(f"{source} is empty; put one corner in each row: lat,lon")
    heads = {cell.strip().lower(): i for i, cell in enumerate(rows[0])}
    headed = not re.match(r"\s*[+-]?\d", rows[0][0]) or bool(_column(heads, _LAT) is not None)
    columns = {"lat": 0, "lon": 1}
    if headed:
        lat, lon = _column(heads, _LAT), _column(heads, _LON)
        if lat is None or lon is None:
            found = " ".join(", ".join(heads).split())[:60] or "nothing"
            raise InputError(f"{source}, row 1: no columns lat and lon among {found}; name them so")
        columns = {"lat": lat, "lon": lon}
    name = _column(heads, _NAME) if headed else None
    areas: dict[str, list[tuple[float, float]]] = {}
    bare = True
    for number, row in enumerate(rows[headed:], start=1 + headed):
        key = row[name].strip() if name is not None and name < len(row) else ""
        east, said = _cell(row, columns["lon"], "EW", source, number)
        north, _ = _cell(row, columns["lat"], "NS", source, number)
        areas.setdefault(key, []).append((east, north))
        bare = bare and not said
    things = [Drawn("corners", key, (ring_of(corners, source),)) for key, corners in areas.items()]
    doubt = minus_lost(*next(iter(areas.values()))[0], source) if bare else ""
    return Drawing(source, tuple(things), doubt=doubt)


def _column(heads: Mapping[str, int], names: tuple[str, ...]) -> int | None:
    return next((heads[name] for name in names if name in heads), None)


def _cell(
    row: list[str], column: int, letters: str, source: str, number: int
) -> tuple[float, str]:
    """Degrees in a cell, and which of the two ``letters`` stands behind them, "" for none."""
    shown = row[column].strip() if column < len(row) else ""
    letter = shown[-1:].upper() if shown[-1:].upper() in tuple(letters) else ""
    try:
        return _signed(shown.removesuffix(shown[-1:]) if letter else shown, letter), letter
    except ValueError:
        raise InputError(
            f"{source}, row {number}: {shown!r} isn't a number in decimal degrees; write it like "
            "39.105"
        ) from None
