"""Files that a command writes: whole or not at all. What may be written: `targets`."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tillercount.inplace import write_bytes

__all__ = ["picture_names", "say_written", "write_bytes", "write_json", "write_text"]


def write_text(path: Path, text: str) -> None:
    """Text as UTF-8, in one go."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, record: Mapping[str, Any]) -> None:
    """JSON that every reader takes: no NaN, no infinity."""
    write_text(path, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def say_written(*paths: Path | None) -> None:
    """The files and folders of pictures that a command has written, one a line, after its result.

    On the screen's own stream: results that programs read are in files, which no target but a
    regular file can be (`targets`).
    """
    import typer

    for path in paths:
        if path is not None:
            typer.echo(f"written: {path}")


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
