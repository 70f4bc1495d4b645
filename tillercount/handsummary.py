"""Rows below a sheet of hand counts that sum it up: they are no spot, and would count as one.

A mean among the spots it is of makes them look more alike, and the field surer than it is.
"""

from __future__ import annotations

import re

from tillercount.errors import InputError

__all__ = ["refuse_summary"]

_WORDS = (
    "averages?", "avg", "av", "ave", "means?", "totals?", "sums?", "sub-?totals?", "medians?",
    "min(?:imum)?", "max(?:imum)?", "sd", "s\\.d", "std", "st\\.? ?dev", "std\\.? ?dev", "cv",
    "mittel(?:wert)?", "durchschnitt", "summe", "gesamt", "promedio", "media", "moyenne", "ø",
)  # fmt: skip
_SUMMARY = re.compile(
    rf"(?:the |field |overall |grand )?(?:{'|'.join(_WORDS)})"
    r"(?: of (?:\d+|all|field|the field)| ?\([^()]*\))?[.:]*"
)


def refuse_summary(where: str, spot: str) -> None:
    """Raise `InputError` where a row's spot is called like a line that sums the others up."""
    if _SUMMARY.fullmatch(" ".join(spot.split()).casefold()):
        raise InputError(
            f"{where}, spot {spot.strip()!r}: a row of means or sums isn't a spot and must not "
            "count as one: delete the row; if a place is really called so, give it another name"
        )
