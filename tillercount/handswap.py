"""Whether the columns of plants and of shoots stand under each other's names in a whole file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from tillercount.definition import Definition, parse_definition
from tillercount.errors import InputError
from tillercount.hand import MOST_SHOOTS_PER_PLANT
from tillercount.units import number

__all__ = ["refuse_exchanged"]


def refuse_exchanged(path: Path, rows: Iterable[Mapping[str, str]]) -> None:
    """Nothing, where any row with both numbers can stand as it is, or is the only one.

    One row by itself is told as any other mistake is (`tillercount.hand.HandCount`).

    Raises
    ------
    InputError
        All have fewer shoots than plants, and could be true the other way round: said once for the
        file, with what to do.
    """
    pairs = [pair for row in rows if (pair := _pair(row)) is not None]
    if len(pairs) < 2 or not all(_only_exchanged(*pair) for pair in pairs):
        return
    plants, shoots = pairs[0]
    raise InputError(
        f"{path}: the columns plants and shoots look exchanged: in all {len(pairs)} rows that have "
        f"both, shoots are fewer than plants (the first: plants {plants:g}, shoots {shoots:g}), "
        "though each plant has a main stem. If so, exchange the two names in row 1 and give the "
        "file again. Only if main stems were left out in every row, add a column definition with "
        f"{Definition.TILLERS.value} in each row instead"
    )


def _only_exchanged(plants: float, shoots: float) -> bool:
    return 0 < shoots < plants <= MOST_SHOOTS_PER_PLANT * shoots


def _pair(row: Mapping[str, str]) -> tuple[float, float] | None:
    """Plants and shoots of a row; None where one isn't there, can't be read, or counts tillers."""
    try:
        text = row.get("definition", "")
        if text and parse_definition(text) is not Definition.STEMS:
            return None
        plants, shoots = (number(row.get(name, ""), what=name) for name in ("plants", "shoots"))
    except InputError:  # told with its row
        return None
    return plants, shoots
