"""How far a long piece of work has come."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

__all__ = ["Progress"]


class Progress:
    """A bar on the error stream; silent where that isn't a terminal, or for one thing alone."""

    def __init__(self, total: int, doing: str = "counting") -> None:
        self._bar: Any = None
        if total > 1 and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import (
                BarColumn,
                MofNCompleteColumn,
                TextColumn,
                TimeRemainingColumn,
            )
            from rich.progress import Progress as Bar

            self._bar = Bar(
                TextColumn(doing),
                BarColumn(),
                MofNCompleteColumn(),
                TimeRemainingColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._task = self._bar.add_task(doing, total=total)

    def __enter__(self) -> Callable[[], None]:
        if self._bar is not None:
            self._bar.start()
        return self._advance

    def __exit__(self, *exc: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def _advance(self) -> None:
        if self._bar is not None:
            self._bar.advance(self._task)
