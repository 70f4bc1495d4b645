"""Counts kept as they come, so that a run that was interrupted goes on where it stopped."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

__all__ = ["PartialCounts", "file_sha256", "partial_path"]

SCHEMA = "tillercount.partial-counts/1"


def partial_path(target: Path) -> Path:
    """Where the counts for a file lie until it is written."""
    return target.with_name(f"{target.name}.partial")


def file_sha256(path: Path) -> str:
    """SHA-256 of a file's bytes, "" if it can't be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


class PartialCounts:
    """A file of JSON lines: what the counts were made with, then one line per photo.

    Parameters
    ----------
    path : Path
    made_with : mapping
        Everything a count depends on besides the photo (model, area, corners, version). Counts
        made with anything else are not taken up again.
    """

    def __init__(self, path: Path, made_with: Mapping[str, Any]) -> None:
        self.path = path
        self._head = {"schema": SCHEMA, **made_with}
        self._known, self.left_behind = self._read()
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
        self._file.write(json.dumps(line, allow_nan=False) + "\n")
        self._file.flush()

    def _read(self) -> tuple[dict[tuple[str, str], dict[str, Any]], bool]:
        """Counts to go on with, and whether there were some made with something else."""
        try:
            lines = self.path.read_text(encoding="utf-8").split("\n")
        except (OSError, UnicodeDecodeError):
            return {}, False
        parsed = []
        for line in lines:
            try:
                parsed.append(json.loads(line))
            except ValueError:
                # A line cut short by a crash; the ones before it are whole.
                break
        if not parsed:
            return {}, False
        if parsed[0] != json.loads(json.dumps(self._head)):
            return {}, True
        known = {}
        for entry in parsed[1:]:
            if isinstance(entry, dict) and isinstance(entry.get("record"), dict):
                known[(str(entry.get("photo")), str(entry.get("sha256")))] = entry["record"]
        if known and lines[-1]:
            # Take the torn end off, or the next line would be glued to it.
            self.path.write_text("\n".join(lines[: len(parsed)]) + "\n", encoding="utf-8")
        return known, False
