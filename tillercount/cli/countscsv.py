"""Counts as a table: one row per photo."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from tillercount.errors import InputError

__all__ = ["COLUMNS", "csv_row", "csv_text", "read_rows", "short_sha256"]

_INTERVALS = ("plants", "shoots", "plants_per_ft2", "shoots_per_ft2")
_COVER = ("crop", "other_plants", "residue", "soil")
_ENDS = ("", "_low", "_high")

COLUMNS = (
    "photo", "status", "reason", "area", "area_ft2",
    *(f"{name}{end}" for name in _INTERVALS for end in _ENDS),
    "tillers_per_plant",
    *(f"cover_{name}" for name in _COVER),
    "taken_at", "lat", "lon", "flags", "interval_level", "model", "sha256",
    "other_plants",
)  # fmt: skip


def short_sha256(sha256: object) -> str:
    """Enough of a model's sha256 to know it by, as the table's column ``model`` has it."""
    return str(sha256 or "")[:12]


def csv_row(record: Mapping[str, Any], model_sha256: object, level: float) -> dict[str, str]:
    """The row of one entry of a counts file."""
    area = record["area"]
    row: dict[str, Any] = {
        "photo": record["photo"],
        "status": record["status"],
        "reason": record.get("reason"),
        "area": area.get("typed") or area.get("text"),
        "area_ft2": area.get("ft2"),
        "tillers_per_plant": record.get("tillers_per_plant"),
        "flags": "; ".join(record.get("flags") or ()),
        "interval_level": level,
        "model": short_sha256(model_sha256),
        "sha256": record.get("sha256"),
        "other_plants": (record.get("other_plants") or {}).get("count"),
    }
    for name in _INTERVALS:
        interval = record.get(name) or {}
        for key, end in zip(("count", "low", "high"), _ENDS, strict=True):
            row[f"{name}{end}"] = interval.get(key)
    for name in _COVER:
        row[f"cover_{name}"] = (record.get("cover") or {}).get(name)
    for name in ("taken_at", "lat", "lon"):
        row[name] = record.get(name)
    return {name: "" if row[name] is None else str(row[name]) for name in COLUMNS}


def csv_text(rows: Iterable[Mapping[str, str]]) -> str:
    """The whole of a table."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    return text.getvalue()


def read_rows(path: Path) -> list[dict[str, str]]:
    """Rows of a table written by `csv_text`, by it or by an older version with fewer columns.

    Raises
    ------
    InputError
        Not such a table.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            table = csv.DictReader(file, strict=True, restkey="")
            rows = list(table)
            names = table.fieldnames or ()
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{path} isn't a table of counts ({error})") from error
    known = set(names) <= set(COLUMNS) and {"photo", "status", "plants", "shoots"} <= set(names)
    if not known or any("" in row or None in row.values() for row in rows):
        raise InputError(f"{path} isn't a table of counts")
    return [{name: row.get(name, "") for name in COLUMNS} for row in rows]
