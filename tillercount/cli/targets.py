"""Where results may be written: over nothing that was read, nor over anything of another kind."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from tillercount.cli.holds import holds_own, left_alone
from tillercount.errors import InputError
from tillercount.inplace import real_place, write_protected

__all__ = ["check_targets"]

_PICTURES = "pictures"
_MEANT_FOR = {
    ".json": "--json",
    ".csv": "--csv",
    ".tsv": "--csv",
    ".html": "--html",
    ".htm": "--html",
    ".pdf": "--pdf",
    **dict.fromkeys((".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic"), _PICTURES),
}
_BESIDE_A_SEASON = ("-wal", "-shm", "-journal")
"""Files that belong to an SQLite file (sqlite.org/tempfiles.html)."""


def check_targets(
    targets: Mapping[str, Path | None],
    sources: Iterable[str | Path | None] = (),
    *,
    own: Mapping[str, str] | None = None,
    pictures: str = "",
) -> None:
    """Make sure before the work that results can be written and that nothing is lost by it.

    Parameters
    ----------
    targets : mapping
        What is to be written, by its option (``--json``); what it is called otherwise (``FILE``,
        ``--map``) is taken for the kind that its ending says.
    sources : iterable
        Everything the command reads: photos, folders of them, files of every option, a season.
        What is no file here (a server's URL, corners typed, the name of a rule set) is passed over.
    own : mapping, optional
        By option, what tells the command's own files from others; see `holds_own`. Tables
        (``--csv``) without such a mark are left to their reader.
    pictures : str
        The command's option for a folder of pictures, as it is typed.

    Raises
    ------
    InputError
        A file named as if it were of another kind; a folder that doesn't exist or can't be written
        to; a target that is a folder, is read by the command, is named twice, is write-protected,
        or is there already and holds other data.
    """
    read = list(_read(sources))
    taken: dict[str, str] = {}
    for option, path in targets.items():
        if path is None:
            continue
        _check_source(path, read)
        typed = {one: f"{one} {path}" for one in targets}
        _check_ending(option, path, typed | {_PICTURES: pictures})
        place = real_place(path)
        for name in (str(place), f"{place}.partial"):
            # File systems of phones and laptops often don't tell upper from lower case.
            other = taken.setdefault(name.casefold(), option)
            if other != option:
                raise InputError(
                    f"{path} is named for {other} and {option}, two results; name two files"
                )
        _check_place(path, place)
        if place.is_file():
            mark = (own or {}).get(option, "")
            if not holds_own(place, _kind(option, path), mark):
                raise InputError(left_alone(path))


def _check_source(path: Path, read: Iterable[Path]) -> None:
    from tillercount.photofiles import SUFFIXES

    if not any(_same(path, one) for one in read):
        return
    if path.suffix.lower() in SUFFIXES:
        raise InputError(f"{path} is one of the photos; name another file or folder to write")
    raise InputError(f"{path} is read by this command; name another file to write")


def _check_ending(option: str, path: Path, others: Mapping[str, str]) -> None:
    """Each file's ending must go with what will be written into it.

    ``others`` are the command's options as they would be typed for this file, "" for none.
    """
    meant = _MEANT_FOR.get(path.suffix.lower(), option)
    if option not in _MEANT_FOR.values() or meant == option:
        return
    better = others.get(meant, "")
    instead = f"write {better}, or " if better else ""
    raise InputError(
        f"{option} {path}: the ending {path.suffix} is that of another kind of file; {instead}"
        f"name a file that ends in .{option.removeprefix('--')}"
    )


def _check_place(path: Path, place: Path) -> None:
    if place.is_dir():
        raise InputError(f"{path} is a folder; name a file to write")
    if place.exists() and not place.is_file():
        raise InputError(f"{path} is a device or a pipe; name a file to write")
    if not place.parent.is_dir():
        raise InputError(f"folder {place.parent if path.is_symlink() else path.parent} doesn't "
                         "exist; make it, or name another file")  # fmt: skip
    if not os.access(place.parent, os.W_OK):
        raise InputError(f"folder {path.parent} can't be written to; name another one")
    if write_protected(place):
        raise InputError(f"{path} is write-protected; name another file, or allow writing to it")


def _kind(option: str, path: Path) -> str:
    kinds = ("html", "pdf", "json", "csv", "png", "gpx", "geojson")
    named = option.removeprefix("--")
    return named if named in kinds else path.suffix.lower().lstrip(".")


def _read(sources: Iterable[str | Path | None]) -> Iterator[Path]:
    """Every file behind the sources."""
    from tillercount.photofiles import SUFFIXES

    for source in sources:
        text = _file_of(source)
        if text and os.path.isdir(text):
            # Folders are read for photos; what else lies there is told by what it holds.
            for entry in Path(text).iterdir():
                if entry.suffix.lower() in SUFFIXES and entry.is_file():
                    yield entry
        elif text and os.path.exists(text):  # which takes text of any length, unlike Path.exists
            yield Path(text)
            yield from (Path(f"{text}{ending}") for ending in _BESIDE_A_SEASON)


def _file_of(source: str | Path | None) -> str:
    """The path that a source names, "" for a server."""
    text = "" if source is None else str(source)
    scheme, found, rest = text.partition("://")
    if not found or isinstance(source, Path):
        return text
    # sqlite:///relative, sqlite:////absolute
    return rest.removeprefix("/").partition("?")[0] if scheme.startswith("sqlite") else ""


def _same(path: Path, other: Path) -> bool:
    if real_place(path) == real_place(other):
        return True
    try:
        return path.samefile(other)
    except OSError:
        return False
