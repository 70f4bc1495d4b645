"""The map of the page to take along, with its scale, north and legend."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from tillercount.plan.ground import Metres
from tillercount.plan.visit import VisitPlan
from tillercount.typesize import SMALLEST
from tillercount.units import MM_PER_FT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["apart", "draw_map", "round_length"]

INK, GREY = "black", "0.45"
_M_PER_FT = MM_PER_FT / 1000
_STEPS = (1, 2, 5, 10, 20)
_LEAST_MARK_IN = {1: 0.16, 2: 0.19, 3: 0.23}
"""Across a mark, by the digits of its number, which then fits into it at the smallest type."""


def draw_map(axes: Any, plan: VisitPlan, width_in: float, height_in: float, metric: bool) -> int:
    """Draw field, zones, what is left out, walk and spots to scale, north up.

    Returns
    -------
    int
        Every how many spots one has its number: 1, or more where they lie too close for all.
    """
    west, south, east, north = plan.field.shape.bounds
    strip = 0.55  # inches below the field for the scale bar
    per_in = max((east - west) / (width_in - 0.8), (north - south) / (height_in - strip - 0.15))
    middle = (west + east) / 2
    bottom = south - strip * per_in
    axes.set_xlim(middle - width_in / 2 * per_in, middle + width_in / 2 * per_in)
    axes.set_ylim(bottom, bottom + height_in * per_in)
    axes.set_aspect("equal")

    kept_off = plan.field.shape.difference(plan.room.shape)
    _fill(axes, kept_off, facecolor="0.92", edgecolor="none", zorder=1)
    import shapely
    from shapely import Polygon

    for part in shapely.get_parts(plan.field.shape):
        for ring in part.interiors:
            _fill(
                axes, Polygon(ring), facecolor="white", edgecolor=GREY, hatch="///",
                linewidth=0.0, zorder=2,
            )  # fmt: skip
    for area in plan.left_out.areas:
        _fill(
            axes, area.intersection(plan.field.shape), facecolor="white", edgecolor=GREY,
            hatch="xxx", linewidth=0.6, zorder=2,
        )  # fmt: skip
    for line in plan.left_out.lines:
        for part in _lines(line.intersection(plan.field.shape)):
            axes.plot(*part.T, color=GREY, linewidth=0.7, linestyle=(0, (1, 1.6)), zorder=2)
    for zone in plan.zones:
        _fill(
            axes, zone.shape, facecolor="none", edgecolor=INK, linewidth=0.9,
            linestyle=(0, (7, 3, 1.5, 3)), zorder=3,
        )  # fmt: skip
    _fill(axes, plan.field.shape, facecolor="none", edgecolor=INK, linewidth=2.4, zorder=4)
    _walk(axes, plan, per_in)
    true = np.array([(spot.x_m, spot.y_m) for spot in plan.spots])
    step, sizes_in, shown = _marks(axes, plan, true, per_in)
    moved = np.hypot(*(shown - true).T) > 0.02 * per_in
    for spot, (x, y), off, size_in in zip(plan.spots, shown, moved, sizes_in, strict=True):
        if off and _numbered(spot.number, step):
            # A dot where the spot is, a thread to its number.
            axes.plot([spot.x_m, x], [spot.y_m, y], color=INK, linewidth=0.6, zorder=6)
            axes.plot(spot.x_m, spot.y_m, marker="o", markersize=2.6, color=INK, zorder=6)
        text = str(spot.number) if _numbered(spot.number, step) else ""
        _mark(axes, x, y, spot.by_hand, size_in * per_in, text, size_in)
    _zone_names(axes, plan, per_in)
    left = middle - width_in / 2 * per_in
    _scale_bar(axes, left + 0.05 * per_in, bottom, per_in, width_in, metric)
    _legend(axes, left + width_in * per_in, bottom, per_in, plan)
    _north(axes, left + (width_in - 0.22) * per_in, bottom + (height_in - 0.75) * per_in, per_in)
    return step


def _marks(
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
        named = [_numbered(spot.number, step) for spot in plan.spots]
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


def _numbered(number: int, step: int) -> bool:
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


def _fill(axes: Any, shape: BaseGeometry, **look: Any) -> None:
    """An area with its holes."""
    import shapely
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon":
            continue
        rings = [part.exterior, *part.interiors]
        path = Path.make_compound_path(*(Path(np.asarray(r.coords)[:, :2]) for r in rings))
        axes.add_patch(PathPatch(path, joinstyle="round", **look))


def _lines(shape: BaseGeometry) -> list[Metres]:
    import shapely

    parts = shapely.get_parts(shape)
    return [shapely.get_coordinates(p) for p in parts if p.geom_type == "LineString"]


def _walk(axes: Any, plan: VisitPlan, per_in: float) -> None:
    """The way as a thin line with a small arrowhead in the middle of each leg."""
    stops = [(spot.x_m, spot.y_m) for spot in plan.spots]
    if plan.start is not None:
        gate = plan.field.ground.to_m(np.array([plan.start]))[0]
        stops = [(gate[0], gate[1]), *stops, (gate[0], gate[1])]
        axes.plot(*gate, marker="^", markersize=9, color=INK, zorder=6, clip_on=False)
    way = np.array(stops)
    axes.plot(*way.T, color=INK, linewidth=0.8, zorder=5)
    for one, other in itertools.pairwise(way):
        leg = other - one
        length = math.hypot(*leg)
        if length < 0.55 * per_in:
            continue
        along = leg / length * per_in
        across = np.array([-along[1], along[0]])
        tip = (one + other) / 2 + 0.05 * along
        head = np.array(
            [tip, tip - 0.11 * along + 0.045 * across, tip - 0.11 * along - 0.045 * across]
        )
        axes.fill(*head.T, color=INK, linewidth=0, zorder=5)


def _mark(
    axes: Any, x: float, y: float, by_hand: bool, size: float, text: str, size_in: float = 0.25
) -> None:
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


def _zone_names(axes: Any, plan: VisitPlan, per_in: float) -> None:
    """Each zone's name where it is clear of spots and of the walk."""
    import shapely

    way = shapely.LineString([(s.x_m, s.y_m) for s in plan.spots]) if len(plan.spots) > 1 else None
    rng = np.random.default_rng(0)  # only for where a word stands on the page
    for zone in plan.zones:
        west, south, east, north = zone.shape.bounds
        tries = rng.uniform((west, south), (east, north), (400, 2))
        points = shapely.points(tries)
        room = np.where(
            shapely.contains_xy(zone.shape, tries[:, 0], tries[:, 1]),
            shapely.distance(points, zone.shape.boundary),
            -1.0,
        )
        spots = shapely.multipoints([(s.x_m, s.y_m) for s in plan.spots])
        room = np.minimum(room, shapely.distance(points, spots))
        for area in plan.left_out.areas:
            room = np.minimum(room, shapely.distance(points, area))
        if way is not None:
            room = np.minimum(room, shapely.distance(points, way))
        x, y = tries[int(room.argmax())]
        axes.text(
            x, y, zone.name[:24], size=9, style="italic", ha="center", va="center", zorder=6,
            color=INK, parse_math=False,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.8},
        )  # fmt: skip


def round_length(longest: float) -> float:
    """The longest of 1, 2, 5, 10, 20, 50 ... that isn't longer than this."""
    power = 10.0 ** math.floor(math.log10(longest))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= longest * (1 + 1e-9))


def _scale_bar(
    axes: Any, x: float, bottom: float, per_in: float, width_in: float, metric: bool
) -> None:
    """Four blocks, filled and empty by turns; feet below, metres above on request."""
    from matplotlib.patches import Rectangle

    ft = round_length(0.34 * width_in * per_in / _M_PER_FT)
    y, thick = bottom + 0.24 * per_in, 0.06 * per_in
    block = ft * _M_PER_FT / 4
    for number in range(4):
        face = INK if number % 2 == 0 else "white"
        axes.add_patch(
            Rectangle((x + number * block, y), block, thick, facecolor=face, edgecolor=INK,
                      linewidth=0.7, zorder=6)
        )  # fmt: skip
    for number, word in ((0, "0"), (2, f"{ft / 2:,.10g}"), (4, f"{ft:,.10g} ft")):
        axes.text(
            x + number * block, y - 0.04 * per_in, word, size=8, ha="left" if number == 0 else
            "center", va="top", color=INK,
        )  # fmt: skip
    if metric:
        m = round_length(4 * block)
        axes.plot([x, x + m], [y + 0.12 * per_in] * 2, color=INK, linewidth=1.4)
        axes.text(x + m, y + 0.12 * per_in, f"  {m:g} m", size=8, ha="left", va="center", color=INK)


def _legend(axes: Any, right: float, bottom: float, per_in: float, plan: VisitPlan) -> None:
    y, size = bottom + 0.2 * per_in, 0.15 * per_in
    at = right - 2.95 * per_in
    _mark(axes, at, y, False, size, "")
    axes.text(at + 0.13 * per_in, y, "photo", size=8, va="center", color=INK)
    at += 0.68 * per_in
    _mark(axes, at, y, True, size, "")
    axes.text(at + 0.15 * per_in, y, "photo, and count by hand", size=8, va="center", color=INK)
    if plan.start is not None:
        at += 1.75 * per_in
        axes.plot(at, y, marker="^", markersize=7, color=INK)
        axes.text(at + 0.12 * per_in, y, "start", size=8, va="center", color=INK)


def _north(axes: Any, x: float, y: float, per_in: float) -> None:
    """A needle, one half filled."""
    tall, half = 0.46 * per_in, 0.085 * per_in
    tip, foot = (x, y + tall), (x, y + 0.1 * per_in)
    axes.fill(*zip(tip, (x - half, y), foot, strict=True), facecolor=INK, edgecolor=INK,
              linewidth=0.7, zorder=6)  # fmt: skip
    axes.fill(*zip(tip, (x + half, y), foot, strict=True), facecolor="white", edgecolor=INK,
              linewidth=0.7, zorder=6)  # fmt: skip
    axes.text(x, y + tall + 0.04 * per_in, "N", size=10, weight="bold", ha="center", va="bottom",
              color=INK, zorder=6)  # fmt: skip
