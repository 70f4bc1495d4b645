"""The blank sheet for hand counts: the planned spots in walking order, with cells to fill in."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tillercount.errors import InputError
from tillercount.handblank import BY_HAND, PHOTO_ALONE, PLANNED
from tillercount.plan.visit import VisitPlan

__all__ = ["check_hand_sheet", "own_beginning", "to_hand_sheet"]

_FILLED_IN = ("area", "plants", "shoots", "observer", "note")
_BLANK = frozenset({"spot", PLANNED, "zone", "lat", "lon", "field", "area"})


def to_hand_sheet(plan: VisitPlan, *, area: str = "", decimal_commas: bool = False) -> str:
    """A CSV that `tillercount.read_hand_counts` reads as it is once plants, shoots and area of some
    spots are filled in; rows that stay blank aren't counted yet.

    All spots are in it, since more may be counted by hand than were planned to be; the column
    ``planned`` says which. ``area`` is what will be marked, as it is typed, for every spot.
    ``decimal_commas``: with a semicolon between cells and a comma in positions, as spreadsheets
    want it where numbers have a comma.
    """
    columns = ["spot", PLANNED, *(["zone"] if plan.zones else []), *_FILLED_IN, "lat", "lon"]
    columns += ["field"] if plan.field.named else []
    out = io.StringIO(newline="")
    separator = _separator(decimal_commas)
    rows = csv.DictWriter(out, columns, restval="", extrasaction="ignore", delimiter=separator)
    rows.writeheader()
    for spot in plan.spots:
        rows.writerow(
            {
                "spot": spot.number,
                PLANNED: BY_HAND if spot.by_hand else PHOTO_ALONE,
                "zone": spot.zone,
                "area": area,
                "lat": _degrees(spot.lat, decimal_commas),
                "lon": _degrees(spot.lon, decimal_commas),
                "field": plan.field.name,
            }
        )
    return out.getvalue()


def _separator(decimal_commas: bool) -> str:
    return ";" if decimal_commas else ","


def _degrees(value: float, decimal_commas: bool) -> str:
    text = f"{value:.7f}"
    return text.replace(".", ",") if decimal_commas else text


def own_beginning(path: Path) -> str:
    """How a blank sheet begins as this program writes it, by what parts the cells of the one that
    lies there."""
    start = _text(path)[:100]
    for decimal_commas in (False, True):
        begin = _separator(decimal_commas).join(("spot", PLANNED, ""))
        if begin in start:
            break
    return begin


def _text(path: Path) -> str:
    """What lies there, in whichever code page a spreadsheet saved it; "" where nothing does."""
    try:
        return path.read_bytes().decode("utf-8-sig", "replace") if path.is_file() else ""
    except OSError:
        return ""  # what else lies there is told by `tillercount.cli.targets`


def check_hand_sheet(path: Path, area: str = "") -> None:
    """Make sure before the work that a blank sheet with this area may be written there.

    A blank one lies there too where nothing but the same area stands in every row.

    Raises
    ------
    InputError
        Another ending than .csv; a sheet that somebody has begun to fill in.
    """
    if path.suffix.lower() != ".csv":
        raise InputError(f"{path.name}: the sheet for hand counts is a table; end its name in .csv")
    # somebody may have added columns
    read = csv.DictReader(
        io.StringIO(_text(path), newline=""),
        restkey="",
        restval="",
        delimiter=own_beginning(path)[-1],
    )
    rows = [{name: "".join(cell).strip() for name, cell in row.items()} for row in read]
    marked = {row.get("area", "") for row in rows}
    begun = [
        row for row in rows if any(text for name, text in row.items() if name not in _BLANK)
    ]
    if len(marked) > 1:  # one and the same all the way down was put there with the blank sheet
        begun += [row for row in rows if row.get("area") not in ("", area, None)]
    if begun:
        raise InputError(
            f"{path} is there already and has something written beside spot "
            f"{begun[0].get('spot')}, so it is left as it is; name another file"
        )
