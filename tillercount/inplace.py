"""A finished file put in its place: whole or not at all, and on the disk.

What stands there already keeps its place and its permissions: a link goes on pointing where it
pointed, and a file that is write-protected is not replaced.
"""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path

from tillercount.errors import InputError

__all__ = ["put_in_place", "real_place", "sync_folder", "write_bytes", "write_protected"]


def real_place(path: str | Path) -> Path:
    """Where a path leads, links followed; it needn't exist."""
    return Path(os.path.realpath(path))


def write_protected(path: Path) -> bool:
    """Whether a file is there and may not be changed.

    An administrator may write to anything; what was marked read-only is left alone all the same.
    """
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    writable = mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    return not writable or not os.access(path, os.W_OK)


def put_in_place(part: Path, path: Path) -> None:
    """Give a finished file its name.

    Parameters
    ----------
    part : Path
        The finished file, in the folder of `real_place` of `path`: moving is then one step.
    path : Path
        A link is followed.

    Raises
    ------
    InputError
        The file that stands there is write-protected.
    """
    place = real_place(path)
    if write_protected(place):
        raise InputError(f"{path} is write-protected; name another file, or allow writing to it")
    with contextlib.suppress(FileNotFoundError):
        before = place.stat()
        part.chmod(stat.S_IMODE(before.st_mode))
        if hasattr(os, "chown"):
            with contextlib.suppress(OSError):  # only an administrator may give files away
                os.chown(part, before.st_uid, before.st_gid)
    os.replace(part, place)
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Put a folder's names on the disk, where the system can (POSIX); else it does so in time."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file in one go: a reader, or an interrupted run, never meets half of it.

    Raises
    ------
    InputError
        The file is there and write-protected.
    """
    place = real_place(path)
    part = place.with_name(f".{place.name}.{os.getpid()}.tmp")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            # Else a power cut could leave the new name with an empty file behind it.
            os.fsync(file.fileno())
        put_in_place(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
