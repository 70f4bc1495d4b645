"""Rows of a season erased for good, with all that hangs on them."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Table, delete, func, select

from tillercount.store.acts import Act
from tillercount.store.tables import (
    assessments,
    corrections,
    days,
    farms,
    fields,
    former_names,
    hand_counts,
    photos,
    placements,
    predictions,
    spots,
    visits,
    zones,
)

__all__ = ["acts_of", "erase", "erase_field", "erase_visit", "erase_zones"]


def erase_visit(act: Act, visit: int) -> None:
    """A visit's rows; photos that were never anywhere else go too."""
    here = select(placements.c.photo_id).where(placements.c.visit_id == visit)
    else_where = select(placements.c.photo_id).where(placements.c.visit_id != visit)
    query = select(photos.c.id).where(photos.c.id.in_(here), photos.c.id.not_in(else_where))
    only_here = list(act.connection.scalars(query))
    erase(act, placements, placements.c.visit_id == visit)
    for start in range(0, len(only_here), 500):  # a database takes only so many values at once
        some = only_here[start : start + 500]
        for table in (corrections, predictions):
            erase(act, table, table.c.photo_id.in_(some))
        erase(act, photos, photos.c.id.in_(some))
    inside = select(spots.c.id).where(spots.c.visit_id == visit)
    erase(act, hand_counts, hand_counts.c.spot_id.in_(inside))
    erase(act, assessments, assessments.c.visit_id == visit)
    erase(act, spots, spots.c.visit_id == visit)
    erase(act, days, days.c.visit_id == visit)
    erase(act, former_names, former_names.c.visit_id == visit)
    erase(act, visits, visits.c.id == visit)


def acts_of(act: Act, visit: int) -> set[int]:
    """The acts that brought in a visit and its spots, and with a plan its zones."""
    found = act.connection.scalars(
        select(spots.c.act_id).where(spots.c.visit_id == visit).distinct()
    )
    made = act.connection.scalar(select(visits.c.act_id).where(visits.c.id == visit))
    return {*found, *([] if made is None else [made])}


def erase_zones(act: Act, field: int, brought: set[int]) -> list[str]:
    """Zones that these acts brought and in which no spot lies any more; what is gone."""
    used = select(spots.c.zone_id).where(spots.c.zone_id.is_not(None))
    query = select(zones.c.id, zones.c.name).where(
        zones.c.field_id == field, zones.c.act_id.in_(brought), zones.c.id.not_in(used)
    )
    rows = act.connection.execute(query.order_by(zones.c.id)).all()
    erase(act, zones, zones.c.id.in_([row.id for row in rows]))
    return [f"zone {row.name!r}" for row in rows]


def erase_field(act: Act, field: int) -> list[str]:
    """A field without visits, with its zones, and its farm if that has no other; what is gone."""
    row = act.connection.execute(select(fields).where(fields.c.id == field)).one()
    gone = [f"field {row.name!r}"]
    erase(act, zones, zones.c.field_id == field)
    erase(act, former_names, former_names.c.field_id == field)
    erase(act, fields, fields.c.id == field)
    left = select(func.count()).select_from(fields).where(fields.c.farm_id == row.farm_id)
    if not act.connection.scalar(left):
        name = act.connection.scalar(select(farms.c.name).where(farms.c.id == row.farm_id))
        gone.append(f"farm {name!r}")
        erase(act, former_names, former_names.c.farm_id == row.farm_id)
        erase(act, farms, farms.c.id == row.farm_id)
    return gone


def erase(act: Act, table: Table, condition: Any) -> None:
    """Rows of a table for which a condition holds."""
    act.connection.execute(delete(table).where(condition))
