"""Freed memory is kept, where the C library can be told to."""

from __future__ import annotations

import ctypes
import platform
import subprocess
import sys
from types import SimpleNamespace

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


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="a setting of the GNU C library")
@pytest.mark.parametrize(("most", "made"), [(2**25, [-3, -3, -1]), (0, [-3, -3])])
def test_an_older_one_takes_less_or_is_left_as_it_was(
    monkeypatch: pytest.MonkeyPatch, most: int, made: list[int]
) -> None:
    asked: list[int] = []

    def mallopt(what: int, value: int) -> int:
        asked.append(what)
        return int(what != -3 or value <= most)

    monkeypatch.setattr(ctypes, "CDLL", lambda name: SimpleNamespace(mallopt=mallopt))
    assert allocation.keep_freed_memory() == (-1 in made)
    assert asked == made
