"""Areas by which a field's zones weigh in a visit's mean."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, func, select

from tillercount.field import SpotDensity
from tillercount.store.tables import spots, visits, zones

__all__ = ["zone_areas"]


def zone_areas(
    connection: Connection, visit: int, everything: Sequence[SpotDensity]
) -> tuple[dict[str, float] | None, list[str]]:
    """Areas of the field's zones, where each is known and has a spot; else why not.

    A zone without an area of its own has what its planned spots stand for, together.
    """
    field = select(visits.c.field_id).where(visits.c.id == visit).scalar_subquery()
    stood_for = (
        select(spots.c.zone_id, func.sum(spots.c.stands_for_m2).label("m2"))
        .where(spots.c.visit_id == visit, spots.c.planned)
        .group_by(spots.c.zone_id)
        .having(func.count() == func.count(spots.c.stands_for_m2))
        .subquery()
    )
    query = (
        select(zones.c.name, func.coalesce(zones.c.area_m2, stood_for.c.m2).label("area_m2"))
        .outerjoin(stood_for, stood_for.c.zone_id == zones.c.id)
        .where(zones.c.field_id == field)
    )
    areas = {row.name: row.area_m2 for row in connection.execute(query)}
    with_spots = {spot.zone for spot in everything}
    own = _planned_in(connection, visit)
    known = {
        name: area
        for name, area in areas.items()
        # another visit's plan may have drawn others over the same ground
        if area and (not own or name in own or name in with_spots)
    }
    if len(known) < 2 or not with_spots & set(known):
        return None, []
    empty = sorted(set(known) - with_spots)
    if empty:
        return None, [f"zones aren't weighted by area yet: none counted in {', '.join(empty)}"]
    if not with_spots <= set(known):
        return None, ["zones aren't weighted by area: some spots lie in no zone of known area"]
    return known, []


def _planned_in(connection: Connection, visit: int) -> set[str]:
    """Names of the zones in which the visit's own plan has spots."""
    query = select(zones.c.name).join(spots, spots.c.zone_id == zones.c.id)
    return set(connection.scalars(query.where(spots.c.visit_id == visit, spots.c.planned)))
