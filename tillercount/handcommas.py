"""Decimal commas in a sheet whose cells a semicolon or a tab parts, as spreadsheets write it where
numbers have a comma.

There a comma stands for the point and a point for thousands, so ``12,5`` and ``1.250,5`` can mean
one thing only. ``1,250`` and ``1.250`` can mean two, a thousand apart, and are asked about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tillercount.errors import InputError
from tillercount.typed import decimal_points

__all__ = ["refuse_thousands", "with_points"]

_COUNTED = ("plants", "shoots")
_DEGREES = ("lat", "lon")
_SIZES = ("area", "row_length", "row_spacing")
_EITHER = re.compile(r"([1-9]\d{0,2})[.,](\d{3})")


def with_points(header: Sequence[str], cells: Sequence[str], separator: str) -> list[str]:
    """The same cells with a point for each comma that can only be a decimal one.

    Cells of other columns than counts, sizes and positions stay, and so does every cell of a sheet
    whose separator is a comma.
    """
    known = {*_COUNTED, *_DEGREES, *_SIZES}
    return [
        decimal_points(text, thousands=name not in _DEGREES)
        if separator != "," and name in known
        else text
        for name, text in zip((*header, *[""] * len(cells)), cells, strict=False)
    ]


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
