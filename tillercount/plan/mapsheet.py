"""The page to take along: map, walking order, and room to write; made for black and white.

Everything is told by shape, line and hatching, nothing by colour: a circle is a spot for a photo,
a square one to be counted by hand too.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tillercount.errors import InputError
from tillercount.field.samplesize import MOST_SPOTS
from tillercount.plan.design import DESIGNS
from tillercount.plan.visit import VisitPlan
from tillercount.plan.words import acres, feet, spots_text
from tillercount.typesize import SMALLEST

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["PAPERS", "check_sheet", "draw_sheet", "sheet_bytes"]

PAPERS = {"letter": (8.5, 11.0), "a4": (8.268, 11.693)}
"""Width and height in inches."""

INK, GREY = "black", "0.45"
_MARGIN_IN = 0.55
_TITLE_IN = 0.95
_FOOT_IN = 0.74
_ROW_IN = 0.24
_LEAST_ROW_IN = 0.125
_COLUMNS = ((16, 1), (60, 2), (100, 4), (MOST_SPOTS, 6))
"""Up to so many spots the list has so many columns."""
_SOME_NUMBERED = {
    step: f"On the map {which} spot has its number, as not all have room; the walk leads from one "
    "to the next."
    for step, which in ((2, "every other"), *((n, f"every {n}th") for n in (5, 10, 20)))
}
_MAP_SHARE = 0.60
"""Most of the page's height that the map may take."""


def check_sheet(path: Path, paper: str) -> None:
    """Make sure before the work that such a page can be made.

    Raises
    ------
    InputError
        Another ending than .png or .pdf; an unknown paper.
    """
    if path.suffix.lower() not in {".png", ".pdf"}:
        raise InputError(f"{path.name}: the map can be a .png or a .pdf; end its name so")
    if paper.lower() not in PAPERS:
        raise InputError(f"paper {paper!r} isn't known; use {' or '.join(PAPERS)}")


def sheet_bytes(
    plan: VisitPlan, path: Path, *, paper: str = "letter", metric: bool = False
) -> bytes:
    """The page as PNG (200 dots per inch) or PDF, by the ending of ``path``.

    The same plan gives the same bytes: no date is written into the file.

    Raises
    ------
    InputError
        Another ending; an unknown paper.
    """
    check_sheet(path, paper)
    ending = path.suffix.lower()
    about: dict[str, Any] = {"Software": None} if ending == ".png" else {"CreationDate": None}
    out = io.BytesIO()
    with warnings.catch_warnings():
        # A name in a script that the fonts lack is drawn as boxes; the rest of the page is good.
        warnings.filterwarnings("ignore", message="Glyph")
        figure = draw_sheet(plan, paper=paper, metric=metric)
        figure.savefig(out, format=ending[1:], dpi=200, metadata=about)
    return out.getvalue()


def draw_sheet(plan: VisitPlan, *, paper: str = "letter", metric: bool = False) -> Figure:
    """The page as a figure, on one of `PAPERS`."""
    from matplotlib.figure import Figure

    from tillercount.plan.mapparts import draw_map
    from tillercount.plan.maptable import draw_table

    width, height = PAPERS[paper.lower()]
    figure = Figure(figsize=(width, height), facecolor="white")
    _title(figure, plan, width, height, metric)

    columns = next(columns for most, columns in _COLUMNS if len(plan.spots) <= most)
    rows = -(-len(plan.spots) // columns) + 1
    body = height - 2 * _MARGIN_IN - _TITLE_IN - _FOOT_IN
    notes_in = 0.8
    row_in = max(_LEAST_ROW_IN, min(_ROW_IN, (body * (1 - 0.42) - notes_in) / rows))
    table_in = row_in * rows
    map_in = min(body - table_in - notes_in, body * _MAP_SHARE, _needed_height(plan, width))
    top = height - _MARGIN_IN - _TITLE_IN
    inner = width - 2 * _MARGIN_IN

    def axes(bottom_in: float, height_in: float) -> Any:
        made = figure.add_axes(
            (_MARGIN_IN / width, bottom_in / height, inner / width, height_in / height)
        )
        made.set_axis_off()
        return made

    step = draw_map(axes(top - map_in, map_in), plan, inner, map_in, metric)
    left = top - map_in - 0.12
    draw_table(axes(left - table_in, table_in), plan, columns, rows, inner, row_in)
    bottom = _MARGIN_IN + _FOOT_IN
    _notes_field(figure, width, height, left - table_in - 0.12, bottom)
    _foot(figure, plan, width, height, metric, step)
    return figure


def _needed_height(plan: VisitPlan, width: float) -> float:
    """A wide, low field needs no high map."""
    west, south, east, north = plan.field.shape.bounds
    return (width - 2 * _MARGIN_IN) * (north - south) / (east - west) + 0.9


def _title(figure: Figure, plan: VisitPlan, width: float, height: float, metric: bool) -> None:
    x, right = _MARGIN_IN / width, 1 - _MARGIN_IN / width
    y = 1 - _MARGIN_IN / height
    name = plan.field.name
    # Drawn as it stands: a dollar sign in a farm's name starts no formula.
    title = figure.text(
        x, y, name[:46], size=21 if len(name) < 30 else 15, weight="bold", va="top", color=INK,
        parse_math=False,
    )  # fmt: skip
    title.set_gid("title")
    hand = len(plan.by_hand)
    figure.text(
        x,
        y - 0.44 / height,
        f"{spots_text(len(plan.spots))}, {hand} by hand too   ·   "
        f"{acres(plan.field.area_m2, metric=metric)}   ·   "
        f"{feet(plan.walk_m, metric=metric)} on foot",
        size=10.5 if not metric else 9.0,
        va="top",
        color=INK,
    )
    for number, word in enumerate(("date", "by", "stage")):
        _blank(figure, word, right - 1.75 / width, y - (0.12 + 0.24 * number) / height, width)
    _rule(figure, width, (height - _MARGIN_IN - _TITLE_IN + 0.16) / height, 2.2)


def _blank(figure: Figure, word: str, x: float, y: float, width: float) -> None:
    from matplotlib.lines import Line2D

    figure.text(x + 0.32 / width, y, word, size=8, ha="right", va="baseline", color=INK)
    ends = [x + 0.38 / width, x + 1.75 / width]
    figure.add_artist(Line2D(ends, [y, y], color=GREY, linewidth=0.6))


def _rule(figure: Figure, width: float, y: float, weight: float) -> None:
    from matplotlib.lines import Line2D

    ends = [_MARGIN_IN / width, 1 - _MARGIN_IN / width]
    figure.add_artist(Line2D(ends, [y, y], color=INK, linewidth=weight))


def _notes_field(figure: Figure, width: float, height: float, top: float, bottom: float) -> None:
    """What every count needs to know later, and faint lines to write on, as many as there is room
    for."""
    from matplotlib.lines import Line2D

    for number, word in enumerate(("frame, inside", "drill rows apart")):
        x = 1 - (_MARGIN_IN + 4.15 - 2.4 * number) / width
        _blank(figure, word, x, (top - 0.12) / height, width)

    figure.text(
        _MARGIN_IN / width, (top - 0.02) / height, "Notes: weeds, heaving, drowned corners",
        size=8, va="top", color=INK,
    )  # fmt: skip
    y = top - 0.42
    while y > bottom + 0.1:
        ends = [_MARGIN_IN / width, 1 - _MARGIN_IN / width]
        figure.add_artist(Line2D(ends, [y / height] * 2, color=GREY, linewidth=0.5))
        y -= 0.28


def _foot(
    figure: Figure, plan: VisitPlan, width: float, height: float, metric: bool, step: int
) -> None:
    _rule(figure, width, (_MARGIN_IN + _FOOT_IN - 0.12) / height, 0.8)
    lines = [
        "Lay the frame where the spot is, not where it looks good. At a square: dig, break apart, "
        "write your count down, then look at the photo's.",
        f"Drawn {DESIGNS[plan.design]}, seed {plan.seed}; at least "
        f"{feet(plan.room.keep_off_m, metric=metric)} from the edge. Positions: WGS 84.",
        *([_SOME_NUMBERED[step]] if step > 1 else []),
        "Sprayed lately? The product's label says when the field may be entered again.",
    ]
    if not plan.is_random_sample:
        lines.append(
            "NOT A RANDOM SAMPLE: intervals from these spots describe the walk, not the field."
        )
    figure.text(
        _MARGIN_IN / width, (_MARGIN_IN + _FOOT_IN - 0.2) / height, "\n".join(lines),
        size=SMALLEST, va="top", linespacing=1.5, color=INK,
    )  # fmt: skip
