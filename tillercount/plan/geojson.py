"""GeoJSON (RFC 7946): longitude first, WGS 84; files from before it may declare another CRS."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from tillercount.errors import InputError
from tillercount.plan.shapes import Degrees, Drawing, Drawn, ring_of

__all__ = ["read"]

_NAMES = ("name", "field", "field_name", "fieldname", "zone", "title", "label", "id")
_WGS84 = ("CRS84", "4326", "4979", "CRS84H")
_DEEPEST = 20


def read(data: bytes, source: str) -> Drawing:
    """Areas, lines and points of a GeoJSON text.

    A declared CRS other than WGS 84 is converted (2008 form of GeoJSON; RFC 7946 dropped it).

    Raises
    ------
    InputError
        Not JSON, not GeoJSON, a CRS that isn't known, a position that can't be read.
    """
    try:
        record = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(f"{source} isn't UTF-8 text; save it again as GeoJSON") from None
    except json.JSONDecodeError as error:
        raise InputError(
            f"{source}, line {error.lineno}: not readable JSON ({error.msg}); save it again"
        ) from None
    except RecursionError:
        raise InputError(f"{source} is nested too deeply; save it again as GeoJSON") from None
    if not isinstance(record, dict) or "type" not in record:
        raise InputError(f"{source} is JSON but not GeoJSON (it has no type); save it as GeoJSON")
    notes: list[str] = []
    things = tuple(_things(record, "", source, notes, 0))
    if "crs" in record:
        things = _converted(things, record["crs"], source, notes)
    return Drawing(source, things, tuple(notes))


def _things(record: Any, name: str, source: str, notes: list[str], depth: int) -> Iterator[Drawn]:
    if record is None:
        return
    where = f"{source}, {name!r}" if name else source
    if not isinstance(record, dict) or depth > _DEEPEST:
        raise InputError(f"{where}: {str(record)[:40]!r} isn't a GeoJSON object; save it again")
    kind = record.get("type")
    if kind == "FeatureCollection":
        for feature in _list(record, "features", where):
            yield from _things(feature, name, source, notes, depth + 1)
    elif kind == "Feature":
        own = _name(record) or name
        yield from _things(record.get("geometry"), own, source, notes, depth + 1)
    elif kind == "GeometryCollection":
        for part in _list(record, "geometries", where):
            yield from _things(part, name, source, notes, depth + 1)
    else:
        yield from _geometry(kind, record, name, where, notes)


def _geometry(
    kind: Any, record: dict[str, Any], name: str, where: str, notes: list[str]
) -> Iterator[Drawn]:
    positions = _list(record, "coordinates", where)
    if kind == "Polygon":
        yield _area(positions, name, where, notes)
    elif kind == "MultiPolygon":
        for part in positions:
            yield _area(part, name, where, notes)
    elif kind == "LineString":
        yield Drawn("track", name, (ring_of(positions, where),))
    elif kind == "MultiLineString":
        for part in positions:
            yield Drawn("track", name, (ring_of(_rows(part, where), where),))
    elif kind == "MultiPoint":
        yield Drawn("corners", name, (ring_of(positions, where),))
    elif kind == "Point":
        yield Drawn("corners", name, (ring_of([positions], where),))
    else:
        raise InputError(f"{where}: {str(kind)[:40]!r} isn't a type of GeoJSON; save it again")


def _area(rings: Any, name: str, where: str, notes: list[str]) -> Drawn:
    made: list[Degrees] = []
    for rows in _rows(rings, where):
        ring = ring_of(_rows(rows, where), where)
        if len(ring) and (ring[0] != ring[-1]).any():
            note = f"{where}: a ring that wasn't closed was closed"
            if note not in notes:
                notes.append(note)
        made.append(ring)
    if not made:
        raise InputError(f"{where}: an area without corners; draw it again")
    return Drawn("area", name, tuple(made))


def _rows(value: Any, where: str) -> list[Any]:
    if not isinstance(value, list):
        raise InputError(f"{where}: {str(value)[:40]!r} isn't a list of positions; save it again")
    return value


def _list(record: dict[str, Any], key: str, where: str) -> list[Any]:
    value = record.get(key)
    if not isinstance(value, list):
        raise InputError(f"{where}: no list of {key}; save it again as GeoJSON")
    return value


def _name(feature: dict[str, Any]) -> str:
    properties = feature.get("properties")
    if isinstance(properties, dict):
        lower = {str(key).lower(): value for key, value in properties.items()}
        for key in _NAMES:
            if lower.get(key) not in (None, ""):
                return str(lower[key]).strip()
    return ""


def _converted(
    things: tuple[Drawn, ...], crs: Any, source: str, notes: list[str]
) -> tuple[Drawn, ...]:
    properties = crs.get("properties") if isinstance(crs, dict) else None
    code = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(code, str):
        raise InputError(
            f"{source}: its crs member names no coordinate reference system; save the file as "
            "WGS 84 (EPSG:4326)"
        )
    if code.replace("::", ":").rsplit(":", 1)[-1] in _WGS84:
        return things
    import numpy as np
    import pyproj

    try:
        change = pyproj.Transformer.from_crs(code, "OGC:CRS84", always_xy=True)
    except pyproj.exceptions.CRSError:
        raise InputError(
            f"{source}: the coordinate reference system {code[:60]!r} isn't known; save the file "
            "as WGS 84 (EPSG:4326)"
        ) from None
    out = []
    for thing in things:
        rings = []
        for ring in thing.rings:
            lon, lat = change.transform(ring[:, 0], ring[:, 1])
            turned = np.column_stack([lon, lat])
            if not np.isfinite(turned).all():
                raise InputError(
                    f"{source}: positions lie outside of what {code} covers; check which CRS the "
                    "file is really in"
                )
            rings.append(turned)
        out.append(Drawn(thing.kind, thing.name, tuple(rings)))
    notes.append(f"{source}: positions in {code} converted to WGS 84")
    return tuple(out)
