"""Nitrogen by the tissue test at Feekes 5 (GS30): the printed table, and its line for wheat."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from tillercount.errors import InputError
from tillercount.stand.stage import Stage
from tillercount.stand.words import rate_text

__all__ = [
    "BARLEY_TABLE", "SOURCE", "WHEAT_TABLE", "TissueRate", "not_for_here", "tissue_rate",
]  # fmt: skip

SOURCE = (
    "Virginia Tech scale as printed by the University of Delaware, Weekly Crop Update 2019, "
    "sites.udel.edu/weeklycropupdate/?p=12832"
)

# Percent nitrogen in whole plants cut 1/2 in above the ground, and lb N/ac.
WHEAT_TABLE: tuple[tuple[float, float], ...] = (
    (2.00, 120), (2.25, 110), (2.50, 100), (2.75, 90), (3.00, 80),
    (3.25, 70), (3.50, 60), (4.00, 40), (4.50, 20), (5.00, 0),
)  # fmt: skip
BARLEY_TABLE: tuple[tuple[float, float], ...] = (
    (2.00, 100), (2.25, 100), (2.50, 100), (2.75, 80), (3.00, 50),
    (3.25, 30), (3.50, 0), (4.00, 0), (4.50, 0), (5.00, 0),
)  # fmt: skip

_HOW = (
    "Tissue test: handfuls from 20 places, cut 1/2 in above the ground, dead leaves removed, at "
    "GS30 (split a stem: about 1/2 in hollow above the crown) (Virginia Tech 2006)."
)
_CAROLINA = (
    "North Carolina's rates since 2010 go by biomass times percent nitrogen instead; send "
    "plants from 36 in of row there (NCDA&CS)."
)


@dataclass(frozen=True)
class TissueRate:
    """Pounds of nitrogen per acre by a tissue test.

    Attributes
    ----------
    percent_n : float
        Of the whole plants.
    lb_ac : float
    printed : bool
        Whether the table has this percentage; else it is worked out between two of its rows.
    """

    percent_n: float
    crop: str
    lb_ac: float
    printed: bool
    arithmetic: str
    source: str = SOURCE
    flags: tuple[str, ...] = ()


def tissue_rate(percent_n: float, crop: str = "wheat", stage: Stage | None = None) -> TissueRate:
    """Pounds by the tissue test.

    For wheat the printed table is the line 40 x (5 - N%) exactly, from 2 to 5 %; for barley, rates
    between two printed rows are worked out between them. Below 2 % the highest rate holds (caps of
    120 lb for wheat and 100 for barley), above 5 % none.

    Raises
    ------
    InputError
        Another crop, or no percentage that a plant can have.
    """
    tables = {"wheat": WHEAT_TABLE, "barley": BARLEY_TABLE}
    if crop not in tables:
        raise InputError(
            f"the tissue test has rates for wheat and barley, none for {crop}; ask the laboratory"
        )
    if not 0.5 <= percent_n <= 8.0:
        raise InputError(
            f"{percent_n:g} % nitrogen isn't what young plants have (2 to 6 %); check the report"
        )
    table = tables[crop]
    lb, printed = _read_off(table, percent_n)
    if percent_n < table[0][0]:
        how = f"below {table[0][0]:g} %: the highest rate, {lb:g} lb N/ac"
    elif percent_n >= table[-1][0]:
        how = f"{table[-1][0]:g} % or more: none"
    elif crop == "wheat":
        how = f"40 x (5 - {percent_n:g}) = {rate_text((lb, lb))} lb N/ac"
    elif printed:
        how = f"{percent_n:g} %: {lb:g} lb N/ac, as printed"
    else:
        how = f"{percent_n:g} %: {rate_text((lb, lb))} lb N/ac, between two printed rows"
    flags = [_HOW, _CAROLINA]
    if stage is not None and not stage.feekes[0] <= 5 <= stage.feekes[1]:
        flags.insert(0, f"the tissue test is for Feekes 5 (GS30), not for {stage.words}")
    return TissueRate(percent_n, crop, lb, printed, f"tissue test: {how}", flags=tuple(flags))


def not_for_here(percent_n: float) -> str:
    """Why a test's result gives no pounds on a field outside North America."""
    return (
        f"The tissue test of {percent_n:g} % gives no amount here: its table was made in Virginia, "
        "for cereals there. Ask the laboratory or a local adviser what the result means."
    )


def _read_off(table: tuple[tuple[float, float], ...], percent: float) -> tuple[float, bool]:
    for at, lb in table:
        if percent == at:
            return lb, True
    if percent < table[0][0]:
        return table[0][1], False
    for (low, high_lb), (high, low_lb) in itertools.pairwise(table):
        if low < percent < high:
            return high_lb + (low_lb - high_lb) * (percent - low) / (high - low), False
    return table[-1][1], False
