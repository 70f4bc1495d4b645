"""Tables on the screen."""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING, Any

from tillercount.cli.guard import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from tillercount.cli.counting import CountRun

__all__ = ["console", "mean_line", "show_counts"]

_PIPE_WIDTH = 140
"""Columns of output that goes to a file or a pipe, which has no width of its own."""


def console() -> Console:
    """Where tables go."""
    import sys

    from rich.console import Console

    wide = None if sys.stdout.isatty() else _PIPE_WIDTH
    return Console(width=wide, highlight=False, emoji=False, markup=False)


def show_counts(run: CountRun) -> None:
    """Photo, plants and shoots with their intervals, densities, flags; then reasons and means."""
    from rich import box
    from rich.table import Table

    from tillercount.count import INTERVAL_LEVEL

    out = console()
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("photo", overflow="fold")
    for name in ("plants", "shoots", "plants/ft²", "shoots/ft²"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("flags", overflow="fold")
    for record in run.records:
        if record["status"] == "counted":
            cells = [
                _interval(record["plants"]),
                _interval(record["shoots"]),
                f"{record['plants']['count'] / record['area']['ft2']:.1f}",
                f"{record['shoots']['count'] / record['area']['ft2']:.1f}",
            ]
        else:
            cells = ["refused", "", "", ""]
        flags = record.get("flag_codes") or record.get("flags") or ()
        table.add_row(record["photo"], *cells, ", ".join(flags))
    out.print(table)
    for record in run.records:
        if record["status"] == "refused":
            out.print(_reason(record), soft_wrap=True)
    out.print(mean_line(run), soft_wrap=True)
    out.print(f"In brackets: {INTERVAL_LEVEL:.0%} intervals.", soft_wrap=True)


def _interval(interval: dict[str, float]) -> str:
    return f"{interval['count']:.0f} ({interval['low']:.0f}–{interval['high']:.0f})"


def _reason(record: dict[str, Any]) -> str:
    reason = one_line(record.get("reason") or "no reason given")
    name = record["photo"].rsplit("/", 1)[-1]
    # The reader of photos names the file itself.
    reason = reason.removeprefix(f"{name}: ")
    todo = f". What to do: {one_line(record['todo'])}" if record.get("todo") else ""
    return f"{record['photo']} refused: {reason}{todo}"


def mean_line(run: CountRun) -> str:
    """How many photos were counted, and the mean densities over them."""
    counted = [record for record in run.records if record["status"] == "counted"]
    total = len(run.records)
    noun = "photo" if total == 1 else "photos"
    text = f"{total} {noun}: {len(counted)} counted, {run.refused} refused."
    if counted:
        means = {
            what: statistics.fmean(r[what]["count"] / r["area"]["ft2"] for r in counted)
            for what in ("plants", "shoots")
        }
        text += f" Mean: {means['plants']:.1f} plants and {means['shoots']:.1f} shoots per ft²."
    return text
