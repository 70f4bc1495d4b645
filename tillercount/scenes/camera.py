"""A pinhole camera over the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Camera", "aim"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Where the camera is and how it looks.

    World: mm, x right, y away, z up. Photo: pixels, x right, y down, (0, 0) the centre of the
    first pixel.
    """

    place_mm: Array
    right: Array
    down: Array
    ahead: Array
    focal_px: float
    width: int
    height: int

    def project(self, points_mm: Array) -> Array:
        """Photo pixels (N, 2) of world points (N, 3)."""
        d = np.asarray(points_mm, float) - self.place_mm
        depth = d @ self.ahead
        x = self.focal_px * (d @ self.right) / depth + (self.width - 1) / 2
        y = self.focal_px * (d @ self.down) / depth + (self.height - 1) / 2
        return np.stack([x, y], -1)

    def plane_to_photo(self, z_mm: float) -> Array:
        """Homography (3, 3) from the plane z to the photo.

        Plane coordinates are millimetres seen from above: x right, y TOWARDS the photographer
        (the world's y turned round), so that nothing is mirrored.
        """
        k = np.array([
            [self.focal_px, 0, (self.width - 1) / 2],
            [0, self.focal_px, (self.height - 1) / 2],
            [0, 0, 1],
        ])
        turn = np.stack([self.right, self.down, self.ahead])
        origin = turn @ (np.array([0, 0, z_mm]) - self.place_mm)
        h = k @ np.stack([turn[:, 0], -turn[:, 1], origin], -1)
        return np.asarray(h / h[2, 2])

    @property
    def tilt_deg(self) -> float:
        """Angle between the viewing direction and straight down."""
        return float(np.degrees(np.arccos(np.clip(-self.ahead[2], -1, 1))))


def aim(
    target_mm: Array, distance_mm: float, tilt_deg: float, tilt_way: float, yaw: float,
    focal_px: float, width: int, height: int,
) -> Camera:
    """A camera that looks at `target_mm` from `distance_mm`, tilted from the vertical.

    `tilt_way` is the compass direction in which it leans; `yaw` turns it about its axis.
    """
    tilt = np.deg2rad(tilt_deg)
    lean = np.array([np.cos(tilt_way), np.sin(tilt_way)])
    ahead = np.array([*(np.sin(tilt) * lean), -np.cos(tilt)])
    up = np.array([np.sin(yaw), np.cos(yaw), 0.0])
    right = np.cross(ahead, up)
    right /= np.linalg.norm(right)
    down = np.cross(ahead, right)
    place = np.array([*target_mm[:2], 0.0]) - ahead * distance_mm
    return Camera(place, right, down, ahead, focal_px, width, height)
