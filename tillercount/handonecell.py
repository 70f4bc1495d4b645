"""Sheets in which a whole row stands in one cell, as a spreadsheet saves a file that it opened
without parting its columns: ``"1,24,71,square:12in"``."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from tillercount.errors import InputError

__all__ = ["parted"]

_MARKS = {",": "commas", ";": "semicolons", "\t": "tabs"}


def parted(
    path: Path, rows: Sequence[tuple[int, list[str]]], separator: str
) -> list[tuple[int, list[str]]]:
    """The same rows with their cells, where each of them is one cell that holds the separator.

    Raises
    ------
    InputError
        The column names stand in one cell, but not each row below does.
    """
    first = _only_cell(rows[0][1])
    if separator not in first:
        return list(rows)
    for line, cells in rows:
        if separator not in _only_cell(cells):
            raise InputError(
                f"{path}, row 1: all column names stand in one cell, and row {line} isn't one cell "
                f"with {_MARKS[separator]} in it: the sheet was opened without parting its "
                f"columns. Part the first column at its {_MARKS[separator]}, so that each name "
                "heads a column of its own, and save it as CSV again"
            )
    return [(line, next(csv.reader([cells[0]], delimiter=separator))) for line, cells in rows]


def _only_cell(cells: Sequence[str]) -> str:
    """What stands in the first cell, where no other has anything; else ""."""
    return "" if any(cell.strip() for cell in cells[1:]) else cells[0]
