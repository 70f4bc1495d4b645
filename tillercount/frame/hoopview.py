"""The camera's pose as far as one circle of known size tells it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.ellipse import circle_views
from tillercount.frame.finder import Picture
from tillercount.frame.height import camera_mm
from tillercount.frame.projection import View, apply

__all__ = ["stretched_view", "view_of_hoop"]

Array = NDArray[Any]

UPRIGHT_DEG = 5.0
TWIN_MARGIN, TWIN_NOISE = 1.5, 0.001
"""How many times better one of the two poses must explain the outer edge to be believed."""


def view_of_hoop(
    conic: Array,
    radius_mm: float,
    picture: Picture,
    outer: Array,
    evidence: dict[str, Any],
    pipe_radius_mm: float = 0.0,
) -> View:
    """View of the plane of a circle of known radius.

    A circle seen as an ellipse leaves two poses. Below 5 degrees both are taken for upright and
    the ellipse is only stretched to a circle; above, the pose is taken in which the pipe's outer
    edge lies around the inner one as that of a pipe of ``pipe_radius_mm`` would, and where that
    doesn't decide, the ellipse is stretched and ``evidence["tilt_known"]`` is False.
    """
    twins = circle_views(conic, radius_mm, picture.focal_px, picture.centre_px)
    views = [_aligned(up, origin, picture) for up, origin in twins]
    flat = stretched_view(conic, radius_mm, picture)
    tilts = sorted(v.tilt_deg for v in views)
    evidence["possible_tilts_deg"] = [round(t, 1) for t in tilts]
    evidence["tilt_known"] = True
    if not views or tilts[0] < UPRIGHT_DEG:
        return flat
    wobbles = [_wobble(v, outer, radius_mm, pipe_radius_mm) for v in views]
    order = np.argsort(wobbles)
    evidence["outer_edge_off"] = [round(float(wobbles[i]), 4) for i in order]
    if len(views) == 1 or wobbles[order[1]] > TWIN_MARGIN * wobbles[order[0]] + TWIN_NOISE:
        return views[int(order[0])]
    evidence["tilt_known"] = False
    return flat


def _aligned(up: Array, origin: Array, picture: Picture) -> View:
    """View with the ground's x axis along the photo's."""
    x = np.array([1.0, 0, 0]) - up[0] * up
    x = x / np.linalg.norm(x)
    return View(
        np.column_stack([x, np.cross(up, x)]), up, origin, picture.focal_px, picture.centre_px
    )


def _wobble(view: View, outer: Array, radius_mm: float, pipe_radius_mm: float) -> float:
    """How far outer edge points are from where this pose would show them, share of the radius.

    Only the part that goes once around counts: that is what the wrong pose of the two adds.
    """
    if len(outer) < 20:
        return 0.0
    ground = apply(np.linalg.inv(view.plane_to_photo()), outer)
    radius = np.linalg.norm(ground, axis=1)
    unit = ground / radius[:, None]
    design = np.column_stack([np.ones(len(radius)), unit])
    keep = np.ones(len(radius), bool)
    fitted = np.zeros(3)
    for _ in range(4):
        fitted, *_ = np.linalg.lstsq(design[keep], radius[keep], rcond=None)
        off = np.abs(radius - design @ fitted)
        keep = off < 3 * 1.4826 * np.median(off[keep]) + 1e-9
        if keep.sum() < 12:
            break
    expected = _eccentric_mm(view, radius_mm, pipe_radius_mm)
    return float(np.linalg.norm(fitted[1:] - expected) / fitted[0])


def _eccentric_mm(view: View, radius_mm: float, pipe_radius_mm: float) -> Array:
    """By how much (x, y) the middle of a pipe's outer edge lies off that of its inner one, mm.

    Rays graze a round pipe r / cos(angle of view) from its axis, so on the side that is seen
    more aslant the inner edge lies further in and the outer one further out.
    """
    x, y, z = camera_mm(view)
    angle = 2 * np.pi * np.arange(72) / 72
    around = np.column_stack([np.cos(angle), np.sin(angle)])
    slope = (radius_mm + pipe_radius_mm - around @ np.array([x, y])) / abs(float(z))
    once_around = 2 * (np.sqrt(1 + slope**2)[:, None] * around).mean(0)
    out: Array = 2 * pipe_radius_mm * once_around
    return out


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
