"""Files that a command writes: whole or not at all, and never over one another."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tillercount.errors import InputError

__all__ = [
    "check_targets",
    "counts_csv",
    "picture_names",
    "write_bytes",
    "write_json",
    "write_text",
]

_CSV_INTERVALS = ("plants", "shoots", "plants_per_ft2", "shoots_per_ft2")
_CSV_COVER = ("crop", "other_plants", "residue", "soil")


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file in one go: a reader, or an interrupted run, never meets half of it."""
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        temporary.write_bytes(data)
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def write_text(path: Path, text: str) -> None:
    """Text as UTF-8, in one go."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, record: Mapping[str, Any]) -> None:
    """JSON that every reader takes: no NaN, no infinity."""
    write_text(path, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def counts_csv(records: Iterable[Mapping[str, Any]]) -> str:
    """One row per photo."""
    header = ["photo", "status", "reason", "area", "area_ft2"]
    for name in _CSV_INTERVALS:
        header += [name, f"{name}_low", f"{name}_high"]
    header += ["tillers_per_plant", *(f"cover_{name}" for name in _CSV_COVER)]
    header += ["taken_at", "lat", "lon", "flags"]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(header)
    for record in records:
        row = [record["photo"], record["status"], record.get("reason")]
        row += [record["area"].get("text"), record["area"].get("ft2")]
        for name in _CSV_INTERVALS:
            interval = record.get(name) or {}
            row += [interval.get(key) for key in ("count", "low", "high")]
        row.append(record.get("tillers_per_plant"))
        row += [(record.get("cover") or {}).get(name) for name in _CSV_COVER]
        row += [record.get(name) for name in ("taken_at", "lat", "lon")]
        row.append("; ".join(record.get("flags") or ()))
        table.writerow(["" if cell is None else cell for cell in row])
    return text.getvalue()


def check_targets(files: Iterable[Path | None], photos: Sequence[Path] = ()) -> None:
    """Make sure before the work that results can be written, and over no photo.

    Raises
    ------
    InputError
        A folder that doesn't exist or can't be written, a target that is a folder or a photo.
    """
    sources = {photo.resolve() for photo in photos}
    for path in files:
        if path is None:
            continue
        if path.resolve() in sources:
            raise InputError(f"{path} is one of the photos; name another file or folder to write")
        if path.is_dir():
            raise InputError(f"{path} is a folder; name a file to write")
        if not path.parent.is_dir():
            raise InputError(f"folder {path.parent} doesn't exist; make it, or name another file")
        if not os.access(path.parent, os.W_OK):
            raise InputError(f"folder {path.parent} can't be written to; name another one")


def picture_names(photos: Sequence[Path], suffix: str) -> dict[Path, str]:
    """A file name for each photo's picture; photos called alike get different ones.

    ``a.jpg`` becomes ``a.png``. Where that is taken the folder is added (``west-a.png``), then the
    photo's ending, then a number.
    """
    taken: set[str] = set()
    names: dict[Path, str] = {}
    for photo in photos:
        folder, ending = photo.resolve().parent.name, photo.suffix.lstrip(".").lower()
        tries = [photo.stem, f"{folder}-{photo.stem}", f"{folder}-{photo.stem}-{ending}"]
        tries += [f"{folder}-{photo.stem}-{number}" for number in range(2, len(photos) + 2)]
        # File systems of phones and laptops often don't tell upper from lower case.
        stem = next(name for name in tries if name.casefold() not in taken)
        taken.add(stem.casefold())
        names[photo] = f"{stem}{suffix}"
    return names
