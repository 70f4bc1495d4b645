"""One run at a time on one file: two that count into it at once would undo each other's work."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from tillercount.errors import InputError
from tillercount.inplace import real_place

__all__ = ["held"]

if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


_TAKEN = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)


@contextlib.contextmanager
def held(*targets: Path | None) -> Iterator[None]:
    """Keep other runs of the program from writing to these files meanwhile.

    A file named ``.NAME.lock`` beside each target is locked by the operating system, which lets go
    of it when the process ends in whatever way: one left by a crash is no hindrance.

    Raises
    ------
    InputError
        Another run holds one of them.
    """
    with contextlib.ExitStack() as stack:
        for place in sorted({real_place(target) for target in targets if target is not None}):
            stack.enter_context(_one(place))
        yield


@contextlib.contextmanager
def _one(place: Path) -> Iterator[None]:
    lock = place.with_name(f".{place.name}.lock")
    handle = _opened(lock, place)
    try:
        yield
    finally:
        if sys.platform == "win32":  # an open file can't be removed there
            os.close(handle)
            with contextlib.suppress(OSError):
                lock.unlink(missing_ok=True)
        else:
            with contextlib.suppress(OSError):
                lock.unlink(missing_ok=True)
            os.close(handle)


def _opened(lock: Path, place: Path) -> int:
    """The lock's file, locked."""
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            _lock(handle)
        except OSError as error:
            if error.errno in _TAKEN:
                os.close(handle)
                raise InputError(
                    f"another run is writing to {place}; wait until it has ended, or name another "
                    "file"
                ) from None
            return handle  # a file system without locks: go on without
        try:
            if os.path.samestat(os.fstat(handle), os.stat(lock)):
                return handle
        except FileNotFoundError:
            pass
        os.close(handle)  # the run before removed it between opening and locking
