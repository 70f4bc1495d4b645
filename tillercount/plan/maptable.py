"""The list of spots on the page to take along, with room to write."""

from __future__ import annotations

from typing import Any

from tillercount.plan.visit import Spot, VisitPlan
from tillercount.typesize import SMALLEST

__all__ = ["draw_table"]

INK, GREY = "black", "0.45"


def draw_table(
    axes: Any, plan: VisitPlan, columns: int, rows: int, width_in: float, row_in: float
) -> None:
    """Spots in walking order, with room to write beside each; only numbers if there are many."""
    axes.set_xlim(0, width_in)
    axes.set_ylim(rows * row_in, 0)
    gap = 0.2
    wide = (width_in - gap * (columns - 1)) / columns
    names, places = _cells(columns, zoned=bool(plan.zones))
    for column in range(columns):
        x0 = column * (wide + gap)
        some = plan.spots[column * (rows - 1) : (column + 1) * (rows - 1)]
        if not some:
            break
        for name, place in zip(names, places, strict=True):
            axes.text(x0 + place, row_in * 0.72, name, size=SMALLEST, color=INK)
        axes.plot([x0, x0 + wide], [row_in] * 2, color=INK, linewidth=1.0)
        for number, spot in enumerate(some, start=1):
            # in a low row the number sits on its line, clear of the one above
            base = (number + (0.7 if row_in > 0.18 else 0.84)) * row_in
            for name, place in zip(names, places, strict=True):
                _cell(axes, name, x0 + place, base, spot, row_in)
            y = (number + 1) * row_in
            axes.plot([x0, x0 + wide], [y, y], color=GREY, linewidth=0.4)


def _cells(columns: int, *, zoned: bool) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """What stands in a row, and how many inches from its left.

    ``photo``: room for its number or time, by which photos without a position find their spot.
    """
    if columns == 1 and zoned:
        return ("spot", "lat", "lon", "zone", "hand", "photo", "plants", "shoots", "remark"), (
            0.0, 0.45, 1.25, 2.1, 3.3, 3.75, 4.45, 5.1, 5.75,
        )  # fmt: skip
    if columns == 1:
        return ("spot", "lat", "lon", "hand", "photo", "plants", "shoots", "remark"), (
            0.0, 0.5, 1.45, 2.45, 2.95, 3.75, 4.5, 5.25,
        )  # fmt: skip
    if columns == 2:
        return ("spot", "lat", "lon", "hand", "plants", "shoots"), (
            0.0, 0.4, 1.1, 1.85, 2.25, 2.8,
        )  # fmt: skip
    if columns == 4:
        return ("spot", "hand", "count"), (0.0, 0.4, 0.8)
    return ("spot", "hand"), (0.0, 0.4)


def _cell(axes: Any, name: str, x: float, base: float, spot: Spot, row_in: float) -> None:
    size = 8.0 if row_in > 0.18 else SMALLEST
    words = {
        "spot": str(spot.number),
        "lat": f"{spot.lat:.5f}",
        "lon": f"{spot.lon:.5f}",
        "zone": spot.zone[:17],
    }
    if name == "hand" and spot.by_hand:
        from matplotlib.patches import Rectangle

        side = 0.11 * min(1.0, row_in / 0.2)
        axes.add_patch(
            Rectangle((x + 0.05, base - side), side, side, facecolor="none", edgecolor=INK,
                      linewidth=1.6)
        )  # fmt: skip
    elif name in words:
        weight = "bold" if name == "spot" and spot.by_hand else "normal"
        axes.text(x, base, words[name], size=size, weight=weight, color=INK, parse_math=False)
