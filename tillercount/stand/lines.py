"""Line of each key in a rule file, so that a complaint can point at it.

``tomllib`` drops where a value stood. This reads headers and the first line of each ``key =``
itself, and leaves the values to ``tomllib``: a statement ends where it parses.
"""

from __future__ import annotations

import re
import tomllib

__all__ = ["line_of", "line_table"]

Path = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=")


def line_table(text: str) -> dict[Path, int]:
    """Line, from 1, of each table and key in a TOML text that parses.

    A path is made of key names and of positions in lists of tables, from 0: ``("rules", 0,
    "bands", 2, "to")``.
    """
    where: dict[Path, int] = {(): 1}
    counts: dict[Path, int] = {}
    table: Path = ()
    pending: list[str] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if pending:  # inside a value that goes over several lines
            pending.append(line)
            if _complete("\n".join(pending)):
                pending = []
            continue
        header = _HEADER.match(line)
        if header:
            table = _enter(header[2], header[1] == "[[", counts)
            for depth in range(1, len(table) + 1):  # so that ("rules",) has a line as well
                where.setdefault(table[:depth], number)
            continue
        key = _KEY.match(line)
        if key:
            where.setdefault((*table, *_parts(key[1])), number)
            if not _complete(line):
                pending = [line]
    return where


def line_of(path: Path, where: dict[Path, int]) -> int | None:
    """Line of a path, or of the nearest thing around it; None where only the file itself is."""
    for depth in range(len(path), 0, -1):
        if path[:depth] in where:
            return where[path[:depth]]
    return None


def _enter(name: str, many: bool, counts: dict[Path, int]) -> Path:
    parts = _parts(name)
    path: Path = ()
    for depth, part in enumerate(parts):
        path = (*path, part)
        if many and depth == len(parts) - 1:
            counts[path] = counts.get(path, -1) + 1
            # what hangs below starts anew in each table of the list
            for other in [p for p in counts if len(p) > len(path) and p[: len(path)] == path]:
                if other[len(path)] == counts[path]:
                    del counts[other]
        if path in counts:
            path = (*path, counts[path])
    return path


def _parts(name: str) -> Path:
    return tuple(part.strip().strip("\"'") for part in name.split("."))


def _complete(statement: str) -> bool:
    try:
        tomllib.loads(statement)
    except tomllib.TOMLDecodeError:
        return False
    return True
