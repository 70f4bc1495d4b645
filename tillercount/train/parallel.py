"""The same work on many photos, in several processes."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

__all__ = ["Progress", "each", "printed"]

Progress = Callable[[int, int], None]
Item = TypeVar("Item")
Result = TypeVar("Result")


def printed(what: str) -> Progress:
    """Progress printed every 25 items and at the end, with the seconds since now."""
    started = time.monotonic()

    def say(done: int, of: int) -> None:
        if done == of or done % 25 == 0:
            print(f"{what}: {done} of {of}, {time.monotonic() - started:.0f} s", flush=True)

    return say


def each(
    work: Callable[[Item], Result], items: Sequence[Item], workers: int, progress: Progress
) -> list[Result]:
    """``work`` of every item, in their order.

    With ``workers`` above one, ``work`` must be importable (a function of a module, or a
    `functools.partial` of one) and runs in fresh processes, one thread each; interrupting stops
    them all.
    """
    done: list[Result] = []
    if workers <= 1:
        for item in items:
            done.append(work(item))
            progress(len(done), len(items))
        return done
    context = multiprocessing.get_context("spawn")
    kept = os.environ.get("OMP_NUM_THREADS")
    os.environ["OMP_NUM_THREADS"] = "1"  # as many processes as cores: one thread each
    try:
        with ProcessPoolExecutor(workers, mp_context=context) as pool:
            try:
                for result in pool.map(work, items, chunksize=1):
                    done.append(result)
                    progress(len(done), len(items))
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    finally:
        if kept is None:
            del os.environ["OMP_NUM_THREADS"]
        else:
            os.environ["OMP_NUM_THREADS"] = kept
    return done
