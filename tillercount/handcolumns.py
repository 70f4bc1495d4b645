"""The first row of a sheet of hand counts: which columns it has, and which were meant."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from pathlib import Path

from tillercount.definition import Definition
from tillercount.errors import InputError

__all__ = ["column_names", "needed_names", "refuse_lost_shoots"]

_REQUIRED = ("spot", "plants", "shoots", "area")
_OTHER_WORDS = ("tillers", "stems", "culms", "heads", "tillers_per_plant", "shoots_per_plant")
_AS_SHOOTS = (
    "'shoots' and add a column 'definition' that says what was counted: "
    f"{', '.join(one.value for one in Definition)}"
)
_OPTIONAL = (
    "observer", "row_length", "row_spacing", "definition", "zone", "lat", "lon", "note", "field"
)  # fmt: skip
_PERSON = ("who", "by", "counter", "counted_by", "person", "initials")
_MEANT = {
    **dict.fromkeys(_PERSON, "observer"),
    "latitude": "lat",
    "longitude": "lon",
    **dict.fromkeys(("field_name", "paddock"), "field"),
}
"""Other words for columns that would change the result if they were passed over."""
_COUNTED = {"photo", "status", "plants_per_ft2_low", "interval_level", "sha256"}
"""Columns of the table that ``count --csv`` writes, for other programs."""


def needed_names() -> str:
    """The columns that a sheet needs, for a sentence."""
    return ",".join(_REQUIRED)


def column_names(path: Path, cells: list[str], below: Sequence[list[str]]) -> list[str]:
    """The names in the first row's cells, in small letters with ``_`` for blanks.

    ``below`` are the cells of the rows under it.

    Raises
    ------
    InputError
        A column that is needed is missing, one stands there twice, or one seems to be misspelt.
    """
    header = ["_".join(cell.strip().lower().split()) for cell in cells]
    for name in header:
        if name and header.count(name) > 1:
            raise InputError(f"{path}, row 1: two columns are called {name!r}; keep one")
    rows_given = {"row_length", "row_spacing"} <= set(header)
    if set(header) >= _COUNTED:
        raise InputError(_not_this_table(path))
    _refuse_other_words(path, header)
    for name in _REQUIRED:
        if name in header or (name == "area" and rows_given):
            continue
        # somebody who counted plants alone has no column of shoots, and the other way round
        if {"plants": "shoots", "shoots": "plants"}.get(name) in header:
            continue
        raise InputError(
            f"{path}, row 1: no column {name!r}; the first row must name {needed_names()} "
            f"(found: {', '.join(filter(None, header)) or 'nothing'})"
        )
    known = _REQUIRED + _OPTIONAL
    for name in header:
        if name in known or not name:
            continue
        # Other columns are the user's own business, but a misspelt one must not be lost.
        meant = _MEANT.get(name)
        close = [meant] if meant else difflib.get_close_matches(name, known, n=1, cutoff=0.8)
        if not close or close[0] in header:
            continue
        if name in _PERSON and not _has_letters(below, header.index(name)):
            continue  # a running number, say: nobody is called so
        raise InputError(
            f"{path}, row 1: column {name!r} isn't known; did you mean {close[0]!r}? Call it that; "
            "if it is of something else, give it another name, like 'remark'"
        )
    return header


def _has_letters(rows: Sequence[list[str]], at: int) -> bool:
    """Whether a letter stands in this column of any row."""
    return any(char.isalpha() for cells in rows for cell in cells[at : at + 1] for char in cell)


def _not_this_table(path: Path) -> str:
    """What to give in place of a table of photo counts, which has no hand counts in it."""
    beside = path.with_suffix(".json")
    give = f"give {beside}" if beside.is_file() else "write one with count --json F, and give that"
    return (
        f"{path} is the table of count --csv, for spreadsheets; photo counts are read from the "
        f"counts file of count --json: {give}"
    )


def _refuse_other_words(path: Path, header: list[str]) -> None:
    """A column of tillers isn't taken for shoots unasked, nor left out without a word."""
    other = next((name for name in _OTHER_WORDS if name in header), None)
    if "shoots" not in header and other is not None:
        raise InputError(f"{path}, row 1: column {other!r} isn't known; call it {_AS_SHOOTS}")


def refuse_lost_shoots(where: str, row: Mapping[str, str]) -> None:
    """The same where there is a column of shoots and the numbers stand in the other one."""
    other = next((name for name in _OTHER_WORDS if row.get(name)), None)
    if "shoots" in row and not row["shoots"] and other is not None:
        raise InputError(
            f"{where}: shoots is empty, but {other!r} has {row[other]!r}, and that column isn't "
            f"known; put its numbers under {_AS_SHOOTS}"
        )
