"""Daily highest and lowest temperature from a CSV file, US or metric."""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tillercount.errors import InputError
from tillercount.units import number

__all__ = ["Day", "Weather", "read_weather"]

Scale = Literal["F", "C"]

_HOTTEST_F, _COLDEST_F = 135.0, -80.0
"""Beyond these no weather station has read: limits against slips, of our own."""

_LONGEST_FILL = 3
"""Days without a reading that are filled from the days around them: a convention of our own."""

_NAMES = {
    "date": ("date", "day", "datum", "observationdate", "time"),
    "max": ("max", "tmax", "maximum", "maxtemp", "high", "maxtemperature", "temperaturemax", "hi"),
    "min": ("min", "tmin", "minimum", "mintemp", "low", "mintemperature", "temperaturemin", "lo"),
}


@dataclass(frozen=True)
class Day:
    """One day's highest and lowest air temperature, °F; ``filled`` where it wasn't read."""

    date: dt.date
    max_f: float
    min_f: float
    filled: bool = False


@dataclass(frozen=True)
class Weather:
    """Days in order of date, at most one for each date."""

    days: tuple[Day, ...]
    source: str
    scale: Scale
    notes: tuple[str, ...] = ()

    @property
    def last(self) -> dt.date:
        """The last day on file."""
        return self.days[-1].date

    def between(self, first: dt.date, last: dt.date) -> tuple[Day, ...]:
        """Days from ``first`` to ``last``, both included.

        Raises
        ------
        InputError
            A day in between is missing.
        """
        found = tuple(day for day in self.days if first <= day.date <= last)
        wanted = (last - first).days + 1
        if len(found) != wanted:
            have = {day.date for day in found}
            missing = next(
                first + dt.timedelta(n)
                for n in range(wanted)
                if first + dt.timedelta(n) not in have
            )
            raise InputError(
                f"{self.source}: {wanted - len(found)} of the days from {first} to {last} are "
                f"missing, the first of them {missing}; add them"
            )
        return found

    def covers(self, first: dt.date, last: dt.date) -> bool:
        """Whether every day from ``first`` to ``last`` is there."""
        return sum(first <= day.date <= last for day in self.days) == (last - first).days + 1


def read_weather(path: str | Path, scale: Scale | None = None) -> Weather:
    """Read a CSV with a header: date, daily maximum, daily minimum; other columns are passed over.

    Parameters
    ----------
    path : str or Path
        Columns separated by comma, semicolon or tab. Dates like 2026-03-01, or 3/1/2026 with the
        month first. Header names like ``date,tmax_f,tmin_f`` or ``Date;Max (°C);Min (°C)``.
    scale : {"F", "C"}, optional
        Where the header doesn't say it; never guessed from the numbers.

    Raises
    ------
    InputError
        With the file, the row and the column that is wrong.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not a text file in UTF-8; save it as UTF-8 CSV") from error
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 2:
        raise InputError(f"{path}: no rows; it needs a header like date,tmax_f,tmin_f and days")
    split = max(",;\t", key=lines[0].count)
    rows = list(csv.reader(lines, delimiter=split))
    columns, said = _columns(path.name, rows[0])
    if scale is not None and said is not None and scale != said:
        raise InputError(
            f"{path.name}: the header says °{said}, but °{scale} was asked for; leave one out"
        )
    unit = scale or said
    if unit is None:
        raise InputError(
            f"{path.name}: the header doesn't say °F or °C; name the columns like tmax_f,tmin_f "
            "or tmax_c,tmin_c"
        )
    days, notes = _sorted(list(_days(path.name, rows[1:], columns, unit)), path.name)
    return Weather(tuple(days), path.name, unit, tuple(notes))


def _columns(name: str, header: Sequence[str]) -> tuple[dict[str, int], Scale | None]:
    found: dict[str, int] = {}
    scales: set[Scale] = set()
    for place, title in enumerate(header):
        bare, scale = _bare(title)
        for what, names in _NAMES.items():
            if bare in names:
                if what in found:
                    raise InputError(f"{name}: two columns for {what}; keep one")
                found[what] = place
                if what != "date" and scale is not None:
                    scales.add(scale)
    for what in _NAMES:
        if what not in found:
            raise InputError(
                f"{name}: no column for {what} in the header ({', '.join(header)}); name the "
                "columns like date,tmax_f,tmin_f"
            )
    if len(scales) > 1:
        raise InputError(f"{name}: the header has both °F and °C; give one scale")
    return found, next(iter(scales), None)


def _bare(title: str) -> tuple[str, Scale | None]:
    """A column's name without its scale, and the scale."""
    text = title.strip().lower().replace("°", "")
    scale: Scale | None = None
    match = re.search(r"[\s_(\[]+(?:deg(?:rees)?\s*)?(f|c|fahrenheit|celsius)[)\]]?$", text)
    if match:
        scale = "F" if match[1][0] == "f" else "C"
        text = text[: match.start()]
    return re.sub(r"[\s_.\-]", "", text), scale


def _days(
    name: str, rows: Sequence[Sequence[str]], columns: dict[str, int], scale: Scale
) -> Iterator[Day]:
    for place, row in enumerate(rows, start=2):
        where = f"{name}, row {place}"
        cells = {what: row[at].strip() if at < len(row) else "" for what, at in columns.items()}
        date = _date(cells["date"], where)
        if not cells["max"] or not cells["min"]:
            continue  # filled, or missed, later on
        high, low = (number(cells[what], what=f"{where}, {what}") for what in ("max", "min"))
        if scale == "C":
            high, low = (value * 1.8 + 32.0 for value in (high, low))
        if low > high:
            raise InputError(
                f"{where}: the lowest temperature is above the highest; check the row's columns"
            )
        if not (low >= _COLDEST_F and high <= _HOTTEST_F):
            raise InputError(
                f"{where}: {cells['max']} and {cells['min']} °{scale} can't be air temperatures; "
                "check them, and the scale"
            )
        yield Day(date, high, low)


def _date(text: str, where: str) -> dt.date:
    iso = re.match(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?$", text)
    us = re.match(r"(\d{1,2})/(\d{1,2})/(\d{4})$", text)
    try:
        if iso:
            return dt.date(int(iso[1]), int(iso[2]), int(iso[3]))
        if us:
            return dt.date(int(us[3]), int(us[1]), int(us[2]))
    except ValueError:
        pass
    raise InputError(
        f"{where}: date {text!r} can't be read; write it like 2026-03-01, or 3/1/2026 with the "
        "month first"
    )


def _sorted(days: list[Day], name: str) -> tuple[list[Day], list[str]]:
    """Days in order, short gaps filled, and what was done."""
    if not days:
        raise InputError(f"{name}: no day has both temperatures; check the columns")
    days.sort(key=lambda day: day.date)
    for one, other in itertools.pairwise(days):
        if one.date == other.date:
            raise InputError(f"{name}: two rows for {one.date}; keep one")
    out = [days[0]]
    filled = 0
    for day in days[1:]:
        before = out[-1]
        gap = (day.date - before.date).days - 1
        if 0 < gap <= _LONGEST_FILL:
            for step in range(1, gap + 1):
                share = step / (gap + 1)
                out.append(
                    Day(
                        before.date + dt.timedelta(step),
                        before.max_f + share * (day.max_f - before.max_f),
                        before.min_f + share * (day.min_f - before.min_f),
                        filled=True,
                    )
                )
            filled += gap
        out.append(day)
    notes = [f"{name}: {filled} days without a reading were filled from those around"]
    return out, notes if filled else []
