"""Marks of spots on the map: how large, where they have room, and which have their number."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tillercount.plan.ground import Metres
from tillercount.plan.visit import VisitPlan
from tillercount.typesize import SMALLEST

__all__ = ["apart", "draw_mark", "numbered", "place_marks"]

INK = "black"
_STEPS = (1, 2, 5, 10, 20)
_LEAST_MARK_IN = {1: 0.16, 2: 0.19, 3: 0.23}
"""Across a mark, by the digits of its number, which then fits into it at the smallest type."""


def place_marks(
    axes: Any, plan: VisitPlan, true: Metres, per_in: float
) -> tuple[int, Metres, Metres]:
    """Every how many spots one has its number, how large each mark is (inches), and where it stands
    (metres).

    Marks are as large as can be read at arm's length, smaller where they would fill the field. A
    number needs a mark that holds it at the smallest type: where not all have room for that, the
    walk leads from one number to the next.
    """
    many = len(plan.spots)
    room_in = 0.55 * math.sqrt(plan.field.area_m2 / per_in**2 / many)
    least = _LEAST_MARK_IN[len(str(many))]
    for step in _STEPS:
        named = [numbered(spot.number, step) for spot in plan.spots]
        large = min(0.25, max(least, room_in)) if step == 1 else least
        sizes_in = np.where(named, large, max(0.05, min(0.8 * room_in, large)))
        wide = (sizes_in[:, None] + sizes_in) / 2 * per_in
        shown = apart(true, 1.1 * wide)
        if _clear(axes, shown, wide, step):
            break
    return step, sizes_in, shown


def _clear(axes: Any, shown: Metres, wide: Metres, step: int) -> bool:
    """Whether the marks are apart, those with a number at least, and none runs off the map.

    ``wide`` is how far apart each two must be.
    """
    gaps = np.hypot(*(shown[:, None] - shown).transpose(2, 0, 1)) + np.diag(np.diag(wide))
    half = np.diag(wide)[:, None] / 2
    low, high = np.array([axes.get_xlim(), axes.get_ylim()]).T
    inside = bool(((shown - half >= low) & (shown + half <= high)).all())
    return inside and bool((gaps >= (0.9 if step == 1 else 0.6) * wide).all())


def numbered(number: int, step: int) -> bool:
    """Whether a spot has its number on the map, where every ``step``-th has."""
    return number == 1 or number % step == 0


def apart(where: Metres, least: float | Metres) -> Metres:
    """Places for numbers, moved as little as needed until none is nearer to another than this.

    ``least`` is one distance, or one for each pair.
    """
    out = where.copy()
    least = np.broadcast_to(least, (len(where), len(where)))
    own = np.diag(least)
    for _ in range(200):
        step = out[:, None] - out[None]
        distance = np.hypot(step[..., 0], step[..., 1])
        np.fill_diagonal(distance, np.inf)
        if (distance >= least * 0.999).all():
            break
        # Two at the very same place part along x, the earlier one to the west.
        same = distance == 0
        step[np.triu(same)] = (-1.0, 0.0)
        step[np.tril(same)] = (1.0, 0.0)
        near = np.where(same, 1.0, distance)
        push = np.clip(least - distance, 0.0, None) / 2 / near
        out = out + (step * push[..., None]).sum(axis=1)
        # No number so far from its spot that it would be taken for another's.
        off = out - where
        far = np.maximum(np.hypot(*off.T) / (2 * own), 1.0)
        out = where + off / far[:, None]
    return out


def draw_mark(
    axes: Any, x: float, y: float, by_hand: bool, size: float, text: str, size_in: float = 0.25
) -> None:
    """A square for a spot to be counted by hand too, a circle for another, ``size`` metres wide."""
    from matplotlib.patches import Circle, Rectangle

    look: dict[str, Any] = {"facecolor": "white", "edgecolor": INK, "zorder": 7}
    if by_hand:
        half = size / 2
        axes.add_patch(
            Rectangle((x - half, y - half), size, size, linewidth=1.0 + 4 * size_in, **look)
        )
    else:
        axes.add_patch(Circle((x, y), size / 2, linewidth=0.9, **look))
    if text:
        points = max(SMALLEST, size_in * (32.0 if len(text) < 3 else 26.0))
        weight = "bold" if by_hand else "normal"
        axes.text(
            x, y, text, size=points, weight=weight, ha="center", va="center_baseline", zorder=8,
            color=INK,
        )  # fmt: skip
