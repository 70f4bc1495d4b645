"""The comparison as a picture: each set's classes as a bar, the field's interval across it.

Everything is told by place, letter, number and outline as well as by tone, so that it holds in
grey and on a poor printer. Densities per ft² throughout, so that one axis serves all sets.
"""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Sequence
from typing import Any

from tillercount.errors import InputError
from tillercount.stand.actions import named
from tillercount.stand.comparison import Compared, Comparison
from tillercount.stand.shares import class_percent
from tillercount.units import M2_PER_FT2

__all__ = ["comparison_png"]

PAPER, INK, SOFT, LINE = "#fbfaf6", "#1c211d", "#535b54", "#b9beb4"
TONES = ("#f1eee4", "#dad5c4")
HERE = "#b4bfa4"
INTERVAL = "#173726"

WIDTH_IN, ROW_IN, TOP_IN, GAP_IN, FOOT_IN = 11.0, 0.74, 0.9, 0.85, 0.8
LEFT, RIGHT = 0.335, 0.755
"""Where the bars begin and end, as shares of the width."""

MARGIN = 0.02
EDGE = (MARGIN - LEFT) / (RIGHT - LEFT)
FAR = (1 - MARGIN - LEFT) / (RIGHT - LEFT)
"""The picture's margins as shares of the bars' width."""


def comparison_png(comparison: Comparison, *, dpi: int = 150) -> bytes:
    """PNG of a comparison.

    Raises
    ------
    InputError
        No set fits, so there is nothing to draw; or the drawing library isn't installed.
    """
    panels = [(what, rows) for what in ("plants", "shoots") if (rows := comparison.of(what))]
    if not panels:
        raise InputError("no rule set fits this field, so there is nothing to draw; see the list")
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError:
        raise InputError(
            "pictures need matplotlib, which isn't installed; pip install 'tillercount[plots]'"
        ) from None
    count = sum(len(rows) for _, rows in panels)
    height = TOP_IN + FOOT_IN + count * ROW_IN + (len(panels) - 1) * GAP_IN
    figure = Figure(figsize=(WIDTH_IN, height), facecolor=PAPER)
    FigureCanvasAgg(figure)
    _heading(figure, comparison, height)
    top = height - TOP_IN
    for what, rows in panels:
        tall = len(rows) * ROW_IN
        axes = figure.add_axes((LEFT, (top - tall) / height, RIGHT - LEFT, tall / height))
        _panel(axes, what, rows)
        top -= tall + GAP_IN
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=dpi, facecolor=PAPER)
    return out.getvalue()


def _heading(figure: Any, comparison: Comparison, height: float) -> None:
    level = f"{comparison.field.level:.0%}"
    title = f"{textwrap.shorten(comparison.name, 50)}: " if comparison.name else ""
    figure.text(
        MARGIN,
        1 - 0.30 / height,
        f"{title}one field under {_number_of(comparison.rows)}",
        size=15,
        family="serif",
        weight="bold",
        color=INK,
        va="center",
    )
    stage = f", {comparison.stage.words}" if comparison.stage else ""
    region = f", {comparison.region}" if comparison.region else ""
    figure.text(
        MARGIN,
        1 - 0.60 / height,
        f"{comparison.crop.capitalize()}{stage}{region}. Line and dot: mean of "
        f"{comparison.field.spots} spots and its {level} interval. Letters: classes of each set, "
        "outlined where the field lies.",
        size=8.5,
        color=SOFT,
        va="center",
    )
    figure.text(
        MARGIN,
        0.16 / height,
        "Each publisher speaks for its own region and counts in its own way; they are never "
        "averaged. Not an insurance appraisal; do not destroy a stand before release.",
        size=7.5,
        color=SOFT,
        va="center",
    )


def _number_of(rows: Sequence[Compared]) -> str:
    sets = len({row.rules.name for row in rows})
    return f"{sets} rule set{'s' if sets != 1 else ''}"


def _panel(axes: Any, what: str, rows: Sequence[Compared]) -> None:
    scale = [_to_ft2(row) for row in rows]
    most = max(
        max(row.result.high * k, max(row.result.rule.borders) * k)
        for row, k in zip(rows, scale, strict=True)
    )
    end = most * 1.1
    axes.set_xlim(0, end)
    axes.set_ylim(len(rows), 0)
    axes.set_yticks([])
    axes.set_facecolor(PAPER)
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(SOFT)
    axes.tick_params(axis="x", colors=SOFT, labelsize=8)
    axes.set_xlabel(f"{what} per square foot", size=8.5, color=SOFT)
    for index, (row, factor) in enumerate(zip(rows, scale, strict=True)):
        _bar(axes, row, factor, index + 0.58, end)
        _names(axes, row, index)
        _verdict(axes, row, index, end)
        if index:
            axes.plot(
                [EDGE, FAR], [1 - index / len(rows)] * 2, transform=axes.transAxes,
                color=LINE, lw=0.6, clip_on=False,
            )  # fmt: skip


def _to_ft2(row: Compared) -> float:
    return 1.0 if row.result.rule.unit == "ft2" else M2_PER_FT2


def _bar(axes: Any, row: Compared, factor: float, y: float, end: float) -> None:
    from matplotlib.patches import Rectangle

    half, low = 0.19, 0.0
    here = {band.class_ for band in named(row.result)}
    outlined = []
    last_number = -math.inf
    for index, (class_, border) in enumerate(row.ladder):
        high = end if border is None else border * factor
        tone = HERE if class_ in here else TONES[index % 2]
        axes.add_patch(
            Rectangle((low, y - half), high - low, 2 * half, facecolor=tone, edgecolor=LINE, lw=0.6)
        )
        if class_ in here:
            outlined.append((low, high))
        if high - low > end * 0.012:
            axes.text(
                (low + high) / 2, y - 0.085, _letter(index), size=7.5, color=INK, ha="center",
                va="center", weight="bold" if class_ in here else "normal",
            )  # fmt: skip
        if border is not None:
            lift = 0.13 if high - last_number < end * 0.035 else 0.0
            axes.text(
                high, y - half - 0.03 - lift, f"{high:.3g}", size=7, color=SOFT, ha="center",
                va="bottom",
            )  # fmt: skip
            last_number = high if not lift else last_number
        low = high
    for left, right in outlined:
        axes.add_patch(
            Rectangle((left, y - half), right - left, 2 * half, fill=False, edgecolor=INK, lw=1.5)
        )
    mean, lowest, highest = (v * factor for v in (row.result.mean, row.result.low, row.result.high))
    bar = y + 0.085
    axes.plot([lowest, highest], [bar, bar], color=INTERVAL, lw=2.2, solid_capstyle="butt")
    for x in (lowest, highest):
        axes.plot([x, x], [bar - 0.07, bar + 0.07], color=INTERVAL, lw=1.6)
    axes.plot([mean], [bar], marker="o", ms=5.5, color=INTERVAL, mec=PAPER, mew=0.9, clip_on=False)


def _letter(index: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[index % 26]


def _names(axes: Any, row: Compared, index: int) -> None:
    rules = row.rules
    year = f", {rules.year}" if rules.year else ""
    mark = row.result.rule.mark or rules.mark
    x = EDGE
    _beside(axes, x, index + 0.20, rules.name, size=9, weight="bold", color=INK)
    told = "" if mark == "seen" else f"; {mark}"
    source = f"{rules.region}{year}{told}" + ("; NOT VALIDATED" if row.warning else "")
    _beside(axes, x, index + 0.42, source, size=7.5, color=SOFT)
    key = "  ".join(
        f"{_letter(i)} {row.result.called(class_)}" for i, (class_, _) in enumerate(row.ladder)
    )
    lines = _lines(key, 62, 3)
    _beside(
        axes, x, index + (0.62, 0.68, 0.735)[len(lines) - 1], "\n".join(lines), size=7, color=INK
    )


def _lines(text: str, width: int, most: int) -> list[str]:
    """At most so many lines; what doesn't fit is seen to be left out."""
    return textwrap.wrap(text, width, max_lines=most, placeholder=" …")


def _verdict(axes: Any, row: Compared, index: int, end: float) -> None:
    share = class_percent(row.result)
    lines, size = textwrap.wrap(row.said, 34), 8.5
    if len(lines) > 2:
        lines, size = _lines(row.said, 42, 3), 7.2
    tall = (0.2, 0.3, 0.32)[len(lines) - 1]
    _beside(axes, 1.03, index + tall, "\n".join(lines), size=size, weight="bold", color=INK)
    sure = f"{share} likely" if row.result.clear else f"likelier one {share}"
    below = [f"{sure}; mean {row.result.mean * _to_ft2(row):.3g}", *_lines(row.early_text, 44, 2)]
    down = 0.36 if len(below) == 2 else 0.42
    _beside(axes, 1.03, index + tall + down, "\n".join(below), size=7.2, color=SOFT)


def _beside(axes: Any, x: float, y: float, text: str, **style: Any) -> None:
    """Text at a share of the axes' width and at a row's place."""
    axes.text(
        x, y, text, transform=axes.get_yaxis_transform(), va="center", ha="left", clip_on=False,
        linespacing=1.15, **style,
    )  # fmt: skip
