"""The blank sheet for hand counts: the planned spots in walking order, with cells to fill in."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tillercount.errors import InputError
from tillercount.handblank import BY_HAND, PHOTO_ALONE, PLANNED
from tillercount.plan.visit import VisitPlan

__all__ = ["FIRST_COLUMNS", "check_hand_sheet", "to_hand_sheet"]

_FILLED_IN = ("area", "plants", "shoots", "observer", "note")
_GIVEN = frozenset({"spot", PLANNED, "zone", "lat", "lon", "field"})
FIRST_COLUMNS = f"spot,{PLANNED},"
"""How such a sheet begins, as this program writes it."""


def to_hand_sheet(plan: VisitPlan) -> str:
    """A CSV that `tillercount.read_hand_counts` reads as it is once plants, shoots and area of some
    spots are filled in; rows that stay blank aren't counted yet.

    All spots are in it, since more may be counted by hand than were planned to be; the column
    ``planned`` says which.
    """
    columns = ["spot", PLANNED, *(["zone"] if plan.zones else []), *_FILLED_IN, "lat", "lon"]
    columns += ["field"] if plan.field.named else []
    out = io.StringIO(newline="")
    rows = csv.DictWriter(out, columns, restval="", extrasaction="ignore")
    rows.writeheader()
    for spot in plan.spots:
        rows.writerow(
            {
                "spot": spot.number,
                PLANNED: BY_HAND if spot.by_hand else PHOTO_ALONE,
                "zone": spot.zone,
                "lat": f"{spot.lat:.7f}",
                "lon": f"{spot.lon:.7f}",
                "field": plan.field.name,
            }
        )
    return out.getvalue()


def check_hand_sheet(path: Path) -> None:
    """Make sure before the work that a blank sheet may be written there.

    Raises
    ------
    InputError
        Another ending than .csv; a sheet that somebody has begun to fill in.
    """
    if path.suffix.lower() != ".csv":
        raise InputError(f"{path.name}: the sheet for hand counts is a table; end its name in .csv")
    try:
        data = path.read_bytes() if path.is_file() else b""
    except OSError:
        return  # what else lies there is told by `tillercount.cli.targets`
    # a spreadsheet may have saved it in another code page, and somebody added columns
    text = data.decode("utf-8-sig", errors="replace")
    for row in csv.DictReader(io.StringIO(text, newline=""), restkey="", restval=""):
        if any("".join(cell).strip() for name, cell in row.items() if name not in _GIVEN):
            raise InputError(
                f"{path} is there already and has something written beside spot "
                f"{row.get('spot')}, so it is left as it is; name another file"
            )
