"""One side of a square or rectangle looked at closely: its line, its width, how much is seen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.edges import Edges, read_edges
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.lines import Line, fit_line, meet
from tillercount.frame.projection import View, apply, mm_per_px

__all__ = ["Side", "corner_ring", "look_along", "usual_width", "width_ratio"]

Array = NDArray[Any]

PROFILES = 120
SEEN_ENOUGH = 0.22
"""A side counts as seen from this share of its length in the photo on."""
OUTSIDE = 0.3
"""A side lies outside when less than this share of it is in the photo."""


@dataclass(frozen=True, eq=False)
class Side:
    """One side: its line, and how it was seen.

    ``seen``, ``unclear`` (see `Edges`) shares of the part in the photo; ``within`` share in the
    photo; ``residual_px`` of the edge's points; ``points`` (N, 2) on the inner edge, near its
    line; ``inner``, ``outer`` (M, 2) all places on both edges.
    """

    line: Line
    seen: float
    unclear: float
    within: float
    residual_px: float
    points: Array
    width_px: float
    inner: Array
    outer: Array

    @property
    def state(self) -> str:
        """``seen``, ``outside``, ``hidden`` (by leaves, or on ground that
        looks like it) or ``lost`` (bare ground lies there)."""
        if self.within < OUTSIDE:
            return "outside"
        if self.seen >= SEEN_ENOUGH:
            return "seen"
        return "hidden" if self.unclear >= 0.35 * (1 - self.seen) else "lost"


def corner_ring(lines: list[Line]) -> Array:
    """Corner i lies between side i and side i + 1."""
    return np.array([meet(lines[i], lines[(i + 1) % len(lines)]) for i in range(len(lines))])


def look_along(
    picture: Picture,
    maps: Maps,
    lines: list[Line],
    i: int,
    slack_px: float,
    width_px: float | None = None,
) -> Side:
    """Look at one side closely, between its two corners."""
    ring = corner_ring(lines)
    a, b = ring[(i - 1) % 4], ring[i]
    line = lines[i]
    height, width = picture.shape
    reach = 4.0 * max(height, width)
    a, b = np.clip(a, -reach, reach), np.clip(b, -reach, reach)
    t = (np.arange(PROFILES) + 0.5) / PROFILES
    points = a + (b - a) * (0.02 + 0.96 * t)[:, None]
    points = points - line.distance(points)[:, None] * line.normal
    size = float(np.linalg.norm(b - a))
    usual = float(np.clip(0.2 * size, 25, 130))
    normals = np.tile(line.normal, (PROFILES, 1))
    edges = read_edges(
        picture,
        maps,
        points,
        normals,
        inwards_px=max(4 * slack_px, 16),
        outwards_px=usual + 2 * slack_px,
        slack_px=slack_px,
        width_px=width_px,
    )
    return _described(line, points, edges)


def _described(line: Line, points: Array, edges: Edges) -> Side:
    inside = edges.within
    n = max(int(inside.sum()), 1)
    seen, unclear = float(edges.seen.sum() / n), float((edges.unclear & inside).sum() / n)
    within = float(inside.mean())
    inner = points + edges.inner[:, None] * line.normal
    outer = points + edges.outer[:, None] * line.normal
    good = edges.seen
    inner, outer = inner[good], outer[good]
    width = edges.width_px
    if len(inner) < 6:
        return Side(line, seen, unclear, within, math.inf, inner[:0], width, inner, outer)
    fitted = fit_line(inner, edges.weight[good])
    if fitted.normal @ line.normal < 0:
        fitted = Line(-fitted.normal, -fitted.offset)
    off = np.abs(fitted.distance(inner))
    spread = float(np.median(off)) * 1.4826
    close = off < 4 * spread + 1
    # a straight pipe's edge is one line: what lies far from it isn't the pipe
    seen = float(close.sum() / n)
    return Side(fitted, seen, unclear, within, spread, inner[close], width, inner, outer)


def usual_width(sides: list[Side]) -> float | None:
    """Width of the pipe, px, from the sides where it is seen best."""
    known = [(s.width_px, s.seen * s.within) for s in sides if math.isfinite(s.width_px)]
    if not known:
        return None
    widths, weights = np.array(known).T
    order = np.argsort(widths)
    sums = np.cumsum(weights[order])
    return float(widths[order][np.searchsorted(sums, sums[-1] / 2)])


def width_ratio(sides: list[Side], view: View) -> float:
    """Widest over narrowest side on the ground: one pipe has one width."""
    widths = []
    for side in sides:
        if side.state == "seen" and len(side.points) and math.isfinite(side.width_px):
            at = apply(np.linalg.inv(view.plane_to_photo()), side.points.mean(0)[None])[0]
            scale = mm_per_px(view.plane_to_photo(), (float(at[0]), float(at[1])))
            widths.append(side.width_px * scale)
    return float(max(widths) / min(widths)) if widths else math.inf
