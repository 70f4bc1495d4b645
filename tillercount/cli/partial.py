"""Counts kept as they come, so that a run that was interrupted goes on where it stopped."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Any

from tillercount.cli.files import write_text

__all__ = ["PartialCounts", "forget_partial", "partial_path"]

SCHEMA = "tillercount.partial-counts/1"


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
        made with anything else are not taken up again.

    Attributes
    ----------
    left_behind : tuple of str
        Photos of which there are counts made with something else; the first count added removes
        them.
    """

    def __init__(self, path: Path, made_with: Mapping[str, Any]) -> None:
        self.path = path
        self._head = {"schema": SCHEMA, **made_with}
        self._known: dict[tuple[str, str], dict[str, Any]] = {}
        self.left_behind: tuple[str, ...] = ()
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
            lines = [self._head] if not self._known else []
            self._file = self.path.open("a" if self._known else "w", encoding="utf-8")
            for line in lines:
                self._write(line)
        self._write({"photo": photo.as_posix(), "sha256": sha256, "record": record})

    def close(self, *, done: bool) -> None:
        """Close the file; remove it once the counts stand in their own."""
        if self._file is not None:
            self._file.close()
            self._file = None
        if done:
            self.path.unlink(missing_ok=True)

    def _write(self, line: Mapping[str, Any]) -> None:
        assert self._file is not None
        self._file.write(_line(line))
        self._file.flush()

    def _read(self) -> None:
        head, entries, whole = _parsed(self.path)
        if head is None:
            return
        if head != json.loads(json.dumps(self._head)):
            self.left_behind = tuple(entry["photo"] for entry in entries)
            return
        for entry in entries:
            self._known[(entry["photo"], str(entry.get("sha256")))] = entry["record"]
        if self._known and whole is not None:
            # Take the torn end off, or the next line would be glued to it.
            write_text(self.path, whole)


def _parsed(path: Path) -> tuple[Any, list[dict[str, Any]], str | None]:
    """Head and entries of a file, and its whole lines where others follow them."""
    try:
        lines = path.read_text(encoding="utf-8").split("\n")
    except (OSError, UnicodeDecodeError):
        return None, [], None
    parsed = []
    for line in lines:
        try:
            parsed.append(json.loads(line))
        except ValueError:
            # A line cut short by a crash; the ones before it are whole.
            break
    if not parsed:
        return None, [], None
    entries = [
        entry
        for entry in parsed[1:]
        if isinstance(entry, dict)
        and isinstance(entry.get("record"), dict)
        and isinstance(entry.get("photo"), str)
    ]
    torn = bool(lines[-1]) or len(parsed) < len(lines) - 1
    return parsed[0], entries, "\n".join(lines[: len(parsed)]) + "\n" if torn else None
