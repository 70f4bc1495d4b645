"""The field's outline: read, looked at with suspicion, laid on the ground in metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tillercount.errors import InputError
from tillercount.names import first_few, in_command, key_of
from tillercount.near import nearest
from tillercount.plan.corners import looks_typed
from tillercount.plan.degrees import place_text
from tillercount.plan.ground import Ground
from tillercount.plan.shapes import Drawing, Drawn, read_drawing
from tillercount.plan.words import acres, feet

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

__all__ = ["UNNAMED", "Field", "areas_in_m", "polygons", "read_field"]

MOST_AC, LARGE_AC, SMALL_AC = 25_000.0, 2_000.0, 0.5
"""Refused above, remarked above, remarked below: limits of this program, no rule of the trade."""

UNNAMED = "the field"
"""Name of a field whose corners were typed."""

_LISTED = 12
"""Names of fields told at most."""
_FARTHEST_M = 50_000.0
_MOST_LOST = 0.05
"""Share of its area that a crossing outline may lose in repair; above it the corners are wrong."""


@dataclass(frozen=True)
class Field:
    """One field on the ground.

    Attributes
    ----------
    name : str
    ground : Ground
        Plane in which ``shape`` is given.
    shape : Polygon or MultiPolygon
        Metres; holes are not part of the field.
    notes : tuple of str
        What was put right or looks odd.
    doubt : str
        Why it may lie elsewhere; to be said before anything is made of it.
    named : bool
        The file itself has the name; else it is the file's own.
    """

    name: str
    ground: Ground
    shape: Polygon | MultiPolygon
    notes: tuple[str, ...] = ()
    named: bool = True
    doubt: str = ""

    @property
    def area_m2(self) -> float:
        """Square metres on the ground, holes left out."""
        return float(self.shape.area)


def read_field(
    source: str | Path, name: str | None = None, before: Sequence[str] = ()
) -> Field:
    """Read a field's boundary and lay it on the ground.

    Parameters
    ----------
    source : str or Path
        See `read_drawing`.
    name : str, optional
        Which field, where the file holds several that have names; the name of one that has none.
    before : sequence of str, optional
        What the field was called before; taken where the file has nothing called by its name.

    Raises
    ------
    InputError
        Whatever `read_drawing` refuses; several fields and no name; an outline that crosses
        itself in earnest, encloses nothing, or is larger than any field.
    """
    import shapely

    drawing = read_drawing(source)
    things, called = _chosen(drawing, name, before)
    ground = _laid_down(things, drawing.source)
    notes = list(drawing.notes)
    parts = areas_in_m(things, ground, drawing.source, notes)
    shape = parts[0]
    if len(parts) > 1:
        # On a grid of millimetres, so that halves cut at 180° grow together again.
        whole = polygons(shapely.union_all(parts, grid_size=0.001))
        shape = whole if whole is not None else shape
        over = sum(part.area for part in parts) - shape.area
        if over > 0.01 * shape.area:
            notes.append(f"{drawing.source}: outlines overlap by {acres(over)}; counted once")
    pieces = len(getattr(shape, "geoms", [shape]))
    if pieces > 1:
        notes.append(f"{drawing.source}: the field lies in {pieces} parts; taken as one field")
    holes = _hole_area(shape)
    if holes:
        notes.append(f"{drawing.source}: {acres(holes)} inside the outline left out as drawn")
    notes += _size_notes(shape.area, drawing.source)
    return Field(called or _stem(source), ground, shape, tuple(notes), bool(called), drawing.doubt)


def _stem(source: str | Path) -> str:
    text = str(source)
    return UNNAMED if looks_typed(text) else Path(text).stem.replace("_", " ")


def _chosen(
    drawing: Drawing, name: str | None, before: Sequence[str]
) -> tuple[tuple[Drawn, ...], str]:
    """The outlines of one field, and its name."""
    areas = [thing for thing in drawing.things if thing.kind == "area"]
    # Beside real areas, tracks and waypoints in the same file are something else.
    things = areas or list(drawing.things)
    names = list(dict.fromkeys(thing.name for thing in things))
    if name is not None and names == [""]:
        return tuple(things), " ".join(name.split())
    if name is not None:
        older = {key_of(one) for one in before}
        was = [n for n in names if key_of(n) in older]
        if len(was) == 1 and key_of(name) not in map(key_of, names):
            names = was
        else:
            names = [_one_of([n for n in names if n], name, drawing.source)]
    elif len(names) > 1:
        have = first_few([repr(n) if n else "one without a name" for n in names], _LISTED)
        raise InputError(
            f"{drawing.source} holds {len(names)} fields ({have}); choose one with --field NAME"
        )
    return tuple(thing for thing in things if thing.name == names[0]), names[0]


def _one_of(names: list[str], name: str, source: str) -> str:
    """The name that was meant: as it is written, or the only one that differs in signs alone."""
    for alike in (str.strip, lambda n: n.strip().casefold()):
        if found := [n for n in names if alike(n) == alike(name)]:
            return found[0]
    found = [n for n in names if key_of(n) == key_of(name)]
    if len(found) == 1:
        return found[0]
    near = None if found else nearest(name, names)
    maybe = f"; did you mean --field {in_command(near)}? There" if near else "; there"
    have = first_few(map(repr, found or names), _LISTED) or "none with a name"
    raise InputError(f"{source}: no field {name!r}{maybe} are: {have}")


def _laid_down(things: Sequence[Drawn], source: str) -> Ground:
    where = np.concatenate([ring for thing in things for ring in thing.rings])
    ground = Ground.around(where)
    metres = ground.to_m(where)
    away = np.hypot(*(metres - np.median(metres, axis=0)).T)
    away[~np.isfinite(away)] = np.inf
    if away.max() > _FARTHEST_M:
        odd = where[int(away.argmax())]
        raise InputError(
            f"{source}: {place_text(*odd)} lies more than {_FARTHEST_M / 1609.344:.0f} miles from "
            "the rest, so this is no one field; mend or remove that position"
        )
    return ground


def areas_in_m(
    things: Sequence[Drawn], ground: Ground, source: str, notes: list[str]
) -> list[Polygon | MultiPolygon]:
    """Valid areas in metres; what was repaired is added to ``notes``.

    Raises
    ------
    InputError
        An outline that encloses nothing, or crosses itself so that nobody can tell what was meant.
    """
    from shapely import Polygon

    out: list[Polygon | MultiPolygon] = []
    for thing in things:
        where = f"{source}, {thing.name!r}" if thing.name else source
        rings = [ground.to_m(ring) for ring in thing.rings]
        if not all(np.isfinite(ring).all() for ring in rings):
            raise InputError(f"{where}: lies on the other side of the earth; check its positions")
        distinct = len(np.unique(rings[0].round(2), axis=0))
        if distinct < 3:
            raise InputError(
                f"{where}: {distinct} different position{'s' * (distinct != 1)}; an area needs at "
                "least three"
            )
        if thing.kind == "track":
            _check_closed(rings[0], where, notes)
        holes = [ring for ring in rings[1:] if len(np.unique(ring.round(2), axis=0)) >= 3]
        out.append(_valid(Polygon(rings[0], holes), ground, where, notes))
    return out


def _check_closed(ring: np.ndarray, where: str, notes: list[str]) -> None:
    gap = float(np.hypot(*(ring[-1] - ring[0])))
    length = float(np.hypot(*np.diff(ring, axis=0).T).sum())
    if gap > length / 2:
        raise InputError(
            f"{where}: the line doesn't go round anything: it starts and ends {feet(gap)} apart; "
            "record the whole way round the field"
        )
    if gap > max(0.01 * length, 1.0):
        notes.append(f"{where}: start and end are {feet(gap)} apart; joined by a straight line")


def _valid(
    polygon: Polygon, ground: Ground, where: str, notes: list[str]
) -> Polygon | MultiPolygon:
    import shapely

    if polygon.is_valid:
        whole: Polygon | MultiPolygon = polygon
    else:
        reason = shapely.is_valid_reason(polygon)
        mended = shapely.make_valid(polygon, method="structure", keep_collapsed=False)
        parts = sorted(
            (p for p in shapely.get_parts(mended) if p.geom_type == "Polygon"),
            key=lambda part: -part.area,
        )
        total = sum(part.area for part in parts)
        place = _place_of(reason, ground)
        if total > 0 and parts[0].area < (1 - _MOST_LOST) * total:
            raise InputError(
                f"{where}: the outline crosses itself{place}, leaving "
                f"{' and '.join(acres(p.area) for p in parts[:2])} on either side; give the "
                "corners in the order one would walk them, or redraw it"
            )
        if total > 0:
            whole = parts[0]
            lost = f", {acres(total - whole.area)} left out" if total > whole.area * 1.0001 else ""
            notes.append(f"{where}: the outline crosses or touches itself{place}; repaired{lost}")
        else:
            whole = polygon
    if not whole.area > 1.0:
        raise InputError(f"{where}: the outline encloses no area; check the positions")
    return whole


def _place_of(reason: str, ground: Ground) -> str:
    """Where the geometry library found the fault, in degrees."""
    _, _, rest = reason.partition("[")
    numbers = rest.rstrip("]").split()
    try:
        spot = np.array([[float(numbers[0]), float(numbers[1])]])
    except (IndexError, ValueError):
        return ""
    return f" near {place_text(*ground.to_degrees(spot)[0])}"


def polygons(shape: BaseGeometry) -> Polygon | MultiPolygon | None:
    """The areas of a mixed shape; None if there are none."""
    import shapely

    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _hole_area(shape: Polygon | MultiPolygon) -> float:
    from shapely import Polygon

    parts = getattr(shape, "geoms", [shape])
    return float(sum(Polygon(ring).area for part in parts for ring in part.interiors))


def _size_notes(area: float, source: str) -> list[str]:
    from tillercount.units import M2_PER_ACRE

    size = area / M2_PER_ACRE
    if size > MOST_AC:
        raise InputError(
            f"{source}: {acres(area)} is more than any one field; check the positions, or choose "
            "one field of the farm"
        )
    if size > LARGE_AC:
        return [f"{source}: {acres(area)} is very large for one field; check that it is one"]
    if size < SMALL_AC:
        return [
            f"{source}: {acres(area)} is very small; a phone finds a spot to about 15 ft (common "
            "practice), so mark spots by tape instead"
        ]
    return []
