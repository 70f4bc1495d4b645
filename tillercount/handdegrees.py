"""Positions that a spreadsheet spoilt: where a point marks thousands, it takes 48.4014212 for
484014212."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from tillercount.errors import InputError
from tillercount.names import first_few

__all__ = ["refuse_lost_points"]

_LIMITS = {"lat": 90, "lon": 180}
_WHOLE = re.compile(r"[+-]?\d+")
_GROUPS = re.compile(r"[+-]?\d{1,3}(?:\.\d{3}){2,}")
"""Thousands marked with points: 484.014.212."""


def refuse_lost_points(path: Path, rows: Iterable[tuple[int, Mapping[str, str]]]) -> None:
    """Nothing, unless a latitude or a longitude is a whole number far above what degrees can be.

    ``rows`` are the line and the cells of each.

    Raises
    ------
    InputError
        Some are: said once for the file, with what to do.
    """
    found = [
        f"row {line}, {name} {row[name]}"
        for line, row in rows
        for name in _LIMITS
        if _spoilt(name, row.get(name, ""))
    ]
    if found:
        raise InputError(
            f"{path}: the columns lat and lon aren't degrees any more ({first_few(found, 2)}); a "
            "spreadsheet probably dropped the decimal point. If a plan has the positions of these "
            "spots, empty both columns; if not, take them from the file as it was before, with "
            "both columns formatted as text"
        )


def _spoilt(name: str, text: str) -> bool:
    if _GROUPS.fullmatch(text):
        return True
    return _WHOLE.fullmatch(text) is not None and abs(int(text)) > _LIMITS[name]
