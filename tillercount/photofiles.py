"""Which files are photos: those named, and those that lie in folders named."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from pathlib import Path

from tillercount.errors import InputError

__all__ = ["SUFFIXES", "list_photos"]

SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif")
_MOST_FOLDERS = 3
"""Named where the folder given has none of the photos."""


def list_photos(paths: Iterable[str | Path]) -> list[Path]:
    """Photos named, and those lying in folders named, each once, in order.

    Folders are searched one level deep, by file ending, sorted by name, hidden files left out.
    A file that is named is taken whatever its ending.

    Raises
    ------
    InputError
        A path that doesn't exist, or a folder without photos.
    """
    found: dict[Path, Path] = {}
    for path in map(Path, paths):
        if path.is_dir():
            inside = sorted(filter(_is_photo, path.iterdir()))
            if not inside:
                raise InputError(_no_photos_in(path))
        elif path.exists():
            inside = [path]
        else:
            raise InputError(f"{path} doesn't exist; check the name and the folder")
        for entry in inside:
            found.setdefault(entry.resolve(), entry)
    return list(found.values())


def _is_photo(entry: Path) -> bool:
    return (
        entry.suffix.lower() in SUFFIXES and not entry.name.startswith(".") and entry.is_file()
    )


def _no_photos_in(folder: Path) -> str:
    """What is wrong with a folder without photos; names folders in it that have some."""
    below = []
    for entry in sorted(folder.iterdir()):
        if entry.name.startswith(".") or not entry.is_dir():
            continue
        with contextlib.suppress(OSError):  # one that may not be looked into is passed over
            if any(map(_is_photo, entry.iterdir())):
                below.append(entry)
    not_searched = "(folders below it are not searched)"
    if not below:
        return (
            f"folder {folder} holds no photos; name a folder with {', '.join(SUFFIXES)} files in "
            f"it {not_searched}"
        )
    which = "give" if len(below) == 1 else "give one of"
    named = ", ".join(map(str, below[:_MOST_FOLDERS]))
    return f"folder {folder} holds no photos itself {not_searched}; {which}: {named}"
