"""Invented counts and plans of an invented farm."""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

from tillercount.store import Where

NORTH = Where("Elm Hill", "North")
LAT, LON = 38.5, -97.5
_M_PER_DEGREE = 111_195.0  # of latitude, on the mean sphere


def at(east_m: float, north_m: float) -> tuple[float, float]:
    """Latitude and longitude so far from the field's corner."""
    lat = LAT + north_m / _M_PER_DEGREE
    return lat, LON + east_m / (_M_PER_DEGREE * math.cos(math.radians(LAT)))


def entry(number: int, **values: Any) -> dict[str, Any]:
    """One photo of a counts file."""
    plants = 20.0 + number
    return {
        "photo": f"north/IMG_{number}.jpg",
        "status": "counted",
        "reason": None,
        "sha256": hashlib.sha256(str(number).encode()).hexdigest(),
        "taken_at": None,
        "lat": None,
        "lon": None,
        "area": {"kind": "square", "text": "square:304.8mm", "ft2": 1.0},
        "plants": {"count": plants, "low": plants - 5, "high": plants + 6},
        "shoots": {"count": plants * 3, "low": plants * 2, "high": plants * 4},
        "flags": [],
    } | values


def counts(entries: list[dict[str, Any]], **values: Any) -> dict[str, Any]:
    """A counts file."""
    return {
        "schema": "tillercount.counts/1",
        "model": {"name": "invented", "sha256": "ab" * 32, "bias_rel": 0.05},
        "interval_level": 0.9,
        "spots": entries,
    } | values


def write(path: Path, record: Any) -> Path:
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


def plan(places: list[tuple[float, float]], **more: list[Any]) -> dict[str, Any]:
    """A plan with spots 1, 2, ... so many metres east and north of the field's corner."""
    features = []
    for number, (east, north) in enumerate(places, start=1):
        lat, lon = at(east, north)
        properties = {"what": "spot", "spot": number, "by_hand": False, "zone": None}
        for key, values in more.items():
            properties[key] = values[number - 1]
        features.append(
            {
                "type": "Feature",
                "id": number,
                "geometry": {"type": "Point", "coordinates": [lon, lat]},
                "properties": properties,
            }
        )
    return {"type": "FeatureCollection", "plan": {"design": "random"}, "features": features}


def hand_csv(path: Path, rows: str) -> Path:
    path.write_text(f"spot,observer,plants,shoots,area\n{rows}\n", encoding="utf-8")
    return path
