"""The edges of a frame's sides, how far a frame misses them, and the frame that misses them least.

A frame is ten numbers: turn and place of the ground before the camera (3 and 3, the place in
metres), stretch and shear of its shape, the logarithm of the width of pipe or lath in mm, and how
it rises: the logarithm of a lath's thickness, of its width, or the lift of one pair of pipes, of
their radius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.finder import Picture
from tillercount.frame.least import least
from tillercount.frame.misread import INTO, in_spreads, spread_px, within_share
from tillercount.frame.projection import View
from tillercount.frame.section import lath_edges, pipe_edges
from tillercount.frame.side import Side

__all__ = [
    "LEAST_PLACES",
    "LIFT",
    "THICK",
    "Seen",
    "edge_lines",
    "gathered",
    "misses",
    "plane_of",
    "settled",
]

Array = NDArray[Any]

AXIS, SIGN = np.array([1, 0, 1, 0]), np.array([-1, 1, 1, -1])
"""Sides from below, counter-clockwise: which ground axis they lie square to, and which way."""
POINTS = 30
"""Of each edge; more cost time and say no more, for neighbours err alike."""
WORTH = 12.0
"""Independent readings that a whole edge is worth."""
LEAST_PLACES = 6
"""On a side. What leaves leave of a hidden one counts too, by how much it is: three sides seen
through a long lens hardly say how far off the fourth lies, and a few places on it do."""
UPPER_TOLL = 3.0
"""Cost, as squared error, of a point that lies on a lath's upper inside edge instead of below."""
STRETCH, SHEAR = 0.002, 0.002
"""Half of what opposite pairs of sides differ by in length, and of what corners are off a right
angle, in a hand-made frame: 12 in sides differ by about 1 mm; by judgement."""
THICK, THICK_SPREAD = 0.5, 0.6
"""Thickness of a lath, of its width: planed battens and rules have 0.1 to 1 (common practice)."""
LIFT, LIFT_SPREAD = 1.6, 0.5
"""Of the radius: a pipe across another lies 2 higher, less where it is let in or bends."""
STEPS = np.array([1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5, 1e-4, 1e-4])
ROUNDS, ENOUGH = 15, 0.1


@dataclass(frozen=True, eq=False)
class Seen:
    """Points (N, 2) px of edges; ``edge`` (N,) side, and 4 more for outer ones; ``weight`` (N,).

    ``spread_px`` is how far a point is typically off, see `misread`; ``half_mm`` (4,) how far each
    side lies from the middle.
    """

    points: Array
    edge: Array
    weight: Array
    spread_px: tuple[float, float]
    half_mm: Array
    focal_px: float
    centre_px: tuple[float, float]

    @property
    def readings(self) -> float:
        """How many independent readings all points together are worth."""
        return max(float(self.weight.sum()), 1e-9)


def gathered(
    sides: Sequence[Side],
    corners: Array,
    view: View,
    size: tuple[float, float],
    width_px: float,
    picture: Picture | None = None,
) -> Seen:
    """Points of the sides that are seen; see `tillercount.frame.joint.fit_made`."""
    w, h = size
    points, edge, weight = [], [], []
    for side in sides:
        if side.state not in ("seen", "hidden") or len(side.inner) < LEAST_PLACES:
            continue
        off = np.abs(side.line.distance(corners))
        which = int(np.argmin(off + np.roll(off, -1)))
        for k, line in ((0, side.inner), (4, side.outer)):
            some = line[:: max(1, len(line) // POINTS)]
            points.append(some)
            edge.append(np.full(len(some), which + k))
            weight.append(np.full(len(some), WORTH * min(1.0, len(line) / 30) / len(some)))
    mm = float(view.origin_mm[2]) / view.focal_px
    share = INTO
    if picture is not None:
        share = within_share(picture, [(s.inner, s.outer) for s in sides if s.state == "seen"])
    return Seen(
        np.concatenate(points),
        np.concatenate(edge),
        np.concatenate(weight),
        spread_px(mm, width_px, share),
        np.array([h, w, h, w]) / 2,
        view.focal_px,
        view.centre_px,
    )


def plane_of(p: Array) -> tuple[Array, Array]:
    """Ground to camera (K, 3, 3) and the camera over the ground (K, 3) mm of parameters (K, 10)."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_rotvec(p[:, :3]).as_matrix()
    place = p[:, 3:6] * 1000
    long, shear = np.exp(p[:, 6:7]), p[:, 7:8]
    x, y = turn[:, :, 0], turn[:, :, 1]
    plane = np.stack([x * long + y * shear, x * shear + y / long, place], 2)
    return plane, -np.einsum("kij,ki->kj", turn, place)


def edge_lines(p: Array, kind: str, seen: Seen) -> Array:
    """Edges as lines (K, M, 3) of the picture, for parameters (K, 10).

    The inner ones of all sides, the outer ones, and for a lath the upper inner ones: each line is
    a, b, c with a x + b y + c = 0 and a unit normal.
    """
    plane, camera = plane_of(p)
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


def residuals(p: Array, kind: str, seen: Seen, upper: bool) -> Array:
    """Errors (K, N) of the points, of the typical one, for parameters (K, 10)."""
    lines = edge_lines(p, kind, seen)
    inner = seen.edge < 4
    here = in_spreads(_outwards(lines, seen, seen.edge), inner, seen.spread_px)
    if not upper:
        return here
    # where the inner face lies in the dark its upper edge is taken for the lath's own
    other = in_spreads(_outwards(lines, seen, _raised(seen)), inner, seen.spread_px)
    other = np.sqrt(other**2 + UPPER_TOLL)
    return np.where(inner & (other[:1] < np.abs(here[:1])), other, here)


def misses(p: Array, kind: str, seen: Seen) -> Array:
    """How far (N,) px the points lie from their edges; a lath's inner ones from the nearer one."""
    lines = edge_lines(p[None], kind, seen)
    here = np.abs(_outwards(lines, seen, seen.edge)[0])
    if kind != "lath":
        return here
    return np.minimum(here, np.abs(_outwards(lines, seen, _raised(seen))[0]))


def _raised(seen: Seen) -> Array:
    """Numbers (N,) of the edges, a lath's upper inner ones for those on the ground."""
    return np.where(seen.edge < 4, seen.edge + 8, seen.edge)


def _outwards(lines: Array, seen: Seen, edge: Array) -> Array:
    """How far (K, N) px outwards of these edges (N,) the points lie."""
    line = lines[:, edge]
    out: Array = line[:, :, 0] * seen.points[:, 0] + line[:, :, 1] * seen.points[:, 1]
    return out + line[:, :, 2]


BELIEVED = np.array([6, 7, 9])


def _belief(p: Array, kind: str) -> tuple[Array, Array]:
    """What is believed of stretch, shear and rise, as errors (3,) in units of their spread, and
    their slopes (3, 10)."""
    rise, spread = {
        "lath": (p[9] - math.log(THICK), THICK_SPREAD),
        "pipe": (0.0, 1.0),
    }.get(kind, (p[9] - LIFT, LIFT_SPREAD))
    spreads = np.array([STRETCH, SHEAR, spread])
    slope = np.zeros((3, len(p)))
    slope[np.arange(3), BELIEVED] = 1 / spreads
    return np.array([p[6], p[7], rise]) / spreads, slope


def settled(p: Array, kind: str, seen: Seen, *, upper: bool = False) -> tuple[Array, float]:
    """The parameters of least cost, from a rough start."""
    return least(
        p, lambda q: residuals(q, kind, seen, upper), seen.weight, lambda q: _belief(q, kind),
        STEPS, rounds=ROUNDS, enough=ENOUGH,
    )
