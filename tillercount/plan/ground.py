"""Degrees to metres on the ground and back, the same anywhere on earth."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.plan.shapes import Degrees

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["Ground", "Metres"]

Metres = NDArray[np.float64]
"""(N, 2) float64, east and north of the field's middle, metres on the ground."""

_FARTHEST_LAT = 89.0


@dataclass(frozen=True)
class Ground:
    """A plane laid on the ellipsoid at one place.

    Lambert's azimuthal equal-area projection of WGS 84 around that place (by PROJ): areas are
    true, so drawing evenly on the plane is drawing evenly on the ground; lengths are off by
    r² / 8R², under a millimetre in a kilometre within 18 km of the middle. There is no seam, so
    fields across the 180° meridian need no care.
    """

    lon: float
    lat: float
    _forward: Any = field(repr=False, compare=False)

    @classmethod
    def around(cls, where: Degrees) -> Ground:
        """The plane in the middle of some positions.

        Raises
        ------
        InputError
            Beyond 89° north or south, where a map has no up.
        """
        import pyproj

        lon, lat = np.radians(where[:, 0]), np.radians(where[:, 1])
        # The mean of directions; a mean of longitudes would be wrong across 180°.
        x, y, z = (
            (np.cos(lat) * np.cos(lon)).mean(),
            (np.cos(lat) * np.sin(lon)).mean(),
            np.sin(lat).mean(),
        )
        lon0 = float(np.degrees(np.arctan2(y, x)))
        lat0 = float(np.degrees(np.arctan2(z, np.hypot(x, y))))
        if abs(lat0) > _FARTHEST_LAT:
            raise InputError(
                f"the field's middle is at latitude {lat0:.2f}; within a degree of a pole nothing "
                "grows and a map has no north, so check the positions"
            )
        plane = pyproj.Transformer.from_crs(
            "OGC:CRS84",
            f"+proj=laea +lat_0={lat0!r} +lon_0={lon0!r} +datum=WGS84 +units=m +no_defs",
            always_xy=True,
        )
        return cls(lon0, lat0, plane)

    def to_m(self, where: Degrees) -> Metres:
        """(N, 2) metres from (N, 2) degrees, longitude first."""
        x, y = self._forward.transform(where[:, 0], where[:, 1])
        return np.column_stack([x, y]).astype(np.float64)

    def to_degrees(self, where: Metres) -> Degrees:
        """(N, 2) degrees, longitude first and within ±180, from (N, 2) metres."""
        lon, lat = self._forward.transform(where[:, 0], where[:, 1], direction="INVERSE")
        return np.column_stack([lon, lat]).astype(np.float64)

    def shape_to_degrees(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in degrees; longitudes run on past 180° where the shape crosses it."""
        import shapely

        def back(where: Metres) -> Degrees:
            degrees = self.to_degrees(where)
            degrees[:, 0] = self.lon + (degrees[:, 0] - self.lon + 180) % 360 - 180
            return degrees

        return shapely.transform(shape, back)
