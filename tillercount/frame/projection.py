"""The plane and its picture: homographies, camera pose, and planes a little above the ground.

Ground: mm, z up. Photo: px, y down, centre of the top left pixel at (0, 0). A homography here is
(3, 3), maps ground (x, y, 1) to photo px, and is scaled so that depth is positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "View", "apply", "homography", "mm_per_px", "pose_of", "unit_matrix", "view_of",
    "view_of_pose",
]

Array = NDArray[Any]


def apply(matrix: Array, points: Array) -> Array:
    """Points (N, 2) through a homography (3, 3)."""
    p = np.asarray(points, float)
    q = np.column_stack([p, np.ones(len(p))]) @ matrix.T
    return q[:, :2] / q[:, 2:]


def homography(source: Array, target: Array) -> Array:
    """Least-squares homography (3, 3) from four or more point pairs (N, 2).

    The direct linear transform with both sets brought to unit spread first (Hartley 1997,
    "In defense of the eight-point algorithm").
    """
    a, to_a = _unit_spread(np.asarray(source, float))
    b, to_b = _unit_spread(np.asarray(target, float))
    zero, one = np.zeros(len(a)), np.ones(len(a))
    rows_u = np.column_stack(
        [a, one, zero, zero, zero, -b[:, 0] * a[:, 0], -b[:, 0] * a[:, 1], -b[:, 0]]
    )
    rows_v = np.column_stack(
        [zero, zero, zero, a, one, -b[:, 1] * a[:, 0], -b[:, 1] * a[:, 1], -b[:, 1]]
    )
    _, _, vt = np.linalg.svd(np.vstack([rows_u, rows_v]))
    h = np.linalg.solve(to_b, vt[-1].reshape(3, 3) @ to_a)
    middle = np.append(np.asarray(source, float).mean(0), 1)
    return h / math.copysign(np.linalg.norm(h), h[2] @ middle)


def _unit_spread(points: Array) -> tuple[Array, Array]:
    centre = points.mean(0)
    s = math.sqrt(2) / max(float(np.linalg.norm(points - centre, axis=1).mean()), 1e-12)
    matrix = np.array([[s, 0, -s * centre[0]], [0, s, -s * centre[1]], [0, 0, 1]])
    return (points - centre) * s, matrix


@dataclass(frozen=True, eq=False)
class View:
    """A ground plane seen by a pinhole camera.

    ``axes`` (3, 2): ground x and y in camera coordinates (x right, y down, z forward), unit on
    average but neither exactly unit nor exactly square to each other where the focal length or
    the outline is off; ``up`` (3,) unit; ``origin_mm`` (3,) the ground origin in the camera.
    """

    axes: Array
    up: Array
    origin_mm: Array
    focal_px: float
    centre_px: tuple[float, float]

    @property
    def camera(self) -> Array:
        """(3, 3) camera matrix."""
        return np.array(
            [
                [self.focal_px, 0, self.centre_px[0]],
                [0, self.focal_px, self.centre_px[1]],
                [0, 0, 1.0],
            ]
        )

    def plane_to_photo(self, height_mm: float = 0.0) -> Array:
        """Homography of the plane this high above the ground."""
        origin = self.origin_mm + height_mm * self.up
        return self.camera @ np.column_stack([self.axes, origin])

    def lower(self, height_mm: float) -> View:
        """The view whose ground lies this much lower."""
        return View(
            self.axes, self.up, self.origin_mm - height_mm * self.up, self.focal_px, self.centre_px
        )

    @property
    def tilt_deg(self) -> float:
        """Angle between the camera's axis and the perpendicular of the ground."""
        return math.degrees(math.acos(min(1.0, abs(float(self.up[2])))))

    @property
    def stretch(self) -> float:
        """How much longer ground y is seen than ground x; 1 where the outline's shape is right."""
        x, y = np.linalg.norm(self.axes, axis=0)
        return float(y / x)

    @property
    def skew_deg(self) -> float:
        """How far ground x and y are from a right angle, degrees."""
        x, y = self.axes.T / np.linalg.norm(self.axes, axis=0)[:, None]
        return math.degrees(math.asin(max(-1.0, min(1.0, float(x @ y)))))


def view_of(plane_to_photo: Array, focal_px: float, centre_px: tuple[float, float]) -> View:
    """Camera pose from a homography and a focal length (Zhang 2000, section 3.1)."""
    k = np.array([[focal_px, 0, centre_px[0]], [0, focal_px, centre_px[1]], [0, 0, 1.0]])
    b = np.linalg.solve(k, plane_to_photo)
    b = b / math.sqrt(np.linalg.norm(b[:, 0]) * np.linalg.norm(b[:, 1]))
    b = b * math.copysign(1.0, b[2, 2])
    up = np.cross(b[:, 0], b[:, 1])
    return View(b[:, :2], up / np.linalg.norm(up), b[:, 2], focal_px, centre_px)


def view_of_pose(
    turn: Array, origin_mm: Array, focal_px: float, centre_px: tuple[float, float]
) -> View:
    """View from a rotation vector (3,) and the ground origin in camera coordinates (3,)."""
    from scipy.spatial.transform import Rotation

    r = Rotation.from_rotvec(turn).as_matrix()
    return View(r[:, :2], r[:, 2], np.asarray(origin_mm, float), focal_px, centre_px)


def pose_of(view: View) -> Array:
    """Rotation vector and origin in metres (6,) of the nearest true pose."""
    from scipy.spatial.transform import Rotation

    rough = np.column_stack([view.axes, view.up])
    u, _, vt = np.linalg.svd(rough)
    turn = Rotation.from_matrix(u @ vt).as_rotvec()
    return np.concatenate([turn, view.origin_mm / 1000])


def mm_per_px(plane_to_photo: Array, at_mm: tuple[float, float] = (0.0, 0.0)) -> float:
    """Ground mm that one photo px covers at a ground point (root of the area scale)."""
    x, y = at_mm
    here = np.array([[x, y], [x + 1, y], [x, y + 1]], float)
    o, a, b = apply(plane_to_photo, here)
    area = abs((a - o)[0] * (b - o)[1] - (a - o)[1] * (b - o)[0])
    return 1 / math.sqrt(area)


def unit_matrix(matrix: Array) -> Array:
    """The homography scaled so that its last number is 1 where that can be."""
    last = float(matrix[2, 2])
    return matrix / last if abs(last) > 1e-12 else matrix
