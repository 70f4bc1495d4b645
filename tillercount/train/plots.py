"""Plots of an evaluation: counts, errors and coverage against truth and density."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.train.figures import Row, thirds
from tillercount.train.recalibrate import by_checks

__all__ = ["draw"]

_LEVELS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
_COLOURS = {"plants": "#2f6b3a", "shoots": "#8a5a1c"}


def draw(rows: Mapping[str, Sequence[Row]], counter: Counter, folder: Path) -> list[str]:
    """One picture per set of photos; returns the file names. None without matplotlib."""
    try:
        import matplotlib
    except ModuleNotFoundError:
        print("no plots: matplotlib isn't installed")
        return []
    matplotlib.use("Agg")
    from matplotlib.figure import Figure

    names = []
    for title, values in rows.items():
        counted = [r for r in values if r.count is not None]
        if len(counted) < 3:
            continue
        figure = Figure(figsize=(13, 7), layout="constrained")
        axes = figure.subplots(2, 4)
        for k, what in enumerate(("plants", "shoots")):
            table = np.array([(r.true[k], r.count[k], r.low[k], r.high[k]) for r in counted])  # type: ignore[index]
            density = table[:, 0] / np.array([r.area_ft2 for r in counted])
            _against(axes[k][0], table, what)
            _errors(axes[k][1], table, density, what)
            _coverage(axes[k][2], table, density, what)
            _reliability(axes[k][3], counted, counter, k, what)
        figure.suptitle(f"{title}: {len(counted)} photos")
        name = f"{title.replace(',', '').replace(' ', '_')}.png"
        figure.savefig(folder / name, dpi=110)
        names.append(name)
    return names


def _against(axes: Any, table: Any, what: str) -> None:
    true, count, low, high = table.T
    arms = np.abs(np.stack([count - low, high - count]))
    axes.errorbar(true, count, arms, fmt="o", ms=3, lw=0.6, alpha=0.6, color=_COLOURS[what])
    end = max(float(table[:, :2].max()), 1.0) * 1.05
    axes.plot([0, end], [0, end], color="black", lw=0.8)
    axes.set(xlabel=f"true {what}", ylabel="counted, 90 % interval", xlim=(0, end), ylim=(0, None))


def _errors(axes: Any, table: Any, density: Any, what: str) -> None:
    relative = (table[:, 1] - table[:, 0]) / np.maximum(table[:, 0], 1)
    axes.plot(density, 100 * relative, "o", ms=3, alpha=0.6, color=_COLOURS[what])
    axes.axhline(0, color="black", lw=0.8)
    axes.set(xlabel=f"true {what} per ft²", ylabel="error, %", ylim=(-100, 100))


def _coverage(axes: Any, table: Any, density: Any, what: str) -> None:
    hit = (table[:, 2] <= table[:, 0]) & (table[:, 0] <= table[:, 3])
    share = [float(hit[part].mean()) for part in thirds(density)]
    axes.bar(("thin", "middle", "thick"), share, color=_COLOURS[what])
    axes.axhline(0.9, color="black", lw=0.8)
    axes.set(ylabel="share of intervals that hold", xlabel=f"third of {what} per ft²", ylim=(0, 1))


def _reliability(axes: Any, rows: Sequence[Row], counter: Counter, k: int, what: str) -> None:
    """Levels asked for against levels found."""
    found, asked = [], []
    for level in _LEVELS:
        hits = []
        try:
            for row in rows:
                assert row.count is not None
                assert row.variance is not None
                low, high = counter.interval(
                    what, row.count[k], row.variance[k], novelty=row.novelty, level=level,
                    widen=by_checks(row.flags),
                )
                hits.append(low <= row.true[k] <= high)
        except InputError:
            continue
        asked.append(level)
        found.append(float(np.mean(hits)))
    axes.plot(asked, found, "o-", ms=4, color=_COLOURS[what])
    axes.plot([0.4, 1], [0.4, 1], color="black", lw=0.8)
    axes.set(xlabel="level asked for", ylabel="level found", xlim=(0.45, 1), ylim=(0.2, 1))
