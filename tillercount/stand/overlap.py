"""Ground that a boom doses twice: overlapping passes, and point rows over the headlands.

The model of the work: first some rounds along the edge (the headland), then straight passes
through what is left. A pass is switched on as soon as any part of the boom (or of a boom section)
is over ground not yet done, and off when none is, so nothing within is missed and what lies beside
it is dosed again. The turns of the rounds themselves at sharp corners aren't counted, so the true
share is a little larger.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tillercount.errors import InputError
from tillercount.stand.passes import GRID_M, areas, stripes_of, turned, union

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

    from tillercount.plan.ground import Ground

__all__ = ["Boom", "Overlap", "long_side_heading", "overlap"]


@dataclass(frozen=True)
class Boom:
    """The machine and how it is driven.

    Attributes
    ----------
    width_m : float
        What the boom covers.
    swath_m : float or None
        From pass to pass; the boom's width where None. Narrower: a strip between passes is dosed
        twice. Wider: a strip is missed.
    headland_rounds : int
        Rounds along the edge before the straight passes; 0 for none.
    sections : int
        Parts that are switched on and off by themselves; 1 for the whole boom.
    heading_deg : float or None
        Direction of the straight passes, degrees from the plane's north, clockwise; along the
        field's long side where None.
    """

    width_m: float
    swath_m: float | None = None
    headland_rounds: int = 1
    sections: int = 1
    heading_deg: float | None = None

    def __post_init__(self) -> None:
        if not 0.5 <= self.width_m <= 80:
            raise InputError(
                f"a boom of {self.width_m:.4g} m ({self.width_m / 0.3048:.0f} ft) doesn't exist; "
                "give its working width, like '90 ft'"
            )
        if self.swath_m is not None and not self.width_m / 2 < self.swath_m <= 2 * self.width_m:
            raise InputError(
                f"a swath of {self.swath_m:.4g} m doesn't go with a boom of {self.width_m:.4g} m; "
                "give the distance from pass to pass, more than half the boom"
            )
        if not 0 <= self.headland_rounds <= 10:
            raise InputError(f"{self.headland_rounds} headland rounds can't be right; give 0 to 10")
        if not 1 <= self.sections <= 200:
            raise InputError(f"{self.sections} boom sections can't be right; give 1 to 200")

    @property
    def step_m(self) -> float:
        """From pass to pass."""
        return self.swath_m or self.width_m


@dataclass(frozen=True)
class Overlap:
    """Where one application doses the field more than once, in the plane's metres.

    Attributes
    ----------
    headland, twice, missed : shapely geometry
        Ground of the rounds along the edge; dosed at least twice; not dosed at all.
    point_rows : shapely geometry
        The part of ``twice`` where passes run over the headland.
    passes : int
        Straight passes.
    ground : Ground or None
        Takes the metres back to degrees, where the field came in degrees.
    """

    field: Polygon | MultiPolygon
    headland: BaseGeometry
    twice: BaseGeometry
    point_rows: BaseGeometry
    missed: BaseGeometry
    boom: Boom
    heading_deg: float
    passes: int
    ground: Ground | None = None
    notes: tuple[str, ...] = ()

    @property
    def field_m2(self) -> float:
        """The field's area."""
        return float(self.field.area)

    @property
    def twice_share(self) -> float:
        """Share of the field that gets at least a double rate."""
        return float(self.twice.area) / self.field_m2

    @property
    def point_row_share(self) -> float:
        """Share of the field where passes run over the headland."""
        return float(self.point_rows.area) / self.field_m2

    @property
    def missed_share(self) -> float:
        """Share of the field that gets nothing."""
        return float(self.missed.area) / self.field_m2

    @property
    def headland_share(self) -> float:
        """Share of the field in the rounds along its edge."""
        return float(self.headland.area) / self.field_m2

    def doubled(self, lb_ac: float) -> float:
        """The rate on ground dosed twice."""
        return 2.0 * lb_ac

    def to_geojson(self) -> dict[str, Any]:
        """Headland, point rows, ground dosed twice and missed, for a map.

        In degrees, longitude first, where the field came so, else in the plane's metres (``units``
        of the collection says which). Nothing empty is in it.
        """
        import shapely

        features = []
        for kind, shape, note in (
            ("headland", self.headland, "rounds along the edge"),
            ("dosed twice", self.twice, "gets at least the double rate"),
            ("point rows", self.point_rows, "passes run over the headland"),
            ("missed", self.missed, "gets nothing"),
        ):
            if shape.is_empty:
                continue
            turned = self.ground.shape_to_degrees(shape) if self.ground else shape
            features.append(
                {
                    "type": "Feature",
                    "properties": {
                        "kind": kind,
                        "note": note,
                        "area_m2": float(shape.area),
                        "share": float(shape.area) / self.field_m2,
                    },
                    "geometry": shapely.geometry.mapping(turned),
                }
            )
        return {
            "type": "FeatureCollection",
            "units": "degrees" if self.ground else "metres",
            "features": features,
        }


def long_side_heading(field: Polygon | MultiPolygon) -> float:
    """Direction of the longest side of the smallest rectangle around a field, 0 to 180 degrees."""
    import numpy as np
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(field))
    sides = np.diff(corners, axis=0)
    east, north = sides[int(np.hypot(*sides.T).argmax())]
    return round(math.degrees(math.atan2(east, north)) % 180.0, 6) % 180.0


def overlap(field: Polygon | MultiPolygon, boom: Boom, *, ground: Ground | None = None) -> Overlap:
    """What of a field one application doses twice.

    Parameters
    ----------
    field : Polygon or MultiPolygon
        Metres, x east, y north; see `tillercount.plan.read_field` for boundaries in degrees.
    boom : Boom
    ground : Ground, optional
        The plane of the metres.

    Raises
    ------
    InputError
        No area, an outline that crosses itself, or more passes than make sense.
    """
    import shapely

    if field.is_empty or not field.area > 0:
        raise InputError("the field's outline encloses no area; check its corners")
    if not field.is_valid:
        raise InputError(
            f"the field's outline is wrong ({shapely.is_valid_reason(field)}); give its corners "
            "in walking order"
        )
    heading = boom.heading_deg
    heading = long_side_heading(field) if heading is None else heading % 180.0
    notes = []
    inner: BaseGeometry = field
    if boom.headland_rounds:
        inner = field.buffer(-boom.headland_rounds * boom.width_m, join_style="mitre")
    if inner.is_empty:
        notes.append("the rounds along the edge cover the whole field; no straight passes")
    # Turned so that passes run along y, about a point of the field so that numbers stay small, and
    # on a grid of millimetres, so that edges which should meet do meet.
    middle = field.centroid
    around = turned(field, heading, middle)
    upright = turned(inner, heading, middle)
    edge = areas(shapely.difference(around, upright, grid_size=GRID_M))
    stripes, passes = stripes_of(upright, boom.width_m, boom.step_m, boom.sections)
    one, other = (
        areas(shapely.intersection(union(stripes[n::2]), around, grid_size=GRID_M)) for n in (0, 1)
    )
    driven = areas(union([one, other]))
    between = areas(shapely.intersection(one, other, grid_size=GRID_M))
    over = areas(shapely.intersection(driven, edge, grid_size=GRID_M))
    twice = areas(union([between, over]))
    missed = areas(shapely.difference(around, union([driven, edge]), grid_size=GRID_M))

    def back(shape: BaseGeometry) -> BaseGeometry:
        return areas(turned(shape, -heading, middle))

    notes.append("turns at sharp corners of the headland aren't counted")
    return Overlap(
        field,
        back(edge),
        back(twice),
        back(over),
        back(missed),
        boom,
        heading,
        passes,
        ground,
        tuple(notes),
    )
