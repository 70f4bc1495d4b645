"""Decimal commas in a sheet whose cells a semicolon or a tab parts, as spreadsheets write it where
numbers have a comma.

There a comma stands for the point and a point for thousands, so ``12,5`` and ``1.250,5`` can mean
one thing only. ``1,250`` and ``1.250`` can mean two, a thousand apart, and are asked about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tillercount.errors import InputError

__all__ = ["refuse_thousands", "with_points"]

_COUNTED = ("plants", "shoots")
_DEGREES = ("lat", "lon")
_SIZES = ("area", "row_length", "row_spacing")
_GROUPED = re.compile(r"(?<![\d.,])\d{1,3}((?:\.\d{3})+),(\d+)(?![\d.,])")
_COMMA = re.compile(r"(?<![\d.,])(\d*),(\d+)(?![\d.,])")
_EITHER = re.compile(r"([1-9]\d{0,2})[.,](\d{3})")


def with_points(header: Sequence[str], cells: Sequence[str], separator: str) -> list[str]:
    """The same cells with a point for each comma that can only be a decimal one.

    Cells of other columns than counts, sizes and positions stay, and so does every cell of a sheet
    whose separator is a comma.
    """
    known = {*_COUNTED, *_DEGREES, *_SIZES}
    return [
        _pointed(text, name) if separator != "," and name in known else text
        for name, text in zip((*header, *[""] * len(cells)), cells, strict=False)
    ]


def _pointed(text: str, name: str) -> str:
    text = _GROUPED.sub(lambda one: one[0].replace(".", "").replace(",", "."), text)
    return _COMMA.sub(lambda one: one[0].replace(",", ".") if _decimal(one, name) else one[0], text)


def _decimal(found: re.Match[str], name: str) -> bool:
    """Whether it can be no mark of thousands; no degrees have those."""
    before, after = found.groups()
    return name in _DEGREES or len(after) != 3 or len(before) > 3 or before[:1] in ("", "0")


def refuse_thousands(where: str, row: Mapping[str, str], separator: str) -> None:
    """Nothing, unless the mark in a count may stand for thousands or for decimals.

    Raises
    ------
    InputError
        It may: asked, with both ways to write it.
    """
    if separator == ",":
        return
    for name in _COUNTED:
        text = row.get(name, "")
        if found := _EITHER.fullmatch(text):
            mark = "comma" if "," in text else "point"
            raise InputError(
                f"{where}, {name} {text!r}: in a sheet like this the {mark} may stand for "
                f"thousands or for decimals; write {found[1]}{found[2]} for thousands, or {text}0 "
                "for decimals, with a fourth one (in a spreadsheet show four decimals in that "
                "column)"
            )
