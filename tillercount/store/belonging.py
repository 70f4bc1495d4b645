"""Whether a plan is that of counts which were there before it, told by where they were counted.

A plan's spots are drawn at random, so counts that all lie at them, in more than one or two places,
were made by it, unless they would lie there by chance: in a small field with many spots, most of
the ground is near one. Names alone don't tell, since every plan has a spot 1.

By chance, k places all lie as near to planned spots as the farthest of them does with probability
sᵏ, where s is the share of the field that lies so near to one. This must be under `MOST_CHANCE`.
Counts that lie closely at their spots have a small s, so they are told in a small field too.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from sqlalchemy import Connection, select

from tillercount.names import spot_text
from tillercount.positions import PHONE_ERROR_M, distance_m, far_text
from tillercount.store.acts import spot_key
from tillercount.store.placing import WITHIN_M
from tillercount.store.planfile import PlanFile, PlannedSpot
from tillercount.store.tables import fields, hand_counts, photos, placements, spots, visits

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["AT_M", "Fit", "fit_of"]

AT_M = 3 * PHONE_ERROR_M
"""Counts no farther than this (48 ft) from a planned spot lie at it: a convention."""

FEWEST_PLACES = 3
"""Fewer places than this may lie at another plan's spots by chance: a convention."""

MOST_CHANCE = 0.01
"""Counts that random places would match this often aren't taken for the plan's: a convention."""


@dataclass(frozen=True)
class Fit:
    """Whether counts belong to a plan: ``yes``, ``no`` or ``unclear``, and why."""

    answer: Literal["yes", "no", "unclear"]
    why: str


@dataclass(frozen=True)
class _Counted:
    """A spot at which something was counted; positions of that, (lat, lon)."""

    name: str
    key: str
    places: tuple[tuple[float, float], ...]


def fit_of(connection: Connection, visit: int, plan: PlanFile) -> Fit:
    """Whether the counts of a visit belong to a plan, by where they were made."""
    planned = plan.spots
    counted = _counted(connection, visit)
    lats, lons = (np.array([getattr(spot, name) for spot in planned]) for name in ("lat", "lon"))
    keys = [spot_key(spot.name) for spot in planned]
    known = [one for one in counted if one.places]
    nearest = []
    for one in known:
        for place in one.places:
            away = distance_m(*place, lats, lons)
            best = int(np.argmin(away))
            nearest.append((one, best, float(away[best])))
    if known and min(away for _, _, away in nearest) > WITHIN_M:
        one, _, least = min(nearest, key=lambda found: found[2])
        return Fit(
            "no", f"{spot_text(one.name)}, the nearest, is {far_text(least)} from any of the plan"
        )
    most = max((away for _, _, away in nearest), default=0.0)
    if most > AT_M:
        one, best, _ = max(nearest, key=lambda found: found[2])
        there = planned[best].name
        return Fit(
            "unclear",
            f"{spot_text(one.name)} is {far_text(most)} from its nearest, {spot_text(there)}",
        )
    for one, best, _ in nearest:
        if one.key in keys and one.key != keys[best]:
            return Fit(
                "unclear",
                f"{spot_text(one.name)} lies at the plan's {spot_text(planned[best].name)}",
            )
    strange = [one.name for one in counted if not one.places and one.key not in keys]
    if strange:
        return Fit("unclear", f"{spot_text(strange[0])} has no position and isn't in the plan")
    at = {best for _, best, _ in nearest}
    if len(at) < FEWEST_PLACES:
        some = f"only {len(at)} of the plan's spots" if at else "no count"
        return Fit("unclear", f"{some} can be told by a position, and names alone say too little")
    # the fewer of the two: several photos of one place are no further evidence
    chance = _share_near(planned, most, _outline(connection, visit, plan)) ** min(
        len(at), len(known)
    )
    if chance >= MOST_CHANCE:
        return Fit(
            "unclear",
            f"its spots are so close together that {len(at)} places anywhere in the field would "
            f"all lie as near to them in {chance:.0%} of cases",
        )
    other = _other_plan(connection, visit, [place for one in known for place in one.places])
    if other is not None:
        return Fit("unclear", f"they lie at the planned spots of {other} too")
    return Fit("yes", f"they lie at {len(at)} of its spots")


def _counted(connection: Connection, visit: int) -> list[_Counted]:
    by_photo = (
        select(spots.c.id, spots.c.name, spots.c.name_key, photos.c.lat, photos.c.lon)
        .join_from(placements, photos, photos.c.id == placements.c.photo_id)
        .join(spots, spots.c.id == placements.c.spot_id)
        .where(placements.c.visit_id == visit, placements.c.ended_id.is_(None))
    )
    by_hand = (
        select(spots.c.id, spots.c.name, spots.c.name_key, hand_counts.c.lat, hand_counts.c.lon)
        .join_from(hand_counts, spots, spots.c.id == hand_counts.c.spot_id)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
    )
    rows = [row for query in (by_photo, by_hand) for row in connection.execute(query)]
    found: dict[int, list[tuple[float, float]]] = {}
    names = {row.id: (row.name, row.name_key) for row in rows}
    for row in rows:
        places = found.setdefault(row.id, [])
        if row.lat is not None and row.lon is not None:
            places.append((row.lat, row.lon))
    return [_Counted(*names[number], tuple(places)) for number, places in found.items()]


def _outline(connection: Connection, visit: int, plan: PlanFile) -> Mapping[str, Any] | None:
    """The field's boundary, GeoJSON: the plan's, else the one that an earlier plan brought."""
    if plan.outline is not None and plan.outline.shape is not None:
        return plan.outline.shape
    query = select(fields.c.shape).join(visits, visits.c.field_id == fields.c.id)
    shape = connection.scalar(query.where(visits.c.id == visit))
    return shape if isinstance(shape, Mapping) else None


def _share_near(
    planned: Sequence[PlannedSpot], radius_m: float, outline: Mapping[str, Any] | None
) -> float:
    """Share of the field that lies within a radius of a planned spot.

    The field is its boundary; where that isn't known or leaves spots out, what the spots span,
    grown by `AT_M`.
    """
    import shapely

    from tillercount.plan.ground import Ground

    degrees = np.array([(spot.lon, spot.lat) for spot in planned], float)
    ground = Ground.around(degrees)
    points = shapely.MultiPoint(ground.to_m(degrees))
    field: BaseGeometry = points.convex_hull.buffer(AT_M)
    read = None
    if outline is not None:
        read = shapely.from_geojson(json.dumps(dict(outline)), on_invalid="ignore")
    if read is not None:
        drawn = shapely.make_valid(shapely.transform(shapely.force_2d(read), ground.to_m))
        if drawn.area > 0 and drawn.buffer(AT_M).covers(points):
            field = drawn
    near = points.buffer(radius_m).intersection(field)
    return float(near.area / field.area)


def _other_plan(
    connection: Connection, visit: int, places: Sequence[tuple[float, float]]
) -> str | None:
    """Name of another visit of the field at whose planned spots all these places lie too."""
    field = select(visits.c.field_id).where(visits.c.id == visit).scalar_subquery()
    query = (
        select(visits.c.id, visits.c.name, spots.c.lat, spots.c.lon)
        .join_from(visits, spots, spots.c.visit_id == visits.c.id)
        .where(visits.c.field_id == field, visits.c.id != visit)
        .where(spots.c.planned, spots.c.lat.is_not(None), spots.c.lon.is_not(None))
        .order_by(visits.c.id)
    )
    plans: dict[str, list[tuple[float, float]]] = {}
    for row in connection.execute(query):
        plans.setdefault(row.name, []).append((row.lat, row.lon))
    for name, there in plans.items():
        lats, lons = np.array(there, float).T
        if all(distance_m(*place, lats, lons).min() <= AT_M for place in places):
            return name
    return None
