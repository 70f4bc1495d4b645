"""Freed memory is kept, where the C library can be told to."""

from __future__ import annotations

import ctypes
import platform
import subprocess
import sys

import pytest

from tillercount import allocation

_PROGRAM = """
import resource, sys
import numpy as np
from tillercount.allocation import keep_freed_memory

if sys.argv[1] == "kept":
    assert keep_freed_memory()
np.ones(4_000_000)
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(10):
    np.ones(4_000_000)
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="a setting of the GNU C library")
def test_large_arrays_are_not_cleared_anew() -> None:
    def faults(how: str) -> int:
        done = subprocess.run(
            [sys.executable, "-c", _PROGRAM, how], capture_output=True, text=True, check=True
        )
        return int(done.stdout)

    assert faults("kept") < 0.1 * faults("given back")


def test_another_c_library_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(platform, "libc_ver", lambda: ("", ""))
    monkeypatch.setattr(ctypes, "CDLL", lambda name: pytest.fail("asked"))
    assert not allocation.keep_freed_memory()
