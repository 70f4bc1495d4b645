"""What a counts file held before: kept, replaced photo by photo, never lost without a word.

The rule: a count is lost only to a newer count of the same photo. Photos that aren't counted now
stay in the file. A refusal replaces no count. What one file can't hold together (counts by another
model, another photo of the same name) is refused before any work.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from tillercount.cli.countscsv import csv_row, csv_text, read_rows, short_sha256
from tillercount.cli.files import write_json, write_text
from tillercount.cli.holds import left_alone
from tillercount.cli.photolist import named
from tillercount.errors import InputError
from tillercount.fingerprint import file_sha256

__all__ = [
    "CountsFile",
    "Entry",
    "Merged",
    "check_mixing",
    "merged",
    "read_csv",
    "read_json",
    "what_became",
    "write_merged_csv",
    "write_merged_json",
]

_Made = tuple[str, float]
"""Model and interval level."""

_START_ANEW = "name another file, or give --replace to start this one anew"


@dataclasses.dataclass(frozen=True)
class Entry:
    """One photo in a file: what tells it from others, and what is written of it."""

    photo: str
    sha256: str
    counted: bool
    area: str
    written: Any

    def gives_way_to(self, new: Entry) -> bool:
        """Whether a new entry is of the same photo: by its bytes where known, else by its name.

        A refused photo that was taken again under the same name gives way too.
        """
        if self.sha256 and self.sha256 == new.sha256:
            return True
        known = bool(self.counted and self.sha256 and new.sha256)
        return self.photo == new.photo and not known


@dataclasses.dataclass(frozen=True)
class CountsFile:
    """A file as it was before this run; none of it where the file is new or replaced.

    `made_with` holds model (the beginning of its sha256) and interval level, for each entry;
    `sha256` is the file's own, "" for a new one.
    """

    path: Path
    sha256: str
    entries: tuple[Entry, ...] = ()
    made_with: tuple[tuple[str, float], ...] = ()


@dataclasses.dataclass(frozen=True)
class Merged:
    """Entries to write, and what became of the earlier ones.

    `stood` are earlier counts of photos that were refused now; `other_area` are photos whose count
    of another marked area was replaced.
    """

    entries: tuple[Entry, ...]
    kept: int
    stood: tuple[Entry, ...]
    other_area: tuple[Entry, ...]


def record_entry(record: dict[str, Any]) -> Entry:
    """An entry of a counts file."""
    area = record.get("area")
    said = area if isinstance(area, dict) else {}
    return Entry(
        str(record.get("photo") or ""),
        str(record.get("sha256") or ""),
        record.get("status", "counted") != "refused",
        str(said.get("typed") or said.get("text") or ""),
        record,
    )


def row_entry(row: dict[str, str]) -> Entry:
    """An entry of a table."""
    return Entry(row["photo"], row["sha256"], row["status"] != "refused", row["area"], row)


def read_json(path: Path, *, replace: bool) -> CountsFile:
    """A counts file that will be written again.

    Raises
    ------
    InputError
        The file holds something else.
    """
    return _read(path, _json_entries, replace)


def read_csv(path: Path, *, replace: bool) -> CountsFile:
    """A table of counts that will be written again.

    Raises
    ------
    InputError
        The file holds something else.
    """
    return _read(path, _csv_entries, replace)


def _read(
    path: Path, entries_of: Callable[[Path], list[tuple[Entry, _Made]]], replace: bool
) -> CountsFile:
    before = file_sha256(path)
    if not path.is_file() or path.stat().st_size == 0:
        return CountsFile(path, before)
    try:
        pairs = entries_of(path)
    except (InputError, ValueError) as error:
        raise InputError(left_alone(path)) from error
    if replace:
        return CountsFile(path, before)
    return CountsFile(path, before, tuple(e for e, _ in pairs), tuple(m for _, m in pairs))


def _json_entries(path: Path) -> list[tuple[Entry, _Made]]:
    from tillercount.store.countsfile import read_entries, read_head

    head = read_head(path)
    made = (short_sha256(head.model.get("sha256")), head.level)
    return [(record_entry(record), made) for record in read_entries(path)]


def _csv_entries(path: Path) -> list[tuple[Entry, _Made]]:
    return [
        (row_entry(row), (row["model"], float(row["interval_level"] or "nan")))
        for row in read_rows(path)
    ]


def check_mixing(
    file: CountsFile, photos: Sequence[Path], model_sha256: object, level: float
) -> None:
    """Make sure before the work that a file's earlier counts can stand beside the new ones.

    Raises
    ------
    InputError
        Counts by another model or with another interval level, or a count of another photo of the
        same name.
    """
    ours = (short_sha256(model_sha256), level)
    counted = [
        (entry, made)
        for entry, made in zip(file.entries, file.made_with, strict=True)
        if entry.counted
    ]
    others = [entry for entry, made in counted if made != ours]
    if others:
        number = "1 count" if len(others) == 1 else f"{len(others)} counts"
        raise InputError(
            f"{file.path} holds {number} by another model or version, which can't stand beside "
            f"new ones; {_START_ANEW}"
        )
    by_name = {photo.as_posix(): photo for photo in photos}
    for entry, _ in counted:
        photo = by_name.get(entry.photo)
        if photo is None or not entry.sha256:
            continue
        now = file_sha256(photo)
        if now and now != entry.sha256:
            raise InputError(
                f"{file.path} holds the count of another photo (or an older state of it) that was "
                f"called {entry.photo} too; {_START_ANEW}"
            )


def merged(earlier: Sequence[Entry], new: Sequence[Entry]) -> Merged:
    """Earlier entries with the new ones in their places; what is new at the end."""
    out: list[Entry] = []
    stood: list[Entry] = []
    other_area: list[Entry] = []
    placed: set[int] = set()
    kept = 0
    for entry in earlier:
        number = next((i for i, one in enumerate(new) if entry.gives_way_to(one)), None)
        if number is None:
            out.append(entry)
            kept += 1
            continue
        now = new[number]
        if entry.counted and not now.counted:
            out.append(entry)
            stood.append(entry)
        elif number not in placed:
            out.append(now)
            if entry.counted and _canonical(entry.area) != _canonical(now.area):
                other_area.append(entry)
        placed.add(number)
    out += [entry for i, entry in enumerate(new) if i not in placed]
    return Merged(tuple(out), kept, tuple(stood), tuple(other_area))


def _canonical(area: str) -> str:
    from tillercount.area import parse_area

    try:
        return parse_area(area).text
    except InputError:
        return area


def write_merged_json(file: CountsFile, whole: dict[str, Any]) -> Merged:
    """Write a counts file, its earlier entries with it.

    Raises
    ------
    InputError
        The file has changed since it was read.
    """
    result = merged(file.entries, [record_entry(record) for record in whole["spots"]])
    _check_unchanged(file)
    write_json(file.path, whole | {"spots": [entry.written for entry in result.entries]})
    return result


def write_merged_csv(file: CountsFile, whole: dict[str, Any]) -> Merged:
    """Write a table of counts, its earlier rows with it.

    Raises
    ------
    InputError
        The file has changed since it was read.
    """
    made = (whole["model"].get("sha256"), whole["interval_level"])
    rows = [csv_row(record, *made) for record in whole["spots"]]
    result = merged(file.entries, [row_entry(row) for row in rows])
    _check_unchanged(file)
    write_text(file.path, csv_text(entry.written for entry in result.entries))
    return result


def _check_unchanged(file: CountsFile) -> None:
    if file_sha256(file.path) != file.sha256:
        raise InputError(
            f"{file.path} was changed by something else while the photos were counted, so it is "
            "left as it is now; the new counts are kept: give the same command again to put them "
            "into it"
        )


def what_became(file: CountsFile, result: Merged) -> list[str]:
    """Sentences for the screen; none where the file held nothing else."""
    lines = []
    if result.kept:
        photos = "1 photo" if result.kept == 1 else f"{result.kept} photos"
        lines.append(f"{file.path}: {photos} counted before kept")
    if result.other_area:
        photos = named([Path(Path(entry.photo).name) for entry in result.other_area])
        was = ", ".join(dict.fromkeys(entry.area for entry in result.other_area))
        lines.append(f"{file.path}: new counts in place of those with {was}: {photos}")
    for entry in result.stood:
        lines.append(
            f"{file.path}: {Path(entry.photo).name} was refused now; its earlier count "
            f"({entry.area}) stays"
        )
    return lines
