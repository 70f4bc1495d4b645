"""Squares and rectangles: four straight inside edges, whose corners need not be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RectArea, SquareArea
from tillercount.frame.edges import Edges, read_edges
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.fourth import fourth_line
from tillercount.frame.lines import Line, fit_line, four_lines, in_order, meet
from tillercount.frame.projection import View, homography, view_of
from tillercount.frame.region import Region
from tillercount.frame.result import FrameNotFound
from tillercount.frame.shape import corners_mm, fit_shape, round_from_lower_left, shape_trouble

__all__ = ["QuadFit", "Side", "fit_quad"]

Array = NDArray[Any]

PROFILES = 120
SEEN_ENOUGH = 0.22
"""A side counts as seen from this share of its length in the photo on."""
OUTSIDE = 0.3
"""A side lies outside when less than this share of it is in the photo."""


@dataclass(frozen=True, eq=False)
class Side:
    """One side: its line, and how it was seen.

    ``seen``, ``leaf`` shares of the part in the photo; ``within`` share in the photo;
    ``residual_px`` of the edge's points; ``points`` (N, 2) on the inner edge.
    """

    line: Line
    seen: float
    leaf: float
    within: float
    residual_px: float
    points: Array
    width_px: float

    @property
    def state(self) -> str:
        """``seen``, ``outside``, ``hidden`` (by leaves) or ``lost`` (bare ground lies there)."""
        if self.within < OUTSIDE:
            return "outside"
        if self.seen >= SEEN_ENOUGH:
            return "seen"
        return "hidden" if self.leaf >= 0.35 * (1 - self.seen) else "lost"


@dataclass(frozen=True, eq=False)
class QuadFit:
    """Inside edge of a square or rectangle in the picture.

    ``corners`` (4, 2) picture px in the order of `corners_mm`; ``view`` of the plane that the
    visible edge lies in, with the focal length used; ``width_px`` of the pipe.
    """

    corners: Array
    view: View
    sides: tuple[Side, ...]
    width_px: float
    evidence: dict[str, Any]


def fit_quad(
    picture: Picture, maps: Maps, region: Region, area: SquareArea | RectArea
) -> QuadFit | FrameNotFound:
    """Fit the inside edge of a square or rectangle, or say why it can't be trusted."""
    what = "square" if isinstance(area, SquareArea) else "rectangle"
    tolerance = 1.1 * maps.cell_px
    rng = np.random.default_rng(len(region.rim_px))
    rough = four_lines(region.rim_px, tolerance_px=tolerance, rng=rng)
    middle = region.centre_px
    lines = [line.facing_away_from(middle) for line, _ in rough]
    lines = in_order(lines)
    told = sum(n for _, n in rough) / max(len(region.rim_px), 1)
    evidence: dict[str, Any] = {"rim_on_lines": round(told, 3), "lines": len(lines)}
    if len(lines) < 3:
        return FrameNotFound(
            f"fewer than three sides of the {what} can be made out",
            "take the photo again with the whole frame in it, or give the corners by hand "
            "with --corners",
            evidence,
        )
    if told < 0.72:
        return FrameNotFound(
            f"what lies there hasn't the straight sides of a {what}",
            "check --area (is it a hoop?), or give the corners by hand with --corners",
            evidence,
        )
    if len(lines) == 3:
        missing = fourth_line(lines, picture, area)
        if missing is None:
            return _too_few(what, evidence)
        lines = in_order([*lines, missing])
    sides = [_side(picture, maps, lines, i, slack_px=3 * maps.cell_px) for i in range(4)]
    for _ in range(2):
        sides = _complete(sides, picture, area)
        lines = [side.line for side in sides]
        width = _usual_width(sides)
        sides = [_side(picture, maps, lines, i, 1.2 * maps.cell_px, width) for i in range(4)]
    trouble = _judge(sides, what, evidence)
    if trouble is not None:
        return trouble
    sides = _complete(sides, picture, area)
    return _assemble(sides, picture, area, what, evidence)


def _corner_ring(lines: list[Line]) -> Array:
    """Corner i lies between side i and side i + 1."""
    return np.array([meet(lines[i], lines[(i + 1) % len(lines)]) for i in range(len(lines))])


def _side(
    picture: Picture,
    maps: Maps,
    lines: list[Line],
    i: int,
    slack_px: float,
    width_px: float | None = None,
) -> Side:
    """Look at one side closely, between its two corners."""
    ring = _corner_ring(lines)
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
    edges = read_edges(
        picture,
        maps,
        points,
        np.tile(line.normal, (PROFILES, 1)),
        inwards_px=max(4 * slack_px, 16),
        outwards_px=usual + 2 * slack_px,
        slack_px=slack_px,
        width_px=width_px,
    )
    return _described(line, points, edges)


def _described(line: Line, points: Array, edges: Edges) -> Side:
    inside = edges.within
    n = max(int(inside.sum()), 1)
    seen, leaf = float(edges.seen.sum() / n), float((edges.leaf & inside).sum() / n)
    within = float(inside.mean())
    inner = points + edges.inner[:, None] * line.normal
    good = edges.seen
    if good.sum() < 6:
        return Side(line, seen, leaf, within, math.inf, inner[:0], edges.width_px)
    fitted = fit_line(inner[good], edges.weight[good])
    if fitted.normal @ line.normal < 0:
        fitted = Line(-fitted.normal, -fitted.offset)
    off = np.abs(fitted.distance(inner[good]))
    spread = float(np.median(off)) * 1.4826
    close = off < 4 * spread + 1
    # a straight pipe's edge is one line: what lies far from it isn't the pipe
    seen = float(close.sum() / n)
    return Side(fitted, seen, leaf, within, spread, inner[good][close], edges.width_px)


def _usual_width(sides: list[Side]) -> float | None:
    """Width of the pipe, px, from the sides where it is seen best."""
    known = [(s.width_px, s.seen * s.within) for s in sides if math.isfinite(s.width_px)]
    if not known:
        return None
    widths, weights = np.array(known).T
    order = np.argsort(widths)
    sums = np.cumsum(weights[order])
    return float(widths[order][np.searchsorted(sums, sums[-1] / 2)])


def _judge(sides: list[Side], what: str, evidence: dict[str, Any]) -> FrameNotFound | None:
    states = [side.state for side in sides]
    evidence["sides"] = states
    evidence["side_seen"] = [round(side.seen, 3) for side in sides]
    evidence["side_within"] = [round(side.within, 3) for side in sides]
    if "lost" in states:
        return FrameNotFound(
            f"one side of the {what} isn't there: bare ground lies where it should be",
            "put the frame together and take the photo again, or give the corners by hand "
            "with --corners",
            evidence,
        )
    if states.count("seen") < 3:
        return _too_few(what, evidence)
    return None


def _too_few(what: str, evidence: dict[str, Any]) -> FrameNotFound:
    hidden = evidence.get("sides", []).count("hidden")
    if hidden >= 2:
        return FrameNotFound(
            f"{hidden} sides of the {what} are hidden by leaves",
            "move the leaves off the frame and take the photo again, or give the corners by "
            "hand with --corners",
            evidence,
        )
    return FrameNotFound(
        f"too little of the {what} is in the photo",
        "step back until the whole frame is in the photo, or give the corners by hand "
        "with --corners",
        evidence,
    )


def _complete(sides: list[Side], picture: Picture, area: SquareArea | RectArea) -> list[Side]:
    """Where one side wasn't seen, put it where the other three and the known size say."""
    unseen = [i for i, side in enumerate(sides) if side.state != "seen"]
    if len(unseen) != 1:
        return sides
    gap = unseen[0]
    known = [side.line for i, side in enumerate(sides) if i != gap]
    line = fourth_line(known, picture, area, sides[gap].line)
    if line is None:
        return sides
    return [replace(side, line=line) if i == gap else side for i, side in enumerate(sides)]


def _assemble(
    sides: list[Side],
    picture: Picture,
    area: SquareArea | RectArea,
    what: str,
    evidence: dict[str, Any],
) -> QuadFit | FrameNotFound:
    ring = _corner_ring([side.line for side in sides])
    if not _convex(ring):
        return FrameNotFound(
            f"the sides of the {what} don't close to four corners",
            "check that the frame is whole, or give the corners by hand with --corners",
            evidence,
        )
    corners, view = fit_shape(round_from_lower_left(ring), picture, area)
    if not picture.focal_known:
        matrix = homography(corners_mm(area), corners)
        centre = picture.centre_px
        focal = likely_focal_px(matrix, picture.focal_px, centre, shape_known=True)
        view = view_of(matrix, focal, centre)
    evidence["focal_px"] = round(view.focal_px * math.sqrt(math.prod(picture.per_px)), 1)
    evidence["stretch"] = round(view.stretch, 4)
    evidence["skew_deg"] = round(view.skew_deg, 2)
    trouble = shape_trouble(view, area, evidence)
    if trouble is not None:
        return trouble
    widths = [s.width_px for s in sides if s.state == "seen" and math.isfinite(s.width_px)]
    within = np.array([s.within for s in sides])
    evidence["missing_share"] = round(float(1 - within.mean()), 3)
    evidence["seen_share"] = round(
        float(sum(s.seen * s.within for s in sides) / max(within.sum(), 1e-9)), 3
    )
    residuals = [s.residual_px for s in sides if math.isfinite(s.residual_px)]
    evidence["residual_px"] = round(float(np.mean(residuals)), 3)
    return QuadFit(corners, view, tuple(sides), float(np.median(widths)), evidence)


def _convex(ring: Array) -> bool:
    if not np.isfinite(ring).all():
        return False
    d = np.roll(ring, -1, axis=0) - ring
    e = np.roll(d, -1, axis=0)
    cross = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
    return bool((cross > 0).all() or (cross < 0).all())
