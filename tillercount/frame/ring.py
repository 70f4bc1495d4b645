"""A hoop from both edges of its pipe at once: one camera, one circle, one pipe.

The inside edge alone gives the ellipse, and the tilt by the little that a circle seen aslant is
shorter; where leaves or a shadow push the edge in somewhere, both go wrong. The outer edge of the
same pipe is mostly pushed in elsewhere. Six numbers say where both edges of a pipe of unknown
width on a circle of known size are seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.least import least
from tillercount.frame.misread import INTO, in_spreads, spread_px
from tillercount.frame.projection import View, mm_per_px
from tillercount.frame.section import pipe_edges

__all__ = ["Ring", "fit_ring"]

Array = NDArray[Any]

WORTH = 48.0
"""Independent readings that a whole edge is worth: neighbours err alike."""
TILT_RAD = 0.25
"""Typical tilt of a camera held by hand over a frame; it decides only where little is seen."""
ROUNDS, ENOUGH = 20, 0.02
STEPS = np.array([1e-5, 1e-5, 1e-2, 1e-2, 1e-2, 1e-4])


@dataclass(frozen=True, eq=False)
class Ring:
    """A fitted hoop: ``view`` of the ground below it, the pipe's ``width_mm``, and ``cost``,
    minus twice the logarithm of how likely the edges are, and ``residual_px``, how far places on
    the inside edge lie from it (median, as a standard deviation)."""

    view: View
    width_mm: float
    cost: float
    residual_px: float


def fit_ring(
    inner: Array,
    outer: Array,
    weight: Array,
    radius_mm: float,
    start: View,
    width_mm: float,
    within_share: float = INTO,
) -> Ring:
    """Fit a hoop to places on both edges of its pipe.

    Parameters
    ----------
    inner, outer : ndarray (N, 2)
        Places on the inner and the outer edge, picture px, one of each per profile.
    weight : ndarray (N,)
        How clear each profile is.
    radius_mm : float
        Inside radius of the hoop.
    start : View
        Rough view of the ground.
    width_mm : float
        Rough width of the pipe.
    within_share : float
        See `misread.within_share`.
    """
    points = np.concatenate([inner, outer])
    x, y = start.centre_px
    rays = np.column_stack([(points - [x, y]) / start.focal_px, np.ones(len(points))])
    is_outer = np.arange(len(points)) >= len(inner)
    mm = mm_per_px(start.plane_to_photo())
    without, within = spread_px(mm, width_mm / mm, within_share)
    spread = without * mm, within * mm
    share = np.tile(weight, 2) / max(float(weight.sum()), 1e-9) * WORTH
    rough = np.column_stack([start.axes, start.up])
    u, _, vt = np.linalg.svd(rough)
    base = u @ vt
    p = np.concatenate([[0.0, 0.0], start.origin_mm, [math.log(max(width_mm, 1.0))]])

    def outwards(q: Array) -> Array:
        """How far (K, N) mm beyond their edges the points lie, for parameters (K, 6)."""
        turn = _turned(base, q[:, :2])
        origin, width = q[:, 2:5], np.exp(q[:, 5:])
        camera = -np.einsum("kji,kj->ki", turn, origin)
        way = np.einsum("kji,nj->kni", turn, rays)
        ground = camera[:, None, :2] - camera[:, None, 2:] / way[:, :, 2:] * way[:, :, :2]
        far = np.linalg.norm(ground, axis=2)
        foot = np.einsum("kni,ki->kn", ground, camera[:, :2]) / np.maximum(far, 1e-9)
        half = np.full((1, 1), radius_mm)
        near, beyond = pipe_edges(foot, camera[:, 2:], half, width / 2, np.zeros((1, 1)))
        return far - np.where(is_outer, beyond, near)

    def off(q: Array) -> Array:
        return in_spreads(outwards(q), ~is_outer, spread)

    def belief(q: Array) -> tuple[Array, Array]:
        """Tilt, of the typical one, as two errors, and their slopes (2, 6)."""
        tilts = _turned(base, q[:2] + lean_steps)[:, :2, 2] / TILT_RAD
        slope = np.zeros((2, len(q)))
        slope[:, :2] = ((tilts[1:] - tilts[0]) / STEPS[:2, None]).T
        return tilts[0], slope

    lean_steps = np.vstack([np.zeros(2), np.diag(STEPS[:2])])
    p, cost = least(p, off, share, belief, STEPS, rounds=ROUNDS, enough=ENOUGH)
    turn = _turned(base, p[None, :2])[0]
    view = View(turn[:, :2], turn[:, 2], p[2:5], start.focal_px, start.centre_px)
    left = np.abs(outwards(p[None])[0][~is_outer]) / mm
    return Ring(view, math.exp(p[5]), cost, 1.4826 * float(np.median(left)))


def _turned(base: Array, lean: Array) -> Array:
    """Axes (K, 3, 3) leaned by small angles (K, 2) about the ground's own x and y."""
    from scipy.spatial.transform import Rotation

    vectors = np.column_stack([lean, np.zeros(len(lean))])
    out: Array = base @ Rotation.from_rotvec(vectors).as_matrix()
    return out
