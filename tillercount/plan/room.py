"""Where spots may lie: the field less its edge, wheel tracks and areas left out; and its zones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tillercount.errors import InputError
from tillercount.plan.boundary import Field, areas_in_m, polygons
from tillercount.plan.shapes import read_drawing
from tillercount.plan.words import acres, feet, share

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

__all__ = ["LeftOut", "Room", "Zone", "make_room", "read_left_out", "read_zones"]

_NEVER_CLOSER_M = 0.02
"""On top of the distance kept, for positions are rounded to about a centimetre."""


@dataclass(frozen=True)
class Zone:
    """A part of the field that is assessed by itself; metres, cut to the field."""

    name: str
    shape: Polygon | MultiPolygon


@dataclass(frozen=True)
class LeftOut:
    """Areas (and single points) no spot may lie in, and lines such as wheel tracks; metres."""

    areas: tuple[BaseGeometry, ...] = ()
    lines: tuple[BaseGeometry, ...] = ()


@dataclass(frozen=True)
class Room:
    """Where spots may lie; metres in the field's plane."""

    shape: Polygon | MultiPolygon
    keep_off_m: float
    keep_off_lines_m: float
    notes: tuple[str, ...]

    @property
    def area_m2(self) -> float:
        """Square metres that can be drawn from."""
        return float(self.shape.area)


def make_room(field: Field, keep_off_m: float, left_out: LeftOut, keep_off_lines_m: float) -> Room:
    """Take from the field what lies too near to its edge, to tracks and to areas left out.

    Raises
    ------
    InputError
        Nothing is left.
    """
    import shapely

    shape: BaseGeometry = _shrunk(field.shape, keep_off_m)
    inside = shape.area
    for area in left_out.areas:
        shape = shape.difference(_grown(area, keep_off_m))
    for line in left_out.lines:
        shape = shape.difference(_grown(line, keep_off_lines_m))
    # Slivers between tracks and edges that nobody could find with a phone.
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 1.0]
    if not parts:
        why = "the distance kept off the edge" if inside <= 1.0 else "what is left out"
        raise InputError(
            f"no room for spots: {why} ({feet(keep_off_m)}) takes all of the {acres(field.area_m2)}"
            "; give a smaller --keep-off, or check what is excluded"
        )
    room = parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
    lost = 1 - room.area / field.area_m2
    notes = []
    if lost > 0.005:
        notes.append(
            f"no spot can fall on {acres(field.area_m2 - room.area)} ({share(lost)}) at the edge "
            "or left out: what is found holds for the rest of the field"
        )
    for number, area in enumerate(left_out.areas, start=1):
        if not area.intersects(field.shape):
            notes.append(f"area {number} to leave out doesn't touch the field; check its place")
    if left_out.lines and not any(line.intersects(field.shape) for line in left_out.lines):
        notes.append("none of the lines to keep off runs through the field; check their place")
    return Room(room, keep_off_m, keep_off_lines_m, tuple(notes))


def _enough(distance_m: float) -> float:
    # The library draws round corners as polygons and simplifies by up to 1 %; ask for a little
    # more, so that no spot is nearer than was promised.
    return distance_m * 1.011 + _NEVER_CLOSER_M


def _shrunk(shape: BaseGeometry, distance_m: float) -> BaseGeometry:
    return shape.buffer(-_enough(distance_m), quad_segs=32)


def _grown(shape: BaseGeometry, distance_m: float) -> BaseGeometry:
    return shape.buffer(_enough(distance_m), quad_segs=32)


def read_left_out(sources: Iterable[str | Path], field: Field) -> tuple[LeftOut, tuple[str, ...]]:
    """Areas, points and lines to keep off, laid on the field's plane, and notes.

    Areas and corner lists are areas; recorded and drawn lines are lines, closed or not (a wheel
    track along the headland is closed too); single points, a pole say, are kept off like areas.
    """
    import shapely

    areas: list[BaseGeometry] = []
    lines: list[BaseGeometry] = []
    notes: list[str] = []
    for source in sources:
        drawing = read_drawing(source)
        notes += drawing.all_notes
        for thing in drawing.things:
            ring = field.ground.to_m(thing.rings[0])
            if not np.isfinite(ring).all():
                raise InputError(f"{drawing.source}: lies on the other side of the earth; check it")
            if thing.kind == "area" or (thing.kind == "corners" and len(ring) >= 3):
                areas += areas_in_m([thing], field.ground, drawing.source, notes)
            elif thing.kind == "track" and len(ring) >= 2:
                lines.append(shapely.LineString(ring))
            else:
                areas.append(shapely.MultiPoint(ring))
    return LeftOut(tuple(areas), tuple(lines)), tuple(notes)


def read_zones(source: str | Path, field: Field) -> tuple[tuple[Zone, ...], tuple[str, ...]]:
    """Zones of the field, each cut to the field, and notes.

    Areas that share a name are one zone. Field that no zone covers becomes the zone "rest".

    Raises
    ------
    InputError
        A zone outside the field; zones that overlap; no areas at all.
    """
    import shapely

    drawing = read_drawing(source)
    notes = list(drawing.all_notes)
    things = [t for t in drawing.things if t.kind == "area"] or list(drawing.things)
    unnamed = sum(not thing.name for thing in things)
    grouped: dict[str, list[BaseGeometry]] = {}
    for number, thing in enumerate(things, start=1):
        name = thing.name or (f"zone {number}" if unnamed else "")
        made = areas_in_m([thing], field.ground, drawing.source, notes)
        grouped.setdefault(name, []).extend(made)
    zones: list[Zone] = []
    for name, parts in grouped.items():
        whole = shapely.union_all(parts)
        inside = polygons(whole.intersection(field.shape))
        if inside is None or inside.area < 0.001 * whole.area:
            away = whole.distance(field.shape)
            where = f"{feet(away)} from it" if away > 1 else "beside it"
            raise InputError(
                f"{drawing.source}: zone {name!r} lies outside the field ({where}); check which "
                "field the zones belong to, and the order of latitude and longitude"
            )
        outside = whole.area - inside.area
        if outside > 0.01 * whole.area:
            notes.append(
                f"{drawing.source}: zone {name!r} reaches {acres(outside)} beyond the field; cut "
                "to it"
            )
        zones.append(Zone(name, _clear_of(inside, zones, name, drawing.source, field)))
    covered = shapely.union_all([zone.shape for zone in zones])
    rest = polygons(field.shape.difference(covered.buffer(0.05)))
    if rest is not None and rest.area > 0.01 * field.area_m2:
        notes.append(
            f"{drawing.source}: {acres(rest.area)} of the field lie in no zone; taken as the zone "
            "'rest'"
        )
        zones.append(Zone("rest", rest))
    return tuple(zones), tuple(notes)


def _clear_of(
    shape: Polygon | MultiPolygon, others: Sequence[Zone], name: str, source: str, field: Field
) -> Polygon | MultiPolygon:
    """The zone without the hair's breadth by which neighbours overlap."""
    for other in others:
        over = shape.intersection(other.shape).area
        if over > 0.005 * min(shape.area, other.shape.area):
            raise InputError(
                f"{source}: zones {other.name!r} and {name!r} overlap by {acres(over)}; a spot can "
                "belong to one zone only, so redraw them"
            )
        if over > 0:
            shape = polygons(shape.difference(other.shape)) or shape
    return shape
