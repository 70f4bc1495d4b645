"""Words and numbers of the report: one file of sentences, one function for every number.

A number or text of the record is never typed into a sentence. It is asked for by its path in the
record (``evidence/0/per_ft2/mean``), formatted here, and carries the path along, so that each
number on the page can be traced back to the record.
"""

from __future__ import annotations

import math
import string
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.stand.setting import ends_text, load, set_cost, set_dry, set_liquid
from tillercount.stand.words import beyond, number_text

__all__ = [
    "Line",
    "Shown",
    "Speaker",
    "Words",
    "format_value",
    "load_words",
    "look_up",
    "placeholders",
    "plain",
]


@dataclass(frozen=True)
class Shown:
    """A value of the record as it is shown: its text, its path in the record, its kind."""

    text: str
    at: str
    kind: str


Line = tuple["Shown | str", ...]
"""A sentence in pieces: words of the language file, and values of the record."""


def plain(line: Line | str) -> str:
    """A sentence as text."""
    return (
        line
        if isinstance(line, str)
        else "".join(p if isinstance(p, str) else p.text for p in line)
    )


@dataclass(frozen=True)
class Words:
    """A language: sentences by ``table.name``, and how numbers and dates are written."""

    sentences: Mapping[str, str]
    said: Mapping[str, str]
    months: Sequence[str]

    def __getitem__(self, key: str) -> str:
        return self.sentences[key]


def placeholders(sentence: str) -> set[str]:
    """Names in braces."""
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}


def load_words(path: str | Path | None = None) -> Words:
    """English, or a translation laid over it.

    Raises
    ------
    InputError
        A file that can't be read, a sentence that isn't known, or braces that don't fit.
    """
    text = (resources.files("tillercount.report") / "words" / "en.toml").read_text("utf-8")
    english = tomllib.loads(text)
    if path is None:
        return _words(english, {})
    try:
        other = tomllib.loads(Path(path).read_text("utf-8"))
    except OSError as error:
        raise InputError(f"{path}: can't be read ({error.strerror}); check the name") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not readable TOML ({error}); compare with en.toml") from error
    _check(str(path), english, other)
    return _words(english, other)


def _words(english: Mapping[str, Any], other: Mapping[str, Any]) -> Words:
    sentences: dict[str, str] = {}
    for table, rows in english.items():
        if table == "said":
            continue
        for name, sentence in {**rows, **other.get(table, {})}.items():
            if isinstance(sentence, str):
                sentences[f"{table}.{name}"] = sentence
    language = {**english["language"], **other.get("language", {})}
    return Words(sentences, dict(other.get("said", {})), tuple(language["months"]))


def _check(where: str, english: Mapping[str, Any], other: Mapping[str, Any]) -> None:
    for table, rows in other.items():
        if not isinstance(rows, Mapping) or table not in english:
            raise InputError(f"{where}: table [{table}] isn't known; keep those of en.toml")
        for name, sentence in rows.items():
            if table == "said":
                good: object = isinstance(sentence, str)
            elif name not in english[table]:
                raise InputError(f"{where}: {table}.{name} isn't known; keep the names of en.toml")
            elif name == "months":
                good = isinstance(sentence, list) and len(sentence) == len(english[table][name])
            else:
                good = isinstance(sentence, str)
            if not good:
                raise InputError(f"{where}: {table}.{name} must be like the one in en.toml")
            if table == "said" or name == "months":
                continue
            wanted = placeholders(english[table][name])
            try:
                found = placeholders(sentence)
            except ValueError as error:
                raise InputError(f"{where}: {table}.{name}: {error}; mind the braces") from error
            if found != wanted:
                raise InputError(
                    f"{where}: {table}.{name} needs the braces {sorted(wanted)} and has "
                    f"{sorted(found)}"
                )


def look_up(record: Any, at: str) -> Any:
    """The value at a path like ``evidence/0/per_ft2/mean``.

    Raises
    ------
    KeyError, IndexError
        Nothing there.
    """
    for part in at.split("/"):
        record = record[int(part)] if isinstance(record, list) else record[part]
    return record


def format_value(value: Any, kind: str, words: Words, borders: Sequence[float] = ()) -> str:
    """A number of the record as text, everywhere the same way.

    ``kind``: density (8.4, 23; beside ``borders`` never rounded onto or across one), share (counted
    percent), chance (a probability in percent, never 0 or 100), change (with its sign), whole,
    amount (three digits), one (one decimal), plain (as short as it goes), date (from
    year-month-day), hash (its first signs),
    text; and as people can set a machine (`tillercount.stand.setting`): rate, dry, liquid, load,
    cost.
    """
    if kind == "text":
        return words.said.get(str(value), str(value))
    if kind == "hash":
        return str(value)[:12]
    if kind == "date":
        year, month, day = str(value).split("-")
        return words["language.date"].format(
            day=int(day), month=words.months[int(month) - 1], year=year
        )
    if kind in ("share", "chance"):
        # counted shares may be nothing or all; a probability is neither
        side = beyond(value) if kind == "chance" or 0 < value < 1 else 0
        if side < 0:
            return words["language.percent_under"].format(n="1")
        if side > 0:
            return words["language.percent_over"].format(n="99")
        return words["language.percent"].format(n=f"{100 * value:.0f}")
    ways: dict[str, Callable[[float], str]] = {
        "density": lambda v: number_text(v, borders),
        "change": lambda v: ("+" if v > 0 else "−" if v < 0 else "") + number_text(abs(v)),
        "spot": lambda v: f"{v:.0f}" if abs(v - round(v)) < 1e-6 else number_text(v),
        "whole": "{:,.0f}".format,
        "amount": _three_digits,
        "rate": lambda v: f"{math.floor(v + 0.5):,d}",
        "dry": lambda v: ends_text([set_dry(v)]),
        "liquid": lambda v: ends_text([set_liquid(v)]),
        "load": lambda v: ends_text([load(v)]),
        "cost": lambda v: f"{set_cost(v):,.2f}",
        "one": "{:,.1f}".format,
        "plain": "{:,.6g}".format,
    }
    text = ways[kind](value)
    swap = {".": words["language.decimal"], ",": words["language.thousands"]}
    return "".join(swap.get(sign, sign) for sign in text)


def _three_digits(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


class Speaker:
    """Says things about one record in one language and one system of units."""

    def __init__(self, record: Mapping[str, Any], words: Words) -> None:
        self.record, self.words = record, words
        self.metric = record["units"] == "metric"
        self.per = "per_m2" if self.metric else "per_ft2"

    def at(self, path: str, kind: str = "text") -> Shown:
        """The value at a path of the record."""
        value = look_up(self.record, path)
        if kind == "text" and self.metric and value not in self.words.said:
            value = self.record["in_metric"].get(value, value)
        text = format_value(value, kind, self.words, self._borders(path))
        return Shown(text, path, kind)

    def _borders(self, path: str) -> list[float]:
        """The rule's borders beside a field's figure, in the unit of the path.

        The means as counted (``densities/…``) are the same figures, where a rule judges them. The
        ends of an interval are rounded as everywhere: they are judged by no line.
        """
        parts = path.split("/")
        if parts[-1] in ("low", "high"):
            return []
        per = {"per_ft2", "per_m2"}.intersection(parts)
        if parts[0] not in ("evidence", "densities") or len(per) != 1:
            return []
        one = self.record[parts[0]][int(parts[1])]
        if parts[0] == "densities":
            judged = self.record["evidence"]
            one = next((e for e in judged if e["what"] == one["what"]), {"bands": []})
        bands = one["bands"]
        return [band["to"][min(per)] for band in bands if band["to"] is not None]

    def record_value(self, path: str) -> Any:
        """The bare value at a path, for drawing it."""
        return look_up(self.record, path)

    def say(self, key: str, **values: Shown | Line | str) -> Line:
        """A sentence with its values; a name without a value is a mistake in the program."""
        pieces: list[Shown | str] = []
        for literal, name, _, _ in string.Formatter().parse(self.words[key]):
            if literal:
                pieces.append(literal)
            if name is not None:
                value = values[name]
                pieces.extend(value if isinstance(value, tuple) else (value,))
        return tuple(pieces)

    def ends(self, path: str, kind: str = "density") -> Line:
        """A range in the record, [low, high]: "40 to 50", one number, or "none"."""
        if look_up(self.record, path)[1] == 0:
            return self.say("nitrogen.zero")
        first, last = self.at(f"{path}/0", kind), self.at(f"{path}/1", kind)
        if first.text == last.text:
            return (first,)
        if first.text == "0":
            return self.say("nitrogen.up_to", high=last)
        return self.say("nitrogen.two", low=first, high=last)

    def joined(self, lines: Sequence[Line], key: str) -> Line:
        """Several with a separator of the language file between them."""
        out: list[Shown | str] = []
        for number, line in enumerate(lines):
            if number:
                out.append(self.words[key])
            out.extend(line)
        return tuple(out)
