"""Outlines for the tests, made from metres."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pyproj
import shapely

_GEOD = pyproj.Geod(ellps="WGS84")

SQUARE = [(0, 0), (800, 0), (800, 800), (0, 800)]
L_SHAPE = [(0, 0), (900, 0), (900, 300), (300, 300), (300, 700), (0, 700)]


def corners(
    metres: Sequence[tuple[float, float]], lon: float = -98.7, lat: float = 38.0
) -> list[tuple[float, float]]:
    """Longitude and latitude of points so many metres east and north of a place.

    By geodesics on the ellipsoid, so independent of the projection under test.
    """
    out = []
    for east, north in metres:
        angle = shapely.Point(east, north)
        distance = float(angle.distance(shapely.Point(0, 0)))
        azimuth = 90.0 - _angle_deg(east, north)
        lon_, lat_, _ = _GEOD.fwd(lon, lat, azimuth, distance)
        out.append((lon_, lat_))
    return out


def _angle_deg(east: float, north: float) -> float:
    import math

    return math.degrees(math.atan2(north, east))


def typed(points: Sequence[tuple[float, float]]) -> str:
    """As on the command line, latitude first."""
    return " ".join(f"{lat:.8f},{lon:.8f}" for lon, lat in points)


def polygon(*rings: Sequence[tuple[float, float]], **properties: Any) -> dict[str, Any]:
    closed = [[list(p) for p in (*ring, ring[0])] for ring in rings]
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": closed},
    }


def write(path: Path, *features: dict[str, Any], **more: Any) -> Path:
    path.write_text(
        json.dumps({"type": "FeatureCollection", "features": list(features), **more}),
        encoding="utf-8",
    )
    return path
