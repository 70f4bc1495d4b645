"""Ellipses: robust fit, and what a circle seen as an ellipse says about the camera.

Ellipse as a symmetric (3, 3) matrix C with p' C p = 0 for p = (x, y, 1), C[:2, :2] positive.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "axes_of",
    "circle_views",
    "coverage",
    "ellipse_points",
    "fit_ellipse",
    "ransac_ellipse",
    "sampson",
]

Array = NDArray[Any]
_FLATTEST = 1e-6
"""Determinant, of a quadratic part of norm 1, from which a conic is taken for an ellipse."""


def sampson(conic: Array, points: Array) -> Array:
    """Signed distance (N,) px of points (N, 2) to first order, positive outside (Sampson 1982)."""
    p = np.column_stack([points, np.ones(len(points))])
    q = p @ conic
    value = (q * p).sum(1)
    slope = 2 * np.hypot(q[:, 0], q[:, 1])
    out: Array = value / np.maximum(slope, 1e-12)
    return out


def _conic(coefficients: Array, to_unit: Array) -> Array | None:
    a, b, c, d, e, f = coefficients
    conic = (
        to_unit.T @ np.array([[a, b / 2, d / 2], [b / 2, c, e / 2], [d / 2, e / 2, f]]) @ to_unit
    )
    if conic[0, 0] < 0:
        conic = -conic
    if np.linalg.det(conic) >= 0:
        return None
    out: Array = conic / float(np.linalg.norm(conic[:2, :2]))
    # below this, one axis is a thousand times the other: two lines or a parabola, which rounding
    # alone can make an ellipse, and whose centre can't be solved for
    return out if np.linalg.det(out[:2, :2]) > _FLATTEST else None


def _unit(points: Array) -> Array:
    centre = points.mean(0)
    s = 1 / max(float(np.abs(points - centre).max()), 1e-9)
    return np.array([[s, 0, -s * centre[0]], [0, s, -s * centre[1]], [0, 0, 1]])


def fit_ellipse(
    points: Array, weights: Array | None = None, *, start: Array | None = None, rounds: int = 10
) -> Array | None:
    """Weighted ellipse through points (N, 2), those far off losing weight; None if there is none.

    Algebraic fits repeated with Sampson's weights, which makes them geometric to first order,
    and Tukey's, which makes them robust.
    """
    if len(points) < 6:
        return None
    to_unit = _unit(points)
    u = points * to_unit[0, 0] + to_unit[:2, 2]
    x, y = u.T
    rows = np.column_stack([x * x, x * y, y * y, x, y, np.ones(len(x))])
    base = np.ones(len(points)) if weights is None else np.asarray(weights, float)
    conic = start
    w = base
    for _ in range(rounds):
        if conic is not None:
            off = np.abs(sampson(conic, points))
            scale = 4 * 1.4826 * float(np.median(off)) + 0.4
            w = base * np.clip(1 - (off / scale) ** 2, 0, None) ** 2
            q = np.column_stack([points, np.ones(len(points))]) @ conic
            w = w / np.maximum(np.hypot(q[:, 0], q[:, 1]) / to_unit[0, 0], 1e-9) ** 2
        if (w > 0).sum() < 6:
            return None
        weighted = rows * np.sqrt(w / w.sum())[:, None]
        _, vectors = np.linalg.eigh(weighted.T @ weighted)
        conic = _conic(vectors[:, 0], to_unit)
        if conic is None:
            return None
    return conic


def ransac_ellipse(
    points: Array, *, tolerance_px: float, rng: np.random.Generator, tries: int = 400
) -> Array | None:
    """The ellipse that most points lie near, from samples of six spread around."""
    n = len(points)
    if n < 12:
        return None
    to_unit = _unit(points)
    u = points * to_unit[0, 0] + to_unit[:2, 2]
    x, y = u.T
    rows = np.column_stack([x * x, x * y, y * y, x, y, np.ones(n)])
    # one point from each sixth of the rim, the sixths turned at random
    start = rng.integers(0, n, tries)
    inside = rng.random((tries, 6)) / 6 + np.arange(6) / 6
    pick = (start[:, None] + (inside * n).astype(int)) % n
    _, _, vt = np.linalg.svd(rows[pick])
    best, most = None, 0
    for coefficients in vt[:, -1]:
        conic = _conic(coefficients, to_unit)
        if conic is None:
            continue
        major, minor = axes_of(conic)
        if minor < 0.5 * major:
            continue
        near = int((np.abs(sampson(conic, points)) < tolerance_px).sum())
        if near > most:
            best, most = conic, near
    return best


def axes_of(conic: Array) -> tuple[float, float]:
    """Longer and shorter half axis, px."""
    a = conic[:2, :2]
    centre = np.linalg.solve(a, -conic[:2, 2])
    level = -(centre @ a @ centre + 2 * conic[:2, 2] @ centre + conic[2, 2])
    values = np.linalg.eigvalsh(a)
    first, second = np.sqrt(np.maximum(level / values, 0))
    return float(first), float(second)


def ellipse_points(conic: Array, n: int) -> tuple[Array, Array]:
    """n points (n, 2) around an ellipse, evenly in its own angle, and outward normals (n, 2)."""
    a = conic[:2, :2]
    centre = np.linalg.solve(a, -conic[:2, 2])
    values, vectors = np.linalg.eigh(a)
    level = -(centre @ a @ centre + 2 * conic[:2, 2] @ centre + conic[2, 2])
    half = np.sqrt(level / values)
    t = 2 * math.pi * np.arange(n) / n
    points = centre + (np.column_stack([np.cos(t), np.sin(t)]) * half) @ vectors.T
    normals = points @ a + conic[:2, 2]
    return points, normals / np.linalg.norm(normals, axis=1, keepdims=True)


def coverage(points: Array, centre: Array, *, sectors: int = 72) -> float:
    """Share of all directions from the centre in which there is a point."""
    if len(points) == 0:
        return 0.0
    d = points - centre
    turn = (np.arctan2(d[:, 1], d[:, 0]) / (2 * math.pi)) % 1.0
    return len(np.unique((turn * sectors).astype(int) % sectors)) / sectors


def circle_views(
    conic: Array, radius_mm: float, focal_px: float, centre_px: tuple[float, float]
) -> list[tuple[Array, Array]]:
    """The two poses in which a circle of known radius is seen as this ellipse.

    Returns (up, origin): the plane's normal towards the camera (3,) and the circle's centre (3,)
    mm in camera coordinates. One ellipse can't tell the two apart (Chen, Wu and Wada 2004,
    "Camera calibration with two arbitrary coplanar circles", section 3).
    """
    k = np.array([[focal_px, 0, centre_px[0]], [0, focal_px, centre_px[1]], [0, 0, 1.0]])
    cone = k.T @ conic @ k
    values, vectors = np.linalg.eigh(cone / np.cbrt(abs(np.linalg.det(cone))))
    # two eigenvalues of one sign, one of the other: l1 >= l2 > 0 > l3
    if (values > 0).sum() == 1:
        values, vectors = -values, vectors
    order = np.argsort(-values)
    l1, l2, l3 = values[order]
    v = vectors[:, order]
    out = []
    g = math.sqrt(max((l1 - l2) / (l1 - l3), 0.0))
    h = math.sqrt(max((l2 - l3) / (l1 - l3), 0.0))
    seen: list[Array] = []
    for s1 in (1, -1):
        for s3 in (1, -1):
            normal = s1 * g * v[:, 0] + s3 * h * v[:, 2]
            if normal[2] > 0:
                normal = -normal
            if any(float(normal @ other) > 1 - 1e-12 for other in seen):
                continue
            seen.append(normal)
            origin = _circle_centre(cone, normal, radius_mm)
            if origin is not None:
                out.append((normal, origin))
    return out


def _circle_centre(cone: Array, normal: Array, radius_mm: float) -> Array | None:
    """Centre (3,) of the circle in which a plane with this normal cuts the cone at its size."""
    axis = np.array([1.0, 0, 0]) if abs(normal[0]) < 0.9 else np.array([0, 1.0, 0])
    a = np.cross(normal, axis)
    a = a / np.linalg.norm(a)
    b = np.cross(normal, a)
    # points on the plane at depth 1 against the normal: p = -normal + x a + y b
    basis = np.column_stack([a, b, -normal])
    q = basis.T @ cone @ basis
    curve = (q[0, 0] + q[1, 1]) / 2
    if abs(curve) < 1e-15:
        return None
    x, y = -np.linalg.solve(q[:2, :2], q[:2, 2])
    level = -(q[2, 2] + q[:2, 2] @ np.array([x, y]))
    radius = math.sqrt(max(level / curve, 0.0))
    if radius <= 0:
        return None
    centre: Array = basis @ np.array([x, y, 1.0]) * (radius_mm / radius)
    return centre if centre[2] > 0 else -centre
