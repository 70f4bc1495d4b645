"""A plan as GeoJSON (RFC 7946) and as GPX 1.1 for a phone or a receiver."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from tillercount.plan.design import DESIGNS
from tillercount.plan.shapes import Degrees
from tillercount.plan.visit import Spot, VisitPlan
from tillercount.plan.words import spots_text
from tillercount.units import M2_PER_ACRE

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["SCHEMA", "to_geojson", "to_gpx"]

SCHEMA = "tillercount.plan/1"
_DECIMALS = 7


def to_geojson(plan: VisitPlan) -> dict[str, Any]:
    """Spots in walking order, then the walk, the field, its zones and what is left out.

    A FeatureCollection; each feature's ``what`` says which it is. The member ``plan``
    (foreign to the standard, ignored by other programs) keeps how the spots were drawn.
    """
    features = [_feature(_point(spot), _spot_properties(spot), spot.number) for spot in plan.spots]
    walk = [[spot.lon, spot.lat] for spot in plan.spots]
    if plan.start is not None:
        walk = [list(plan.start), *walk, list(plan.start)]
    if len(walk) > 1:
        features.append(_feature(_line(walk), {"what": "walk", "length_m": round(plan.walk_m, 1)}))
    features.append(
        _feature(
            _geometry(plan, plan.field.shape),
            {
                "what": "field",
                "name": plan.field.name,
                "named": plan.field.named,
                "area_ac": round(plan.field.area_m2 / M2_PER_ACRE, 3),
            },
        )
    )
    for zone in plan.zones:
        properties = {
            "what": "zone",
            "name": zone.name,
            "area_ac": round(zone.shape.area / M2_PER_ACRE, 3),
        }
        features.append(_feature(_geometry(plan, zone.shape), properties))
    for shape in (*plan.left_out.areas, *plan.left_out.lines):
        features.append(_feature(_geometry(plan, shape), {"what": "left out"}))
    return {
        "type": "FeatureCollection",
        "plan": {
            "schema": SCHEMA,
            "field": plan.field.name,
            "design": plan.design,
            "random_sample": plan.is_random_sample,
            "seed": plan.seed,
            "spots": len(plan.spots),
            "by_hand": len(plan.by_hand),
            "keep_off_m": round(plan.room.keep_off_m, 3),
            "keep_off_lines_m": round(plan.room.keep_off_lines_m, 3),
            "room_m2": round(plan.room.area_m2, 1),
            "why": plan.why,
            "notes": list(plan.notes),
        },
        "features": features,
    }


def _spot_properties(spot: Spot) -> dict[str, Any]:
    return {
        "what": "spot",
        "spot": spot.number,
        "by_hand": spot.by_hand,
        "zone": spot.zone or None,
        "stands_for_m2": round(spot.stands_for_m2, 1),
        "stands_for_ac": round(spot.stands_for_m2 / M2_PER_ACRE, 4),
    }


def _feature(
    geometry: dict[str, Any], properties: dict[str, Any], id_: int | None = None
) -> dict[str, Any]:
    named = {"id": id_} if id_ is not None else {}
    return {"type": "Feature", **named, "geometry": geometry, "properties": properties}


def _point(spot: Spot) -> dict[str, Any]:
    return {"type": "Point", "coordinates": [spot.lon, spot.lat]}


def _line(rows: list[list[float]]) -> dict[str, Any]:
    import shapely

    runs_on = [rows[0]]
    for lon, lat in rows[1:]:
        before = runs_on[-1][0]
        runs_on.append([before + (lon - before + 180) % 360 - 180, lat])
    return _mapped(shapely.LineString(runs_on))


def _geometry(plan: VisitPlan, shape: BaseGeometry) -> dict[str, Any]:
    return _mapped(plan.field.ground.shape_to_degrees(shape))


def _mapped(degrees: BaseGeometry) -> dict[str, Any]:
    """As GeoJSON: cut at the 180° meridian, outer rings anticlockwise (RFC 7946, 3.1.9, 3.1.6)."""
    import shapely

    west, _, east, _ = degrees.bounds
    if west < -180 or east > 180:
        pieces = []
        for turn in (-360.0, 0.0, 360.0):
            part = degrees.intersection(shapely.box(turn - 180, -90, turn + 180, 90))
            pieces.append(shapely.transform(part, _turned_back(turn)))
        degrees = shapely.union_all(pieces)
    degrees = shapely.orient_polygons(degrees)
    rounded = shapely.transform(degrees, lambda xy: xy.round(_DECIMALS))
    return dict(shapely.geometry.mapping(rounded))


def _turned_back(turn: float) -> Callable[[Degrees], Degrees]:
    return lambda xy: xy - [turn, 0.0]


def to_gpx(plan: VisitPlan) -> str:
    """GPX 1.1: a waypoint for each spot, and a route through them in walking order.

    Names sort in walking order; those to be counted by hand too end in ``hand``.
    """
    root = ElementTree.Element(
        "gpx", version="1.1", creator="tillercount", xmlns="http://www.topografix.com/GPX/1/1"
    )
    about = ElementTree.SubElement(root, "metadata")
    ElementTree.SubElement(about, "name").text = plan.field.name
    ElementTree.SubElement(
        about, "desc"
    ).text = f"{spots_text(len(plan.spots))}, {DESIGNS[plan.design]}, seed {plan.seed}"
    width = max(2, len(str(len(plan.spots))))
    for spot in plan.spots:
        _gpx_point(root, "wpt", spot, width)
    route = ElementTree.SubElement(root, "rte")
    ElementTree.SubElement(route, "name").text = f"{plan.field.name}, walk"
    for spot in plan.spots:
        _gpx_point(route, "rtept", spot, width)
    ElementTree.indent(root, " ")
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _gpx_point(parent: ElementTree.Element, kind: str, spot: Spot, width: int) -> None:
    point = ElementTree.SubElement(
        parent, kind, lat=f"{spot.lat:.{_DECIMALS}f}", lon=f"{spot.lon:.{_DECIMALS}f}"
    )
    hand = " hand" if spot.by_hand else ""
    ElementTree.SubElement(point, "name").text = f"{spot.number:0{width}d}{hand}"
    words = "photo; count by hand too" if spot.by_hand else "photo"
    if spot.zone:
        words += f"; zone {spot.zone}"
    ElementTree.SubElement(point, "desc").text = words
