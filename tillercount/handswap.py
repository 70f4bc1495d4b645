"""Whether the columns of plants and of shoots stand under each other's names in a whole file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from tillercount.definition import Definition, parse_definition
from tillercount.errors import InputError
from tillercount.hand import MOST_SHOOTS_PER_PLANT
from tillercount.units import number

__all__ = ["refuse_exchanged"]

_CLEARLY = 1.2
"""How many plants there must be to a shoot, all rows together, for exchanged columns to be offered;
by judgement."""


def refuse_exchanged(path: Path, rows: Iterable[Mapping[str, str]]) -> None:
    """Nothing, where any row with both numbers can stand as it is, or fewer than two can't.

    Rows with as many shoots as plants say nothing. One or two slips are told row by row
    (`tillercount.hand.HandCount`), and so is a difference so small that a miscount may explain it.

    Raises
    ------
    InputError
        All have fewer shoots than plants, and could be true the other way round: said once for the
        file, with what to do.
    """
    pairs = [pair for row in rows if (pair := _pair(row)) is not None and pair[0] != pair[1]]
    if len(pairs) < 2 or not all(_only_exchanged(*pair) for pair in pairs):
        return
    if sum(one for one, _ in pairs) < _CLEARLY * sum(other for _, other in pairs):
        return
    plants, shoots = pairs[0]
    raise InputError(
        f"{path}: the columns plants and shoots look exchanged: in {len(pairs)} rows shoots are "
        f"fewer than plants (the first: plants {plants:g}, shoots {shoots:g}) and in none more, "
        "though each plant has a main stem. If so, exchange the two names in row 1 and give the "
        "file again. If main stems were left out in every row, add a column definition with "
        f"{Definition.TILLERS.value} in each row instead. If neither is so, count again"
    )


def _only_exchanged(plants: float, shoots: float) -> bool:
    return 0 < shoots < plants <= MOST_SHOOTS_PER_PLANT * shoots


def _pair(row: Mapping[str, str]) -> tuple[float, float] | None:
    """Plants and shoots of a row; None where one isn't there, can't be read, or counts tillers."""
    try:
        text = row.get("definition", "")
        if text and parse_definition(text) is not Definition.STEMS:
            return None
        plants, shoots = (
            number(row.get(name, ""), what=name, commas=False) for name in ("plants", "shoots")
        )
    except InputError:  # told with its row
        return None
    return plants, shoots
