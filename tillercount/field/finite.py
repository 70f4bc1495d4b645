"""Numbers in counts files: NaN and infinity are none."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from tillercount.errors import InputError

__all__ = ["finite", "refuse_non_finite"]


def refuse_non_finite(value: Any, where: str, name: str = "") -> None:
    """Refuse NaN and infinity anywhere in an entry: they are no numbers to JSON and to a season.

    Raises
    ------
    InputError
        With ``where`` and the value's ``name``, like ``rows.spacing_mm``.
    """
    if isinstance(value, Mapping):
        for key, one in value.items():
            refuse_non_finite(one, where, f"{name}.{key}" if name else str(key))
    elif isinstance(value, list | tuple):
        for one in value:
            refuse_non_finite(one, where, name)
    elif isinstance(value, float):
        finite(value, f"{where}, {name}" if name else where)


def finite(value: Any, where: str) -> float:
    """A finite number as it is.

    Raises
    ------
    InputError
        Anything else.
    """
    good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not good:
        raise InputError(f"{where}: {value!r} isn't a finite number; make the counts file again")
    return float(value)
