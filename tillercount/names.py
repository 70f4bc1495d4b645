"""Names of farms, fields and spots: when two of them are the same, and a long list of them."""

from __future__ import annotations

import functools
import os
import re
import shlex
from collections.abc import Iterable
from pathlib import Path

from tillercount.errors import InputError
from tillercount.photofiles import SUFFIXES

__all__ = [
    "MOST_NAMED", "and_more", "first_few", "in_command", "key_of", "person_key", "says_spot",
    "spot_key", "spot_name", "spot_text", "spots_once",
]  # fmt: skip

_WINDOWS = os.name == "nt"
MOST_NAMED = 6
"""Names that are worth reading one by one; more are counted."""


def person_key(name: str) -> str:
    """A person's name as it is compared: case and spaces don't matter; "" for nobody."""
    return " ".join(name.split()).casefold()


def key_of(name: str) -> str:
    """A name as it is compared: case, spaces and leading zeros don't matter.

    Raises
    ------
    InputError
        An empty name.
    """
    key = " ".join(name.split()).casefold()
    if not key:
        raise InputError("a name is empty; give the farm, field, visit or spot a name")
    return (key.lstrip("0") or "0") if key.isascii() and key.isdigit() else key


def in_command(name: str) -> str:
    """A name or path as it is typed in a command: bare, or in the quotes that it needs.

    A POSIX shell takes a backslash away, and a ``~`` in front for somebody's folder. Windows, whose
    paths are full of backslashes, knows no single quotes.
    """
    if re.fullmatch(r"(?![~=])[\w./:@%+=,~-]+", name.replace("\\", "/") if _WINDOWS else name):
        return name
    return f'"{name}"' if _WINDOWS or not set(name) & set('\\"$`!') else shlex.quote(name)


@functools.lru_cache(maxsize=65536)
def spot_key(name: str) -> str:
    """A spot's name as it is compared: ``spot_07``, ``Spot 7``, ``07`` and ``7`` are one."""
    key = key_of(name)
    found = re.fullmatch(r"spot[ _-]*([0-9]+)", key)
    return key_of(found[1]) if found else key


def spot_name(name: str) -> str:
    """A spot's name as it is shown; one called by its photo is the photo's spot."""
    shown = " ".join(name.split())
    return Path(shown).stem if Path(shown).suffix.lower() in SUFFIXES else shown


def says_spot(name: object) -> bool:
    """Whether a spot's own name says that it is one: ``spot_08``, ``Spot 8``."""
    return re.match(r"spot(?![a-z])", str(name), re.IGNORECASE) is not None


def spot_text(name: object) -> str:
    """A spot, or a list of them, in a sentence: ``spot 8``, but ``spot_08``."""
    return str(name) if says_spot(name) else f"spot {name}"


def spots_once(names: Iterable[str]) -> list[str]:
    """Each spot once, as it is written first."""
    once: dict[str, str] = {}
    for name in names:
        once.setdefault(spot_key(name), name)
    return list(once.values())


def first_few(
    names: Iterable[object],
    most: int = MOST_NAMED,
    *,
    of: int | None = None,
    between: str = ", ",
    all_by: str = "",
) -> str:
    """The first names of a list, and how many more there are: ``a, b and 3 more``.

    ``of``: how many there are in all, where not all of them are at hand. ``all_by``: the command
    that lists them all, where there is one; named only where the list is cut.
    """
    have = [str(name) for name in names]
    more = (len(have) if of is None else of) - len(have[:most])
    if more <= 0:
        return between.join(have[:most])
    # a part with commas of its own is set off
    set_off = " " if between == ", " else f"{between.rstrip()} "
    return f"{between.join(have[:most])}{set_off}{and_more(more, all_by)}"


def and_more(number: int, all_by: str = "") -> str:
    """How many more of a list there are than were named, and the command that lists them all."""
    return f"and {number} more" + (f" (all: {all_by})" if all_by else "")
