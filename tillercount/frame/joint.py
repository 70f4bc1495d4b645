"""All sides of a frame at once: one camera, one shape, and what the sides are made of.

A pipe's inside edge is seen about its radius above the ground; a lath's inner face is seen down
to the ground; where two pipes lie across the other two, that pair is nearer to the camera. Each
moves the outline on the ground by some per cent. Each is also seen: parallax shifts the outer
edges of a tall lath against the inner ones, a pipe's two edges lie at one height, and a lifted
pair of pipes looks longer. So each kind is fitted to both edges of all sides, and what fits
better weighs more. Where they fit alike the mean of the outlines errs least.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.lines import Line
from tillercount.frame.projection import View, apply, pose_of
from tillercount.frame.section import lath_edges, pipe_edges
from tillercount.frame.side import Side

__all__ = ["Made", "area_unsure", "better_as_lath", "fit_made", "likelihoods"]

Array = NDArray[Any]

AXIS, SIGN = np.array([1, 0, 1, 0]), np.array([-1, 1, 1, -1])
"""Sides from below, counter-clockwise: which ground axis they lie square to, and which way."""
KINDS = ("pipe", "across x", "across y", "lath")
POINTS = 30
"""Of each edge; more cost time and say no more, for neighbours err alike."""
EDGE_PX, EDGE_MM = 0.4, 0.25
"""How far a point of an edge is typically off, in the picture and on the ground."""
WORTH = 12.0
"""Independent readings that a whole edge is worth."""
TAIL = 4.0
"""Squared error, of the typical one, from which on a point loses its weight (Cauchy's rule)."""
UPPER_TOLL = 3.0
"""Cost, as squared error, of a point that lies on a lath's upper inside edge instead of below."""
STRETCH, SHEAR = 0.002, 0.002
"""Half of what opposite pairs of sides differ by in length, and of what corners are off a right
angle, in a hand-made frame: 12 in sides differ by about 1 mm; by judgement."""
THICK, THICK_SPREAD = 0.5, 0.6
"""Thickness of a lath, of its width: planed battens and rules have 0.1 to 1 (common practice)."""
LIFT, LIFT_SPREAD = 1.6, 0.5
"""Of the radius: a pipe across another lies 2 higher, less where it is let in or bends."""
CROSSED = 0.25
"""How likely pipes laid across each other are, either way, against all at one height; by
judgement."""
STEPS = np.array([1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-4, 1e-4])
ROUNDS, ENOUGH = 15, 0.1


@dataclass(frozen=True, eq=False)
class Made:
    """One kind of frame, fitted.

    ``cost`` minus twice the logarithm of how likely the edges are; ``corners`` (4, 2) px of the
    outline on the ground; ``width_mm`` and ``height_mm``, how high the inside edge is seen;
    ``lift_mm`` of the pipes across y less that of those across x; ``residual_px``, how far places
    on the inside edge lie from it, the mean over the sides; ``inner`` the inside edges as they
    are seen: below, right, above, left.
    """

    kind: str
    cost: float
    corners: Array
    width_mm: float
    height_mm: float
    lift_mm: float
    residual_px: float
    inner: tuple[Line, ...]


@dataclass(frozen=True, eq=False)
class _Seen:
    """Points (N, 2) of edges; ``edge`` (N,) side, and 4 more for outer ones; ``weight`` (N,)."""

    points: Array
    edge: Array
    weight: Array
    sigma_px: float
    half_mm: Array
    focal_px: float
    centre_px: tuple[float, float]


def fit_made(
    sides: Sequence[Side],
    corners: Array,
    view: View,
    size: tuple[float, float],
    width_px: float,
    kinds: tuple[str, ...] = KINDS,
) -> list[Made]:
    """Fit every kind of frame to its sides.

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
    """
    seen = _gathered(sides, corners, view, size)
    width = math.log(max(width_px, 1.0) * float(view.origin_mm[2]) / view.focal_px)
    start = np.concatenate([pose_of(view), [0.0, 0.0, width, 0.0]])
    made = []
    for kind in kinds:
        guess = start.copy()
        guess[9] = {"lath": math.log(THICK), "pipe": 0.0}.get(kind, LIFT)
        found, cost = _settled(guess, kind, seen)
        if kind == "pipe":
            start = found
        if kind == "lath":
            # whatever lies beside an edge would speak for a lath if the upper edge might always
            # explain it: it helps to place a lath, not to tell it
            found, _ = _settled(found, kind, seen, upper=True)
        made.append(_described(found, cost, kind, seen))
    return made


def better_as_lath(made: list[Made]) -> float:
    """Logarithm of how much better a lath than any pipe fits the edges."""
    pipe = min(m.cost for m in made if m.kind != "lath")
    return (pipe - next(m.cost for m in made if m.kind == "lath")) / 2


def likelihoods(made: list[Made], flat: float) -> Array:
    """Probability of each kind, given that of a lath."""
    lath = np.array([m.kind == "lath" for m in made])
    cost = np.where(lath, np.inf, [m.cost for m in made])
    pipes = np.exp(-0.5 * (cost - cost.min()))
    out: Array = np.where(lath, flat, (1 - flat) * pipes / pipes.sum())
    return out


def area_unsure(made: list[Made], chance: Array) -> float:
    """Typical error of the mean outline's area, of the area, as far as the kind isn't known."""
    x, y = np.moveaxis(np.array([m.corners for m in made]), 2, 0)
    area = np.abs((x * np.roll(y, -1, 1) - y * np.roll(x, -1, 1)).sum(1))
    mean = float(chance @ area)
    return math.sqrt(float(chance @ (area / mean - 1) ** 2))


def _gathered(
    sides: Sequence[Side], corners: Array, view: View, size: tuple[float, float]
) -> _Seen:
    w, h = size
    points, edge, weight = [], [], []
    for side in sides:
        if side.state != "seen":
            continue
        off = np.abs(side.line.distance(corners))
        which = int(np.argmin(off + np.roll(off, -1)))
        for k, line in ((0, side.inner), (4, side.outer)):
            some = line[:: max(1, len(line) // POINTS)]
            points.append(some)
            edge.append(np.full(len(some), which + k))
            weight.append(np.full(len(some), WORTH * min(1.0, len(line) / 30) / len(some)))
    mm = float(view.origin_mm[2]) / view.focal_px
    return _Seen(
        np.concatenate(points),
        np.concatenate(edge),
        np.concatenate(weight),
        math.hypot(EDGE_PX, EDGE_MM / mm),
        np.array([h, w, h, w]) / 2,
        view.focal_px,
        view.centre_px,
    )


def _plane(p: Array) -> tuple[Array, Array]:
    """Ground to camera (K, 3, 3) and the camera over the ground (K, 3) mm of parameters (K, 10)."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_rotvec(p[:, :3]).as_matrix()
    place = p[:, 3:6] * 1000
    long, shear = np.exp(p[:, 6:7]), p[:, 7:8]
    x, y = turn[:, :, 0], turn[:, :, 1]
    plane = np.stack([x * long + y * shear, x * shear + y / long, place], 2)
    return plane, -np.einsum("kij,ki->kj", turn, place)


def _lines(p: Array, kind: str, seen: _Seen) -> Array:
    """Edges as lines (K, M, 3) of the picture, for parameters (K, 10).

    The inner ones of all sides, the outer ones, and for a lath the upper inner ones: each line is
    a, b, c with a x + b y + c = 0 and a unit normal.
    """
    plane, camera = _plane(p)
    height = camera[:, 2:]
    foot = camera[:, AXIS] * SIGN
    width = np.exp(p[:, 8:9])
    if kind == "lath":
        edges = lath_edges(foot, height, seen.half_mm, width, width * np.exp(p[:, 9:]))
        places = np.concatenate([edges[0], edges[2], edges[1]], 1)
    else:
        lifted = {"across x": AXIS == 0, "across y": AXIS == 1}.get(kind, np.zeros(4))
        lift = p[:, 9:] * width / 2 * lifted
        places = np.concatenate(pipe_edges(foot, height, seen.half_mm, width / 2, lift), 1)
    n = places.shape[1]
    ground = np.zeros((*places.shape, 3))
    ground[:, np.arange(n), np.resize(AXIS, n)] = np.resize(SIGN, n)
    ground[:, :, 2] = -places
    back = np.linalg.inv(plane)
    lines = np.einsum("kij,kni->knj", back, ground)
    x, y = seen.centre_px
    lines[:, :, 2] = lines[:, :, 2] * seen.focal_px - lines[:, :, 0] * x - lines[:, :, 1] * y
    out: Array = lines / np.hypot(lines[:, :, 0], lines[:, :, 1])[:, :, None]
    return out


def _residuals(p: Array, kind: str, seen: _Seen, upper: bool) -> Array:
    """Errors (K, N) of the points, of the typical one, for parameters (K, 10)."""
    lines = _lines(p, kind, seen) / seen.sigma_px

    def off(which: Array) -> Array:
        line = lines[:, which]
        out: Array = line[:, :, 0] * seen.points[:, 0] + line[:, :, 1] * seen.points[:, 1]
        return out + line[:, :, 2]

    here = off(seen.edge)
    if not upper:
        return here
    # where the inner face lies in the dark its upper edge is taken for the lath's own
    other = off(np.where(seen.edge < 4, seen.edge + 8, seen.edge))
    other = np.sqrt(other**2 + UPPER_TOLL)
    return np.where((seen.edge < 4) & (other[:1] < np.abs(here[:1])), other, here)


def _beliefs(p: Array, kind: str) -> Array:
    """What is believed beforehand, as errors (4,) in units of their spread."""
    rise = 0.0
    if kind == "lath":
        rise = (p[9] - math.log(THICK)) / THICK_SPREAD
    elif kind != "pipe":
        rise = (p[9] - LIFT) / LIFT_SPREAD
    return np.array([p[6] / STRETCH, p[7] / SHEAR, rise])


BELIEVED = np.array([6, 7, 9])


def _cost(r: Array, p: Array, kind: str, seen: _Seen) -> float:
    apart = float(TAIL * (seen.weight * np.log1p(r**2 / TAIL)).sum())
    return apart + float((_beliefs(p, kind) ** 2).sum())


def _settled(p: Array, kind: str, seen: _Seen, *, upper: bool = False) -> tuple[Array, float]:
    """The parameters of least cost, from a rough start (Levenberg's method, reweighted)."""
    spread = {"lath": THICK_SPREAD, "pipe": 1.0}.get(kind, LIFT_SPREAD)
    believed = np.zeros(len(p))
    believed[BELIEVED] = 1 / np.array([STRETCH, SHEAR, spread]) ** 2
    damping = 1e-3
    steps = np.vstack([np.zeros(len(p)), np.diag(STEPS)])
    cost = math.inf
    for _ in range(ROUNDS):
        all_r = _residuals(p + steps, kind, seen, upper)
        r = all_r[0]
        before = _cost(r, p, kind, seen)
        slope = (all_r[1:] - r) / STEPS[:, None]
        weighted = slope * (seen.weight / (1 + r**2 / TAIL))
        pull = weighted @ r
        pull[BELIEVED] += _beliefs(p, kind) * np.sqrt(believed[BELIEVED])
        curve = weighted @ slope.T + np.diag(believed)
        cost = before
        for _ in range(5):
            step = np.linalg.solve(curve + damping * np.diag(np.diag(curve) + 1e-9), -pull)
            trial = p + step
            now = _cost(_residuals(trial[None], kind, seen, upper)[0], trial, kind, seen)
            if now < before:
                p, cost = trial, now
                damping = max(damping / 5, 1e-6)
                break
            damping *= 6
        if before - cost < ENOUGH:
            break
    return p, cost


def _described(p: Array, cost: float, kind: str, seen: _Seen) -> Made:
    plane, _ = _plane(p[None])
    w, h = seen.half_mm[1], seen.half_mm[0]
    corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    x, y = seen.centre_px
    camera = np.array([[seen.focal_px, 0, x], [0, seen.focal_px, y], [0, 0, 1.0]])
    width = math.exp(p[8])
    lift = {"across x": -p[9], "across y": p[9]}.get(kind, 0.0) * width / 2
    off = np.abs(_residuals(p[None], kind, seen, kind == "lath")[0]) * seen.sigma_px
    inner = [off[seen.edge == i] for i in range(4)]
    middle = apply(camera @ plane[0], np.zeros((1, 2)))[0]
    lines = [Line(a[:2], -float(a[2])) for a in _lines(p[None], kind, seen)[0, :4]]
    return Made(
        kind,
        cost + (2 * math.log(1 / CROSSED) if kind.startswith("across") else 0.0),
        apply(camera @ plane[0], corners),
        width,
        0.0 if kind == "lath" else width / 2,
        float(lift),
        1.4826 * float(np.mean([np.median(side) for side in inner if len(side)])),
        tuple(line.facing_away_from(middle) for line in lines),
    )
