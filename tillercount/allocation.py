"""Memory that is freed and asked for again, photo after photo."""

from __future__ import annotations

import ctypes
import platform

__all__ = ["keep_freed_memory"]

_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3
_NEVER = 2**31 - 1


def keep_freed_memory() -> bool:
    """Have the GNU C library keep freed memory for the next request; whether it could be told.

    It gives large blocks back to the system as soon as they are free. A photo is worked on in
    hundreds of large arrays, one after the other, so the system has to clear the same pages over
    and over: 77,500 page faults for a photo of 12 megapixels, and a quarter of a second with them.
    This is a setting of the whole process, for programs to make, not for a library: commands do.
    With other C libraries nothing is done. Settings: mallopt(3).
    """
    if platform.libc_ver()[0] != "glibc":
        return False
    mallopt = ctypes.CDLL(None).mallopt
    return all([mallopt(_M_MMAP_THRESHOLD, _NEVER) == 1, mallopt(_M_TRIM_THRESHOLD, _NEVER) == 1])
