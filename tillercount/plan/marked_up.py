"""KML placemarks, and GPX tracks, routes and waypoints."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable

from tillercount.errors import InputError
from tillercount.plan.shapes import Degrees, Drawing, Drawn, ring_of

__all__ = ["read"]


def read(data: bytes, source: str) -> Drawing:
    """Areas, lines and points of a KML or GPX text. Heights and times are left out.

    The pieces of one recorded track are joined in their order; waypoints are taken as corners only
    if there is nothing else.

    Raises
    ------
    InputError
        Not XML, neither KML nor GPX, a document type declaration, unreadable positions.
    """
    # Neither format needs one, and entities in it can blow a small file up to gigabytes.
    if b"<!DOCTYPE" in data[:4096].upper() or b"<!ENTITY" in data.upper():
        raise InputError(f"{source} declares a document type; save it again as plain KML or GPX")
    try:
        root = ElementTree.fromstring(data)
    except ElementTree.ParseError as error:
        raise InputError(
            f"{source}, line {error.position[0]}: not readable XML; save it again as KML or GPX"
        ) from None
    kind = _tag(root)
    if kind == "gpx":
        return Drawing(source, tuple(_gpx(root, source)))
    if kind == "kml":
        return Drawing(source, tuple(_kml(root, source)))
    raise InputError(f"{source} is XML but neither KML nor GPX ({kind}); save it as one of these")


def _tag(element: ElementTree.Element) -> str:
    """Name without its namespace; versions of both formats differ in it."""
    return str(element.tag).rsplit("}", 1)[-1]


def _all(element: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [child for child in element.iter() if _tag(child) == name]


def _text(element: ElementTree.Element, name: str) -> str:
    """Text of a direct child."""
    for child in element:
        if _tag(child) == name:
            return (child.text or "").strip()
    return ""


def _gpx(root: ElementTree.Element, source: str) -> Iterable[Drawn]:
    found = False
    for line, point in (("trk", "trkpt"), ("rte", "rtept")):
        for track in _all(root, line):
            name = _text(track, "name")
            rows = [_lon_lat(p, source) for p in _all(track, point)]
            if rows:
                found = True
                yield Drawn("track", name, (ring_of(rows, _where(source, name)),))
    points = [_lon_lat(p, source) for p in _all(root, "wpt")]
    if points and not found:
        yield Drawn("corners", "", (ring_of(points, source),))


def _lon_lat(point: ElementTree.Element, source: str) -> tuple[float, float]:
    try:
        return float(point.attrib["lon"]), float(point.attrib["lat"])
    except (KeyError, ValueError):
        raise InputError(
            f"{source}: a point with lat={point.attrib.get('lat')!r} and "
            f"lon={point.attrib.get('lon')!r} can't be read; mend it or save the track again"
        ) from None


def _kml(root: ElementTree.Element, source: str) -> Iterable[Drawn]:
    marks = _all(root, "Placemark") or [root]
    for mark in marks:
        name = _text(mark, "name")
        where = _where(source, name)
        inside_areas = set()
        for area in _all(mark, "Polygon"):
            rings = []
            for edge in ("outerBoundaryIs", "innerBoundaryIs"):
                for ring in (r for side in _all(area, edge) for r in _all(side, "coordinates")):
                    inside_areas.add(ring)
                    rings.append(_coordinates(ring.text, where))
            if rings:
                yield Drawn("area", name, tuple(rings))
        for line in (*_all(mark, "LineString"), *_all(mark, "LinearRing")):
            for ring in _all(line, "coordinates"):
                if ring not in inside_areas:
                    yield Drawn("track", name, (_coordinates(ring.text, where),))
        for track in _all(mark, "Track"):
            rows = [(c.text or "").split() for c in _all(track, "coord")]
            if rows:
                yield Drawn("track", name, (ring_of(_numbers(rows, where), where),))


def _coordinates(text: str | None, where: str) -> Degrees:
    # Some programs put blanks after the commas, against the standard.
    tidy = ",".join(part.strip() for part in (text or "").split(","))
    rows = [tuple_text.split(",") for tuple_text in tidy.split()]
    return ring_of(_numbers(rows, where), where)


def _numbers(rows: list[list[str]], where: str) -> list[list[float]]:
    try:
        return [[float(cell) for cell in row[:2]] for row in rows]
    except ValueError as error:
        raise InputError(f"{where}: {error}; save the outline again") from None


def _where(source: str, name: str) -> str:
    return f"{source}, {name!r}" if name else source
