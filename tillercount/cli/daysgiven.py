"""Days typed without their year: which year is meant, and saying so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.photo import Glance

__all__ = ["clocks_of", "day_of", "days_taken"]


def day_of(text: str, what: str, today: dt.date, near: Collection[dt.date] = ()) -> dt.date:
    """The day typed for the option ``what``; without a year, the one taken is said.

    Raises
    ------
    InputError
        See `tillercount.stand.inputs.date_of`.
    """
    from tillercount.cli.guard import say
    from tillercount.days import day_named, has_year
    from tillercount.stand.inputs import date_of

    day = date_of(text, today, near, what=what)
    if not has_year(text) and day_named(text, today) is not None:
        by = "as the photos say" if day != day_named(text, today) else "the last one"
        say(f"{what} {text!r} is taken for {day}, {by}; if it was another year, give it too")
    return day


def days_taken(sources: Iterable[str | Path]) -> list[dt.date]:
    """Days that the clocks of photos, and of those in folders and counts files, say.

    What can't be read says nothing: whoever reads it for its counts says what is wrong.
    """
    from tillercount.errors import InputError
    from tillercount.field import collect
    from tillercount.photo import day_taken
    from tillercount.photofiles import SUFFIXES, list_photos

    days: set[dt.date] = set()
    for source in map(Path, sources):
        try:
            if source.suffix.lower() == ".json":
                texts = [spot.taken for spot in collect(source).spots if spot.taken]
                days |= {dt.date.fromisoformat(text) for text in texts}
            elif source.is_dir() or source.suffix.lower() in SUFFIXES:
                found = map(day_taken, list_photos([source]))
                days |= {day for day in found if day is not None}
        except (InputError, ValueError, OSError):
            continue
    return sorted(days)


def clocks_of(
    counts: Iterable[Path], photos: Mapping[Path, Glance]
) -> dict[str, tuple[str, str]]:
    """File name and time (ISO 8601) of photos, and of those in counts files, by SHA-256; those
    without a time are left out, and what can't be read as in `days_taken`.

    An entry that names no hash is looked at when it is added, since only its photo can tell it.
    """
    from tillercount.errors import InputError
    from tillercount.store.countsfile import read_entries

    found: dict[str, tuple[str, str]] = {}
    for file in counts:
        try:
            for entry in read_entries(file):
                sha256, time = entry.get("sha256"), entry.get("taken_at")
                if sha256 and time:
                    name = PureWindowsPath(str(entry.get("photo") or "")).name
                    found[str(sha256)] = name, str(time)
        except InputError:
            continue
    for path, seen in photos.items():
        if seen.day is not None:
            found[seen.sha256] = path.name, seen.day.isoformat()
    return found
