"""The map of the page to take along, with its scale, north and legend."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from tillercount.plan.ground import Metres
from tillercount.plan.mapmarks import draw_mark, numbered, place_marks
from tillercount.plan.visit import VisitPlan
from tillercount.units import MM_PER_FT

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["draw_map", "round_length"]

INK, GREY = "black", "0.45"
_M_PER_FT = MM_PER_FT / 1000


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
    step, sizes_in, shown = place_marks(axes, plan, true, per_in)
    moved = np.hypot(*(shown - true).T) > 0.02 * per_in
    for spot, (x, y), off, size_in in zip(plan.spots, shown, moved, sizes_in, strict=True):
        if off and numbered(spot.number, step):
            # A dot where the spot is, a thread to its number.
            axes.plot([spot.x_m, x], [spot.y_m, y], color=INK, linewidth=0.6, zorder=6)
            axes.plot(spot.x_m, spot.y_m, marker="o", markersize=2.6, color=INK, zorder=6)
        text = str(spot.number) if numbered(spot.number, step) else ""
        draw_mark(axes, x, y, spot.by_hand, size_in * per_in, text, size_in)
    _zone_names(axes, plan, per_in)
    left = middle - width_in / 2 * per_in
    _scale_bar(axes, left + 0.05 * per_in, bottom, per_in, width_in, metric)
    _legend(axes, left + width_in * per_in, bottom, per_in, plan)
    _north(axes, left + (width_in - 0.22) * per_in, bottom + (height_in - 0.75) * per_in, per_in)
    return step


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
    draw_mark(axes, at, y, False, size, "")
    axes.text(at + 0.13 * per_in, y, "photo", size=8, va="center", color=INK)
    at += 0.68 * per_in
    draw_mark(axes, at, y, True, size, "")
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
