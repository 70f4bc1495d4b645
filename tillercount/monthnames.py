"""Months' names and how they are shortened, in the languages of those who type them."""

from __future__ import annotations

import unicodedata

__all__ = ["ALSO_WORDS", "month_named"]

_NAMES = (
    "jan january januar janvier janv enero ene gennaio gen januari janeiro",
    "feb february februar février févr fév febrero febbraio februari fevereiro fev",
    "mar march märz maerz mär mrz mars marzo maart mrt março",
    "apr april avril avr abril abr aprile",
    "may mai mayo maggio mag mei maio maj",
    "jun june juni juin junio giugno giu junho",
    "jul july juli juillet juil julio luglio lug julho",
    "aug august août agosto ago augustus",
    "sep sept september septembre septiembre settembre set setembro",
    "oct october oktober okt octobre octubre ottobre ott outubro out",
    "nov november novembre noviembre novembro",
    "dec december dezember dez décembre déc diciembre dic dicembre dezembro",
)
"""January first; English, German, French, Spanish, Italian, Dutch and Portuguese; from memory."""
ALSO_WORDS = frozenset({"ago", "gen", "lug", "mag", "out", "set"})
"""Shortened months that people write for something else as well: "set 4" may be the fourth set."""


def _bare(word: str) -> str:
    """Small letters without accents, which not every keyboard has."""
    apart = unicodedata.normalize("NFKD", word.casefold())
    return "".join(letter for letter in apart if not unicodedata.combining(letter))


_NUMBERS = {
    _bare(name): number
    for number, names in enumerate(_NAMES, start=1)
    for name in names.split()
}


def month_named(word: str) -> int:
    """1 to 12 for a month's whole or shortened name; 0 for another word."""
    return _NUMBERS.get(_bare(word), 0)
