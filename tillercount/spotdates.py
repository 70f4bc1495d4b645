"""Spots' names that a spreadsheet turned into a date: ``1-2`` typed into a cell becomes ``2-Jan``,
``01.Feb`` or 2026-01-02, by the spreadsheet's country, and goes into a CSV as that.

What was typed can't be told from the date alone (1-2, 2-1 and 1/2 may all have been), so it is
asked, and only where another file has a spot of such a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from tillercount.monthnames import month_named
from tillercount.names import spot_key, spot_text

__all__ = ["date_question", "is_date", "may_be"]

_BETWEEN = r"\s*[-/. ]\s*"
_WORD = r"([^\W\d_]{3,10})\.?"
_DAY_MONTH = re.compile(rf"(\d{{1,2}})\.?{_BETWEEN}?{_WORD}(?:{_BETWEEN}(\d{{4}}|\d\d))?")
_MONTH_DAY = re.compile(rf"{_WORD}{_BETWEEN}?(\d{{4}}|\d{{1,2}})")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ t]\d\d?:\d\d.*)?")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})(?: \d\d?:\d\d.*)?")
_NAME = re.compile(r"(?:spot[ _-]*)?(\d{1,4})\s*[-/._]\s*(\d{1,4})(?:\s*[-/._]\s*(\d{1,4}))?")


def is_date(text: str) -> bool:
    """Whether a spot is called by a date, of the kinds that spreadsheets make."""
    return bool(_typed(text))


def may_be(text: str, names: Iterable[str]) -> list[str]:
    """Which of these spots' names a date may have been before a spreadsheet got hold of it.

    None where ``text`` is no such date, or is the name of one of them.
    """
    meant = _typed(text)
    known = list(names)
    if not meant or spot_key(text) in map(spot_key, known):
        return []
    return [name for name in known if _figures(name) in meant]


def date_question(text: str, names: Iterable[str], there: str) -> str:
    """Whether a spot called by a date is one of these; "" where nothing speaks for it.

    ``there`` says where they are, before the name: "a photo is of". Without a full stop.
    """
    found = may_be(text, names)
    if not found:
        return ""
    names = " or ".join(found)
    return (
        f"{spot_text(repr(text))} is a date, as spreadsheets make of {names}, and {there} "
        f"{spot_text(names)}: is that the place? Then format the column spot as text, write its "
        "name there again, and save it"
    )


def _typed(text: str) -> set[tuple[int, ...]]:
    """The figures, in every order, that a day may have been made of."""
    text = " ".join(text.split()).casefold()
    if found := _DAY_MONTH.fullmatch(text):
        day, month, year = int(found[1]), month_named(found[2]), found[3]
    elif found := _MONTH_DAY.fullmatch(text):
        day, month, year = int(found[2]) % 100, month_named(found[1]), None
    elif found := _YEAR_FIRST.fullmatch(text):
        year, month, day = found[1], int(found[2]), int(found[3])
    elif found := _YEAR_LAST.fullmatch(text):
        day, month, year = int(found[1]), int(found[2]), found[3]
    else:
        return set()
    if not month:
        return set()
    both: set[tuple[int, ...]] = {(day, month), (month, day)}
    if year is None:
        return both
    short = int(year) % 100
    ways = {(*pair, end) for pair in both for end in (short, int(year))}
    return both | ways | {(short, month, day), (short, day, month)}


def _figures(name: str) -> tuple[int, ...]:
    """The figures of a name that is made of them alone; () for another name."""
    found = _NAME.fullmatch(" ".join(name.split()).casefold())
    return tuple(int(part) for part in found.groups() if part) if found else ()
