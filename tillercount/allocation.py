"""Memory that is freed and asked for again, photo after photo."""

from __future__ import annotations

import ctypes
import platform
import sys

__all__ = ["keep_freed_memory"]

_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3
_NEVER = 2**31 - 1
_LARGEST = 4 * 1024 * 1024 * ctypes.sizeof(ctypes.c_long)
"""Bytes, the most that mallopt(3) says M_MMAP_THRESHOLD may be; newer versions take any."""


def keep_freed_memory() -> bool:
    """Have the GNU C library keep freed memory for the next request; whether it could be told.

    It gives large blocks back to the system as soon as they are free. A photo is worked on in
    hundreds of large arrays, one after the other, so the system has to clear the same pages over
    and over: 77,500 page faults for a photo of 12 megapixels, and a quarter of a second with them.
    This is a setting of the whole process, for programs to make, not for a library: commands do.
    The most memory in use stays what it was; it is given back at the end. With other C libraries
    nothing is done. Settings: mallopt(3).
    """
    if sys.platform != "linux" or platform.libc_ver()[0] != "glibc":
        return False
    mallopt = ctypes.CDLL(None).mallopt
    # any setting ends the library's own adjusting, so the second is made only after the first
    large = any(mallopt(_M_MMAP_THRESHOLD, size) == 1 for size in (_NEVER, _LARGEST))
    return large and bool(mallopt(_M_TRIM_THRESHOLD, _NEVER) == 1)
