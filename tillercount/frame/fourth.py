"""The fourth side of a frame of known size, from the three that are seen.

Three lines fix the pose of a camera whose focal length is known: six numbers, six unknowns.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RectArea, SquareArea
from tillercount.frame.finder import Picture
from tillercount.frame.lines import Line, in_order, meet
from tillercount.frame.outline import size_mm
from tillercount.frame.projection import (
    View,
    apply,
    homography,
    pose_of,
    view_of,
    view_of_pose,
)

__all__ = ["fourth_line"]

Array = NDArray[Any]

LARGEST_TILT_DEG = 40.0
OFF_PX = 2.0
"""How far a completed frame's seen sides may be from where they were seen."""
ENDS = np.array([[3, 0], [0, 1], [1, 2]])
"""Corners at the ends of the three seen sides; the middle one of them lies between 0 and 1."""


def fourth_line(
    three: list[Line], picture: Picture, area: SquareArea | RectArea, near: Line | None = None
) -> Line | None:
    """Line of the missing side, or None where it can't be told.

    Three sides of a rectangle don't say which way round it lies; then the way that puts the
    fourth side closer to ``near`` is taken, and without it there is no answer.
    """
    first, middle, last = _around(three)
    p, q = meet(first, middle), meet(middle, last)
    if not (np.isfinite(p).all() and np.isfinite(q).all()):
        return None
    w, h = size_mm(area)
    shapes = [(w, h)] if w == h else [(w, h), (h, w)]
    if len(shapes) > 1 and near is None:
        return None
    options = []
    for along, deep in shapes:
        far = _far_side((first, middle, last), (p, q), along, deep, picture)
        if far is not None:
            options.append(far)
    if not options:
        return None
    if near is None or len(options) == 1:
        return _through(options[0], (p + q) / 2)
    best = min(options, key=lambda ends: float(np.abs(near.distance(ends)).mean()))
    return _through(best, (p + q) / 2)


def _around(three: list[Line]) -> tuple[Line, Line, Line]:
    """The three in the order in which one meets them, the gap behind the last."""
    ring = in_order(three)
    angles = [math.atan2(line.normal[1], line.normal[0]) for line in ring]
    gaps = [(angles[(i + 1) % 3] - angles[i]) % (2 * math.pi) for i in range(3)]
    start = (int(np.argmax(gaps)) + 1) % 3
    return ring[start], ring[(start + 1) % 3], ring[(start + 2) % 3]


def _through(ends: Array, inside: Array) -> Line:
    d = ends[1] - ends[0]
    normal = np.array([-d[1], d[0]]) / np.linalg.norm(d)
    return Line(normal, float(normal @ ends[0])).facing_away_from(inside)


def _far_side(
    lines: tuple[Line, Line, Line],
    base: tuple[Array, Array],
    along: float,
    deep: float,
    picture: Picture,
) -> Array | None:
    """Ends (2, 2) px of the missing side of a frame of this size standing on its base."""
    from scipy.optimize import least_squares

    p, q = base
    inward = -lines[1].normal
    reach = float(np.linalg.norm(q - p)) * deep / along
    guess_q = q + _towards(lines[2].along, inward) * reach
    guess_p = p + _towards(lines[0].along, inward) * reach
    ring = np.array([p, q, guess_q, guess_p])
    model = np.array([[-along, 0], [along, 0], [along, 2 * deep], [-along, 2 * deep]]) / 2
    if _signed_area(ring) > 0:  # walked the other way round
        model = model * [-1, 1]

    def seen_from(pose: Array) -> View:
        return view_of_pose(pose[:3], pose[3:] * 1000, picture.focal_px, picture.centre_px)

    def off(pose: Array) -> Array:
        px = apply(seen_from(pose).plane_to_photo(), model)
        sides = zip(lines, ENDS, strict=True)
        return np.concatenate([line.distance(px[ends]) for line, ends in sides])

    start = view_of(homography(model, ring), picture.focal_px, picture.centre_px)
    try:
        done = least_squares(off, pose_of(start), method="lm", max_nfev=200)
    except ValueError:
        return None
    view = seen_from(done.x)
    bad = float(np.abs(done.fun).max()) > OFF_PX or view.tilt_deg > LARGEST_TILT_DEG
    if bad or view.origin_mm[2] <= 0:
        return None
    return apply(view.plane_to_photo(), model)[[2, 3]]


def _towards(direction: Array, way: Array) -> Array:
    return direction if direction @ way > 0 else -direction


def _signed_area(ring: Array) -> float:
    x, y = ring.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
