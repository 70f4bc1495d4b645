"""Squares and rectangles: four straight inside edges, whose corners need not be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RectArea, SquareArea
from tillercount.frame.agreement import agreement
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.fourth import fourth_line
from tillercount.frame.joint import fit_made
from tillercount.frame.lines import Line, four_lines, in_order
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.projection import View, homography, view_of
from tillercount.frame.region import Region
from tillercount.frame.result import FrameNotFound
from tillercount.frame.shading import Shading, shading_across
from tillercount.frame.shape import (
    fit_shape,
    out_of_true,
    round_from_lower_left,
    shape_trouble,
)
from tillercount.frame.side import Side, corner_ring, look_along, usual_width, width_ratio

__all__ = ["QuadFit", "fit_quad"]

Array = NDArray[Any]

LEAST_ON_LINES = 0.45
"""Share of the finder's rim on four lines below which the shape isn't looked at any closer: leaves
eat into the rim, so it is the edges in the photo that decide afterwards."""

TRUE_ENOUGH = 0.6
"""`out_of_true` of the sides, read one by one, above which they aren't put right by each other:
what lies there may not have the shape that --area says."""


@dataclass(frozen=True, eq=False)
class QuadFit:
    """Inside edge of a square or rectangle in the picture.

    ``corners`` (4, 2) picture px in the order of `outline_mm`; ``view`` of the plane that the
    visible edge lies in, with the focal length used; ``width_px`` of the pipe; ``shading`` of
    the sides seen, None where it can't be told.
    """

    corners: Array
    view: View
    sides: tuple[Side, ...]
    width_px: float
    evidence: dict[str, Any]
    shading: tuple[Shading | None, ...] = ()


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
    if told < LEAST_ON_LINES:
        return FrameNotFound(
            f"what lies there hasn't the straight sides of a {what}",
            "check --area (is it a hoop?)",
            evidence,
        )
    if len(lines) == 3:
        missing = fourth_line(lines, picture, area)
        if missing is None:
            return _too_few(what, evidence)
        lines = in_order([*lines, missing])
    sides = [look_along(picture, maps, lines, i, slack_px=3 * maps.cell_px) for i in range(4)]
    for again in range(3):
        sides = _complete(sides, picture, area)
        width = usual_width(sides)
        together = _together(sides, picture, area, width) if again else None
        lines = together or [side.line for side in sides]
        sides = [look_along(picture, maps, lines, i, 1.2 * maps.cell_px, width) for i in range(4)]
    trouble = _judge(sides, what, evidence)
    if trouble is not None:
        return trouble
    sides = _complete(sides, picture, area)
    found = _assemble(sides, picture, area, what, evidence)
    if isinstance(found, QuadFit):
        seen = [side for side in sides if side.state == "seen"]
        shading = tuple(shading_across(picture, side.inner, side.outer) for side in seen)
        found = replace(found, shading=shading)
        evidence["shading"] = [
            one and [round(one.step, 2), None if one.uneven is None else round(one.uneven, 3)]
            for one in shading
        ]
        evidence |= agreement(maps, found.corners, found.width_px)
    return found


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
    if hidden == 4:
        return FrameNotFound(
            f"no {what} can be made out in this photo",
            "take a photo with the whole frame in it and no leaves over it",
            evidence,
        )
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


def _together(
    sides: list[Side], picture: Picture, area: SquareArea | RectArea, width_px: float | None
) -> list[Line] | None:
    """Inside edges of the frame of this size that fits all sides at once, in their order.

    A side that was read along a shadow, or along a lath's top here and its foot there, is put
    where the others say. None where that can't be told.
    """
    seen = [side for side in sides if side.state == "seen" and math.isfinite(side.width_px)]
    ring = corner_ring([side.line for side in sides])
    if len(seen) < 3 or width_px is None or not _convex(ring):
        return None
    corners, view = fit_shape(round_from_lower_left(ring), picture, area)
    if out_of_true(view) > TRUE_ENOUGH:
        return None
    size = size_mm(area)
    edges = fit_made(sides, corners, view, size, width_px, ("pipe",), picture)[0].inner
    return [max(edges, key=lambda edge: float(edge.normal @ side.line.normal)) for side in sides]


def _assemble(
    sides: list[Side],
    picture: Picture,
    area: SquareArea | RectArea,
    what: str,
    evidence: dict[str, Any],
) -> QuadFit | FrameNotFound:
    ring = corner_ring([side.line for side in sides])
    if not _convex(ring):
        return FrameNotFound(
            f"the sides of the {what} don't close to four corners",
            "check that the frame is whole, or give the corners by hand with --corners",
            evidence,
        )
    corners, view = fit_shape(round_from_lower_left(ring), picture, area)
    if not picture.focal_known:
        matrix = homography(outline_mm(area), corners)
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
    evidence["width_ratio"] = round(width_ratio(sides, view), 3)
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
