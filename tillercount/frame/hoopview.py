"""The camera's pose as one hoop of known size and its pipe tell it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.ellipse import axes_of, circle_views
from tillercount.frame.finder import Picture
from tillercount.frame.height import pipe_of
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.misread import within_share
from tillercount.frame.projection import View
from tillercount.frame.ring import Ring, fit_ring

__all__ = ["ring_of_hoop", "stretched_view"]

Array = NDArray[Any]

SAME_DEG = 2.0
"""Poses nearer to each other than this are one."""
TWIN_COST = 6.0
"""Minus twice the logarithm of how much less likely the second pose must be to be out of the
question: one in twenty."""


def ring_of_hoop(
    hoop: HoopFit, radius_mm: float, picture: Picture, evidence: dict[str, Any]
) -> Ring:
    """The hoop of known inside radius, fitted to both edges of its pipe.

    A circle seen as an ellipse leaves two poses; both are starts, and a level camera is a third,
    for an edge that was read along a shadow looks like a tilt. The one is taken in which the
    pipe's two edges lie as they should. Where another explains the edges about as well,
    ``evidence["tilt_known"]`` is False.
    """
    twins = circle_views(hoop.conic, radius_mm, picture.focal_px, picture.centre_px)
    views = [_aligned(up, origin, picture) for up, origin in twins]
    views.append(_level(hoop.conic, radius_mm, picture))
    share = within_share(picture, [(hoop.inner, hoop.outer)])
    rings = []
    for view in views:
        pipe = pipe_of(view, hoop.width_px, radius_mm)
        ground = view.lower(pipe.height_mm)
        rings.append(
            fit_ring(
                hoop.inner, hoop.outer, hoop.weight, radius_mm, ground, pipe.width_mm, share
            )
        )
    rings.sort(key=lambda ring: ring.cost)
    best = rings[0]
    poses = [best]
    for ring in rings[1:]:
        away = [math.acos(min(1.0, float(ring.view.up @ pose.view.up))) for pose in poses]
        if ring.cost - best.cost < TWIN_COST and math.degrees(min(away)) > SAME_DEG:
            poses.append(ring)
    evidence["possible_tilts_deg"] = sorted(round(pose.view.tilt_deg, 1) for pose in poses)
    evidence["tilt_known"] = len(poses) == 1
    return best


def _aligned(up: Array, origin: Array, picture: Picture) -> View:
    """View with the ground's x axis along the photo's."""
    x = np.array([1.0, 0, 0]) - up[0] * up
    x = x / np.linalg.norm(x)
    return View(
        np.column_stack([x, np.cross(up, x)]), up, origin, picture.focal_px, picture.centre_px
    )


def _level(conic: Array, radius_mm: float, picture: Picture) -> View:
    """View from a level camera that sees a circle of this radius about as large as the ellipse."""
    centre = np.linalg.solve(conic[:2, :2], -conic[:2, 2])
    depth = picture.focal_px * radius_mm / (sum(axes_of(conic)) / 2)
    origin = np.append((centre - picture.centre_px) * depth / picture.focal_px, depth)
    return _aligned(np.array([0.0, 0.0, -1.0]), origin, picture)


def stretched_view(conic: Array, radius_mm: float, picture: Picture) -> View:
    """The ellipse stretched to a circle, without turning it; the camera taken for upright."""
    a = conic[:2, :2]
    centre = np.linalg.solve(a, -conic[:2, 2])
    level = -(centre @ a @ centre + 2 * conic[:2, 2] @ centre + conic[2, 2])
    values, vectors = np.linalg.eigh(a)
    half = np.sqrt(level / values)
    grow = vectors @ np.diag(half) @ vectors.T / radius_mm
    matrix = np.array(
        [[grow[0, 0], -grow[0, 1], centre[0]], [grow[1, 0], -grow[1, 1], centre[1]], [0, 0, 1.0]]
    )
    depth = picture.focal_px / math.sqrt(abs(float(np.linalg.det(grow))))
    axes = np.vstack([matrix[:2, :2] * depth / picture.focal_px, [0.0, 0.0]])
    origin = np.append((centre - picture.centre_px) * depth / picture.focal_px, depth)
    return View(axes, np.array([0, 0, -1.0]), origin, picture.focal_px, picture.centre_px)
