"""A plan read from GeoJSON: spots to lay the frame on, zones, the field's outline.

Files of ``tillercount plan --geojson`` are read whole. From any other GeoJSON the points count,
each with its number or name in ``spot``, ``number``, ``name`` or ``id``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tillercount.errors import InputError
from tillercount.names import spot_text
from tillercount.store.acts import spot_key
from tillercount.units import M2_PER_ACRE

__all__ = ["PlanFile", "PlannedSpot", "PlannedZone", "read_plan"]

_NAMES = ("spot", "number", "name", "id")


@dataclass(frozen=True)
class PlannedSpot:
    """One place to count; ``number`` is its rank in walking order, from 1."""

    name: str
    number: int
    lat: float
    lon: float
    by_hand: bool = False
    zone: str = ""
    stands_for_m2: float | None = None


@dataclass(frozen=True)
class PlannedZone:
    """A zone, or the field itself: name, area and outline (a GeoJSON geometry).

    ``named`` is False where the name is that of the file in which the outline was drawn.
    """

    name: str
    area_m2: float | None
    shape: Mapping[str, Any] | None
    named: bool = True


@dataclass(frozen=True)
class PlanFile:
    """What a plan's file says. ``about`` is how the spots were drawn, where the file says it."""

    spots: tuple[PlannedSpot, ...]
    zones: tuple[PlannedZone, ...] = ()
    outline: PlannedZone | None = None
    about: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def read_plan(path: str | Path) -> PlanFile:
    """Read a plan.

    Raises
    ------
    InputError
        Not GeoJSON, no numbered points, two points with one number, positions that can't be.
    """
    from tillercount.plan.degrees import checked
    from tillercount.plan.geojson import read

    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or error
        raise InputError(f"{path}: can't be read ({reason}); check the name and place") from error
    drawing = read(data, str(path))
    if not any(thing.kind == "corners" for thing in drawing.things):
        raise InputError(f"{path}: no points, so no spots; give a file of tillercount plan")
    drawing = checked(drawing)
    record = json.loads(data.decode("utf-8-sig"))
    features = record.get("features") if isinstance(record, dict) else None
    if not isinstance(features, list):
        raise InputError(f"{path}: not a collection of features; give the plan's GeoJSON")
    points = [f for f in features if _kind(f) == "Point"]
    # The reader has put right what could be (order of the axes, declared reference systems).
    places = [thing.rings[0] for thing in drawing.things if thing.kind == "corners"]
    if len(places) != len(points) or any(len(place) != 1 for place in places):
        raise InputError(f"{path}: points in groups have no number each; give single points")
    spots: list[PlannedSpot] = []
    seen: dict[str, int] = {}
    for number, (feature, place) in enumerate(zip(points, places, strict=True), start=1):
        where = f"{path}, point {number}"
        name = _name(feature, where)
        if spot_key(name) in seen:
            raise InputError(
                f"{where}: {spot_text(name)} stands at point {seen[spot_key(name)]} already; "
                "give each spot its own number"
            )
        seen[spot_key(name)] = number
        properties = feature.get("properties") or {}
        spots.append(
            PlannedSpot(
                name=name,
                number=number,
                lat=float(place[0, 1]),
                lon=float(place[0, 0]),
                by_hand=_truth(properties.get("by_hand"), f"{where}, by_hand"),
                zone=str(properties.get("zone") or "").strip(),
                stands_for_m2=_size(properties.get("stands_for_m2"), 1, f"{where}, stands_for_m2"),
            )
        )
    zones = [_zone(f, f"{path}, zone") for f in features if _what(f) == "zone"]
    outlines = [_zone(f, f"{path}, field") for f in features if _what(f) == "field"]
    about = record.get("plan")
    return PlanFile(
        spots=tuple(spots),
        zones=tuple(zone for zone in zones if zone.name),
        outline=outlines[0] if len(outlines) == 1 else None,
        about=about if isinstance(about, dict) else {},
        notes=drawing.all_notes,
    )


def _kind(feature: Any) -> str:
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    return str(geometry.get("type")) if isinstance(geometry, dict) else ""


def _what(feature: Any) -> str:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    return str(properties.get("what")) if isinstance(properties, dict) else ""


def _name(feature: Mapping[str, Any], where: str) -> str:
    properties = feature.get("properties")
    lower = {str(k).lower(): v for k, v in (properties or {}).items()}
    lower.setdefault("id", feature.get("id"))
    for key in _NAMES:
        value = lower.get(key)
        if isinstance(value, bool) or value in (None, ""):
            continue
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        return str(value).strip()
    raise InputError(f"{where}: no number; give each point one in its property spot")


def _truth(value: Any, where: str) -> bool:
    if value is None:
        return False
    if not isinstance(value, bool):
        raise InputError(f"{where}: {value!r} is neither true nor false; write one of these")
    return value


def _size(value: Any, factor: float, where: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e12:
        raise InputError(f"{where}: {value!r} isn't an area above zero; correct it or leave it out")
    return float(value) * factor


def _zone(feature: Mapping[str, Any], where: str) -> PlannedZone:
    properties = feature.get("properties") or {}
    return PlannedZone(
        name=str(properties.get("name") or "").strip(),
        area_m2=_size(properties.get("area_ac"), M2_PER_ACRE, f"{where}, area_ac"),
        shape=feature.get("geometry"),
        named=properties.get("named") is not False,
    )
