"""When a visit was: by its photos' clocks, else by the day its counts were put in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from tillercount.store.tables import acts, hand_counts, photos, placements, spots, visits

__all__ = ["VisitDate", "visit_dates"]


@dataclass(frozen=True)
class VisitDate:
    """First and last day (ISO 8601), and whether photos say so or only when it was put in."""

    first: str
    last: str
    by_photos: bool

    @property
    def text(self) -> str:
        """For screens."""
        days = self.first if self.first == self.last else f"{self.first} to {self.last}"
        return days if self.by_photos else f"put in {days}"


def visit_dates(connection: Connection, field: int | None = None) -> Mapping[int, VisitDate]:
    """Dates of the visits of a field, or of all, by the visit's number.

    Photos count where they carry their time; without any, the day (here) on which hand counts were
    added, else that on which the visit was made.
    """
    meant = [] if field is None else [visits.c.field_id == field]
    made = {
        row.id: _local(row.at)
        for row in connection.execute(
            select(visits.c.id, acts.c.at).join(acts, acts.c.id == visits.c.act_id).where(*meant)
        )
    }
    found = {number: VisitDate(day, day, False) for number, day in made.items()}
    by_hand = (
        select(spots.c.visit_id, func.min(acts.c.at).label("first"), func.max(acts.c.at))
        .select_from(hand_counts)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .join(acts, acts.c.id == hand_counts.c.act_id)
        .join(visits, visits.c.id == spots.c.visit_id)
        .where(hand_counts.c.ended_id.is_(None), *meant)
        .group_by(spots.c.visit_id)
    )
    for visit, first, last in connection.execute(by_hand):
        found[visit] = VisitDate(_local(first), _local(last), False)
    taken = (
        select(placements.c.visit_id, func.min(photos.c.taken_at), func.max(photos.c.taken_at))
        .select_from(placements)
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .where(placements.c.ended_id.is_(None), photos.c.taken_at.is_not(None), *meant)
        .group_by(placements.c.visit_id)
    )
    for visit, first, last in connection.execute(taken):
        found[visit] = VisitDate(first[:10], last[:10], True)
    return found


def _local(at: str) -> str:
    """The day here of a moment in UTC."""
    return dt.datetime.fromisoformat(at).astimezone().date().isoformat()
