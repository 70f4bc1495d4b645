"""All sides of a frame at once: one camera, one shape, and what the sides are made of.

A pipe's inside edge is seen about its radius above the ground; a lath's inner face is seen down
to the ground; where two pipes lie across the other two, that pair is nearer to the camera. Each
moves the outline on the ground by some per cent. Each is also seen: parallax shifts the outer
edges of a tall lath against the inner ones, a pipe's two edges lie at one height, and a lifted
pair of pipes looks longer. So each kind is fitted to both edges of all sides, and what fits
better weighs more. Where they fit alike an outline between them errs least.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.frame.corners import Corners
from tillercount.frame.faces import read_at_the_top
from tillercount.frame.finder import Picture
from tillercount.frame.lines import Line
from tillercount.frame.partly import CLEAN, read_partly_at_the_top
from tillercount.frame.projection import View, apply, pose_of
from tillercount.frame.settling import (
    LIFT,
    THICK,
    Seen,
    edge_lines,
    gathered,
    misses,
    plane_of,
    settled,
)
from tillercount.frame.side import Side

__all__ = [
    "Made",
    "area_unsure",
    "better_as_lath",
    "fit_made",
    "leaning",
    "likelihoods",
    "off_by_kind",
]

Array = NDArray[Any]

KINDS = ("pipe", "across x", "across y", "lath")
CROSSED = 0.25
"""How likely pipes laid across each other are, either way, against all at one height; by
judgement."""
CLASH = 8.0
"""Where the sides that are seen alone leave less cost per reading, and the few places read on a
hidden side add more, per reading of theirs, those aren't its edges: they lie some five spreads off
even after the frame was bent to them. Of five hidden sides beside clean ones three had 1.6 to 7;
the other two had 9 and 34, of snow and litter, and 9 had moved the outline by 4 % (rendered
squares)."""
CLOSE = 0.98
"""Overlap (intersection over union) up to which an outline counts as off."""


@dataclass(frozen=True, eq=False)
class Made:
    """One kind of frame, fitted.

    ``cost`` minus twice the logarithm of how likely the edges are; ``corners`` (4, 2) px of the
    outline on the ground; ``width_mm`` and ``height_mm``, how high the inside edge is seen;
    ``lift_mm`` of the pipes across y less that of those across x; ``residual_px``, how far places
    on the inside edge lie from it, the mean over the sides, the worst of four left out; ``inner``
    the inside edges as they are seen: below, right, above, left; ``misfit`` the cost of both edges
    of all sides, per reading.
    """

    kind: str
    cost: float
    corners: Array
    width_mm: float
    height_mm: float
    lift_mm: float
    residual_px: float
    inner: tuple[Line, ...]
    misfit: float = 0.0


def fit_made(
    sides: Sequence[Side],
    corners: Array,
    view: View,
    size: tuple[float, float],
    width_px: float,
    kinds: tuple[str, ...] = KINDS,
    picture: Picture | None = None,
) -> list[Made]:
    """Fit every kind of frame to its sides; places on a hidden side that clash with clean ones are
    left out, see `CLASH`.

    Parameters
    ----------
    sides : sequence of Side
    corners : ndarray (4, 2)
        Rough inside corners, px, in the order of `outline_mm`.
    view : View
        Rough view of the plane of the corners.
    size : tuple
        Inside width and height, mm.
    width_px : float
        Rough width of the pipe or lath.
    kinds : tuple of str
        Some of `KINDS`, "pipe" first.
    picture : Picture, optional
        Where a lath's inner faces are looked for, and how dark the frame is.
    """
    width = math.log(max(width_px, 1.0) * float(view.origin_mm[2]) / view.focal_px)
    start = np.concatenate([pose_of(view), [0.0, 0.0, width, 0.0]])
    seen = gathered(sides, corners, view, size, width_px, picture)
    made = _fit_kinds(seen, start, kinds, picture)
    clear = [side for side in sides if side.state == "seen"]
    if len(clear) == len(sides):
        return made
    bare = gathered(clear, corners, view, size, width_px, picture)
    few = seen.readings - bare.readings
    if few < 1:
        return made
    without = _fit_kinds(bare, start, kinds, picture)
    alone, all_of_them = _least_misfit(without), _least_misfit(made) * seen.readings
    clash = all_of_them - alone * bare.readings > CLASH * few
    return without if clash and alone < CLEAN else made


def _least_misfit(made: list[Made]) -> float:
    """Cost per reading of the best kind; a pair lifted by more than the pipes' width is none."""
    return min(m.misfit for m in made if abs(m.lift_mm) <= m.width_mm)


def _fit_kinds(
    seen: Seen, start: Array, kinds: tuple[str, ...], picture: Picture | None
) -> list[Made]:
    """Fit every kind of frame to places on its edges, from parameters (10,)."""
    made: list[Made] = []
    for kind in kinds:
        guess = start.copy()
        guess[9] = {"lath": math.log(THICK), "pipe": 0.0}.get(kind, LIFT)
        found, cost = settled(guess, kind, seen)
        if kind == "pipe":
            start = found
        if kind == "lath":
            piped = min((m.cost for m in made), default=math.inf) <= CLEAN * seen.readings
            partly = None if piped else read_partly_at_the_top(found, cost, seen)
            if partly is not None:
                one = _described(partly[0], cost, kind, seen)
                made.append(replace(one, misfit=partly[1] / seen.readings))
                continue
            # whatever lies beside an edge would speak for a lath if the upper edge might always
            # explain it: it helps to place a lath, not to tell it
            found, least_cost = settled(found, kind, seen, upper=True)
            misfit = least_cost / seen.readings
            top = read_at_the_top(picture, found, seen, cost) if picture is not None else None
            if top is not None:
                # places read at the top lie off the foot that was found, and are clean all the same
                clean = min(_unclean(p, kind, seen) for p in (found, top))
                one = _described(top, cost, kind, seen)
                made.append(replace(one, residual_px=clean, misfit=misfit))
                continue
            made.append(replace(_described(found, cost, kind, seen), misfit=misfit))
            continue
        made.append(_described(found, cost, kind, seen))
    return made


def better_as_lath(made: list[Made]) -> float:
    """Logarithm of how much better a lath than any pipe fits the edges."""
    pipe = min(m.cost for m in made if m.kind != "lath")
    return (pipe - next(m.cost for m in made if m.kind == "lath")) / 2


def likelihoods(made: list[Made], flat: float, corners: Corners | None = None) -> Array:
    """Probability of each kind, given that of a lath and what the corners of a pipe say."""
    lath = np.array([m.kind == "lath" for m in made])
    seen = corners or Corners()
    # pipes that lie across x run along y; where nothing tells which pair is on top both gain alike
    y = 1 / (1 + math.exp(-seen.y_upper))
    told = {
        "across x": seen.crossed + math.log(2 * y + 1e-9),
        "across y": seen.crossed + math.log(2 * (1 - y) + 1e-9),
    }
    cost = np.where(lath, np.inf, [m.cost - 2 * told.get(m.kind, 0.0) for m in made])
    pipes = np.exp(-0.5 * (cost - cost.min()))
    out: Array = np.where(lath, flat, (1 - flat) * pipes / pipes.sum())
    return out


def leaning(flat: float) -> float:
    """Weight of a lath's outline, given its probability: the odds, squared.

    An overlap suffers by how far an outline is off, not by the square of it, so what errs least is
    the median of what may be, which lies nearer to the likelier kind than the mean does. Squared
    odds come close to it where either outline is off by some 0.5 % of the area by itself. On
    rendered squares and rectangles the mean IoU is 0.0002 to 0.0003 better than with the odds
    themselves, in the half that was looked at first as in the other, and of 29 that had been hard
    two more come over 0.98.
    """
    return flat**2 / (flat**2 + (1 - flat) ** 2)


def area_unsure(made: list[Made], chance: Array, weight: Array) -> float:
    """Typical error of the area of the outline of these weights, of the area, as far as the kind
    isn't known."""
    x, y = np.moveaxis(np.array([m.corners for m in made]), 2, 0)
    area = np.abs((x * np.roll(y, -1, 1) - y * np.roll(x, -1, 1)).sum(1))
    taken = float(weight @ area)
    return math.sqrt(float(chance @ (area / taken - 1) ** 2))


def off_by_kind(made: list[Made], chance: Array, corners: Array) -> float:
    """Chance that the frame is of a kind whose outline this one (4, 2) px overlaps by `CLOSE` or
    less."""
    return float(sum(c for m, c in zip(made, chance, strict=True) if _overlap(m, corners) <= CLOSE))


def _overlap(made: Made, corners: Array) -> float:
    one, other = made.corners.astype(np.float32), corners.astype(np.float32)
    both = float(cv2.intersectConvexConvex(one, other)[0])
    return both / (float(cv2.contourArea(one)) + float(cv2.contourArea(other)) - both)


def _described(p: Array, cost: float, kind: str, seen: Seen) -> Made:
    plane, _ = plane_of(p[None])
    w, h = seen.half_mm[1], seen.half_mm[0]
    corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    x, y = seen.centre_px
    camera = np.array([[seen.focal_px, 0, x], [0, seen.focal_px, y], [0, 0, 1.0]])
    width = math.exp(p[8])
    lift = {"across x": -p[9], "across y": p[9]}.get(kind, 0.0) * width / 2
    middle = apply(camera @ plane[0], np.zeros((1, 2)))[0]
    lines = [Line(a[:2], -float(a[2])) for a in edge_lines(p[None], kind, seen)[0, :4]]
    return Made(
        kind,
        cost + (2 * math.log(1 / CROSSED) if kind.startswith("across") else 0.0),
        apply(camera @ plane[0], corners),
        width,
        0.0 if kind == "lath" else width / 2,
        float(lift),
        _unclean(p, kind, seen),
        tuple(line.facing_away_from(middle) for line in lines),
        cost / seen.readings,
    )


def _unclean(p: Array, kind: str, seen: Seen) -> float:
    """How far places on the inside edge lie from it, px, see `Made`."""
    off = misses(p, kind, seen)
    inner = sorted(float(np.median(o)) for o in (off[seen.edge == i] for i in range(4)) if len(o))
    # three sides and the size say where the fourth lies: one read along a shadow is put right
    return 1.4826 * float(np.mean(inner[: max(3, len(inner) - 1)]))
