"""When a visit was: as typed, else by its photos' clocks, else by its name where that is a day,
else by the day its counts were put in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, func, select

from tillercount.days import day_named
from tillercount.store.tables import acts, hand_counts, photos, placements, spots, visits

__all__ = ["PLANNED_AHEAD", "VisitDate", "in_order", "visit_dates"]

PLANNED_AHEAD = 60
"""A plan may be made so many days before a visit that is named after its day. A convention."""


@dataclass(frozen=True)
class VisitDate:
    """First and last day (ISO 8601), and how it is known: ``typed``, ``photos``, ``name``, or only
    ``added``, the day on which it was put in.

    ``beside`` says what the photos or the name say where another day holds, ``made`` is the day on
    which the visit was made here.
    """

    first: str
    last: str
    how: str
    beside: str = ""
    made: str = ""

    @property
    def by_photos(self) -> bool:
        """Whether photos say so."""
        return self.how == "photos"

    @property
    def days(self) -> str:
        """First to last."""
        return self.first if self.first == self.last else f"{self.first} to {self.last}"

    @property
    def text(self) -> str:
        """For screens."""
        return f"put in {self.days}" if self.how == "added" else self.days

    @property
    def known_by(self) -> str:
        """The day and by what it goes, for a sentence."""
        by = {
            "typed": "as given",
            "photos": "by the photos' clocks",
            "name": "from the visit's name",
            "added": "the day it was put in: another? Give --date",
        }[self.how]
        return f"{self.days} ({by}{f'; {self.beside}' if self.beside else ''})"


def visit_dates(connection: Connection, field: int | None = None) -> Mapping[int, VisitDate]:
    """Dates of the visits of a field, or of all, by the visit's number.

    A day that somebody typed comes first. Photos count where they carry their time. A name counts
    where all of it is a day; without a year the latest such day before its counts were put in, or
    within two months of a plan. Else the day (here) on which hand counts were added, else that on
    which the visit was made.
    """
    meant = [] if field is None else [visits.c.field_id == field]
    rows = connection.execute(
        select(visits.c.id, visits.c.name, visits.c.day, acts.c.at)
        .join(acts, acts.c.id == visits.c.act_id)
        .where(*meant)
    ).all()
    put_in = {row.id: (day, day) for row in rows for day in (_local(row.at),)}
    by_hand = (
        select(spots.c.visit_id, func.min(acts.c.at).label("first"), func.max(acts.c.at))
        .select_from(hand_counts)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .join(acts, acts.c.id == hand_counts.c.act_id)
        .join(visits, visits.c.id == spots.c.visit_id)
        .where(hand_counts.c.ended_id.is_(None), *meant)
        .group_by(spots.c.visit_id)
    )
    counted = {
        visit: (_local(first), _local(last)) for visit, first, last in connection.execute(by_hand)
    }
    taken = (
        select(placements.c.visit_id, func.min(photos.c.taken_at), func.max(photos.c.taken_at))
        .select_from(placements)
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .where(placements.c.ended_id.is_(None), photos.c.taken_at.is_not(None), *meant)
        .group_by(placements.c.visit_id)
    )
    clocks = {
        visit: VisitDate(first[:10], last[:10], "photos")
        for visit, first, last in connection.execute(taken)
    }
    return {
        row.id: replace(
            _date_of(row, clocks.get(row.id), counted.get(row.id), put_in[row.id]),
            made=put_in[row.id][0],
        )
        for row in rows
    }


def in_order(dates: Mapping[int, VisitDate]) -> list[int]:
    """Visits of a field by their last days; of those of one day, the one that was made first.

    A visit of unknown day counts as of the day it was put in. But where one made after it, in the
    same sitting, was dated by hand or by its name, the day of typing says nothing of either: then
    the one that was put in first was first.
    """
    ends = {}
    for visit, date in dates.items():
        ends[visit] = date.last
        if date.how == "added":
            beside = [
                other.last
                for later, other in dates.items()
                if later > visit and other.how in ("typed", "name") and other.made == date.made
            ]
            ends[visit] = min([date.last, *beside])
    return sorted(dates, key=lambda visit: (ends[visit], visit))


def _date_of(
    row: Any,
    clock: VisitDate | None,
    counted: tuple[str, str] | None,
    put_in: tuple[str, str],
) -> VisitDate:
    """One visit's, of the ways that say it."""
    if row.day:
        other = clock is not None and clock.days != row.day
        said = f"its photos' clocks say {clock.days}" if clock is not None and other else ""
        return VisitDate(row.day, row.day, "typed", said)
    first, last = counted or put_in
    since = dt.date.fromisoformat(first if clock is None else clock.first)
    named = day_named(row.name, since, 0 if counted and clock is None else PLANNED_AHEAD)
    day = "" if named is None else named.isoformat()
    if clock is not None:
        said = f"its name says {day}" if day and not clock.first <= day <= clock.last else ""
        return VisitDate(clock.first, clock.last, clock.how, said)
    return VisitDate(day, day, "name") if day else VisitDate(first, last, "added")


def _local(at: str) -> str:
    """The day here of a moment in UTC."""
    return dt.datetime.fromisoformat(at).astimezone().date().isoformat()
