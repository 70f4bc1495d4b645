"""Files that a command writes: whole or not at all, and never over one another."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tillercount.errors import InputError

__all__ = [
    "check_endings",
    "check_targets",
    "picture_names",
    "write_bytes",
    "write_json",
    "write_text",
]

_PICTURES = "--overlay DIR"
_MEANT_FOR = {
    ".json": "--json",
    ".csv": "--csv",
    ".tsv": "--csv",
    **dict.fromkeys((".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic"), _PICTURES),
}


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


def check_endings(json_file: Path | None, csv_file: Path | None) -> None:
    """Make sure that each file's ending goes with what will be written into it.

    Raises
    ------
    InputError
        A file named as if it were of another kind, or one file named twice.
    """
    for option, path in (("--json", json_file), ("--csv", csv_file)):
        if path is None:
            continue
        meant = _MEANT_FOR.get(path.suffix.lower(), option)
        if meant == option:
            continue
        other = meant if meant == _PICTURES else f"{meant} {path}"
        raise InputError(
            f"{option} {path}: the ending {path.suffix} belongs to {meant}; write {other}, or name "
            f"a file that ends in .{option.removeprefix('--')}"
        )
    if json_file is not None and csv_file is not None and json_file.resolve() == csv_file.resolve():
        raise InputError(f"{json_file} is named for --json and --csv; name two files")


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
