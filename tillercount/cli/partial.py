"""Counts kept as they come, so that a run that was interrupted goes on where it stopped.

None is ever written over: what was made with something else (another area, say) is moved aside, to
``NAME.partial.old1`` and so on, and taken up again by a run like the one that made it.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from tillercount.cli.files import write_text
from tillercount.inplace import sync_folder

__all__ = ["Aside", "PartialCounts", "forget_partial", "partial_path"]

SCHEMA = "tillercount.partial-counts/1"


@dataclass(frozen=True)
class Aside:
    """A file that was moved out of the way: where it is now, what made it, how many counts."""

    path: Path
    area: str
    counts: int


def partial_path(target: Path) -> Path:
    """Where the counts for a file lie until it is written."""
    return target.with_name(f"{target.name}.partial")


def forget_partial(target: Path | None, photos: Sequence[Path]) -> int:
    """Remove what was kept for a file, now that it is written.

    Returns
    -------
    How many counts of other photos there are: an interrupted run of another command left them, and
    they stay for it.
    """
    if target is None:
        return 0
    path = partial_path(target)
    head, entries, _ = _parsed(path)
    if not _is_ours(head):
        return 0
    written = {photo.as_posix() for photo in photos}
    others = [entry for entry in entries if entry["photo"] not in written]
    if others:
        write_text(path, "".join(_line(one) for one in (head, *others)))
    else:
        path.unlink(missing_ok=True)
    return len(others)


def _line(value: Mapping[str, Any]) -> str:
    return json.dumps(value, allow_nan=False) + "\n"


class PartialCounts:
    """A file of JSON lines: what the counts were made with, then one line per photo.

    Parameters
    ----------
    path : Path
    made_with : mapping
        Everything a count depends on besides the photo (model, area, corners, version). Counts
        made with anything else are not taken up again, but moved aside.

    Attributes
    ----------
    moved : Aside or None
        What lay in the way and was moved aside.
    found_again : Path or None
        Where counts made with the same had been moved to; they are in place again.
    """

    def __init__(self, path: Path, made_with: Mapping[str, Any]) -> None:
        self.path = path
        self._head = json.loads(json.dumps({"schema": SCHEMA, **made_with}))
        self._known: dict[tuple[str, str], dict[str, Any]] = {}
        self.moved: Aside | None = None
        self.found_again: Path | None = None
        self._make_room()
        self._read()
        self._file: IO[str] | None = None

    def __len__(self) -> int:
        return len(self._known)

    def get(self, photo: Path, sha256: str) -> dict[str, Any] | None:
        """The count of a photo of this name with these bytes, if there is one."""
        record = self._known.get((photo.as_posix(), sha256))
        return dict(record) if record is not None else None

    def add(self, photo: Path, sha256: str, record: Mapping[str, Any]) -> None:
        """Keep a count; on the disk before this returns."""
        if self._file is None:
            # "x" and "a" write over nothing, come what may.
            new = not self.path.exists()
            self._file = self.path.open("x" if new else "a", encoding="utf-8")
            if new:
                self._write(self._head)
                sync_folder(self.path.parent)
        self._write({"photo": photo.as_posix(), "sha256": sha256, "record": record})

    def close(self) -> None:
        """Close the file; the counts stay in it until `forget_partial`."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def _write(self, line: Mapping[str, Any]) -> None:
        assert self._file is not None
        self._file.write(_line(line))
        self._file.flush()
        os.fsync(self._file.fileno())

    def _make_room(self) -> None:
        """Move aside what was made with something else; take up what was moved aside before."""
        head, entries, _ = _parsed(self.path)
        if self.path.exists() and head != self._head:
            if _is_ours(head) and not entries:
                self.path.unlink()
            else:
                aside = self._next_aside()
                self.path.rename(aside)
                area = str(head.get("area") or "") if _is_ours(head) else ""
                self.moved = Aside(aside, area, len(entries))
        if not self.path.exists():
            for aside in self._asides():
                if _parsed(aside)[0] == self._head:
                    aside.rename(self.path)
                    self.found_again = aside
                    break

    def _asides(self) -> list[Path]:
        """Files moved aside before, in order."""
        numbered = re.compile(rf"{re.escape(self.path.name)}\.old(\d+)")
        found = {
            int(match[1]): entry
            for entry in self.path.parent.iterdir()
            if (match := numbered.fullmatch(entry.name))
        }
        return [found[number] for number in sorted(found)]

    def _next_aside(self) -> Path:
        last = max((int(one.name.rpartition(".old")[2]) for one in self._asides()), default=0)
        return self.path.with_name(f"{self.path.name}.old{last + 1}")

    def _read(self) -> None:
        _, entries, whole = _parsed(self.path)
        for entry in entries:
            self._known[(entry["photo"], str(entry.get("sha256")))] = entry["record"]
        if whole is not None:
            # Take the torn line out, or the next one would be glued to it.
            write_text(self.path, whole)


def _is_ours(head: Any) -> bool:
    return isinstance(head, dict) and head.get("schema") == SCHEMA


def _parsed(path: Path) -> tuple[Any, list[dict[str, Any]], str | None]:
    """Head and entries of a file, and its whole lines where one was cut short by a crash."""
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return None, [], None
    parsed = []
    for line in lines[:-1]:
        try:
            parsed.append(json.loads(line))
        except ValueError:
            if not parsed:
                return None, [], None  # no head: whatever it is, it isn't read
    if not _is_ours(parsed[0] if parsed else None):
        return None, [], None
    entries = [
        entry
        for entry in parsed[1:]
        if isinstance(entry, dict)
        and isinstance(entry.get("record"), dict)
        and isinstance(entry.get("photo"), str)
    ]
    torn = bool(lines[-1]) or len(parsed) < len(lines) - 1
    return parsed[0], entries, "".join(map(_line, parsed)) if torn else None
