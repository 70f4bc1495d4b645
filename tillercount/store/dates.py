"""When a visit was: as typed, else by its photos' clocks, else by its name where that is a day,
else by the day its counts were put in."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, func, or_, select, union_all

from tillercount.clockdays import days_of, same_clocks
from tillercount.days import day_named, has_year, or_text, wrong_weekday
from tillercount.store.acts import REMOVED
from tillercount.store.tables import acts, hand_counts, photos, placements, spots, visits
from tillercount.store.whichyear import PLANNED_AHEAD, ZONES_AHEAD, may_be

__all__ = ["VisitDate", "days_meant", "in_order", "put_before", "visit_dates"]


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
    where all of it is a day; without a year the one nearest to when else something was counted,
    else the latest such day before its counts were first put in, or the one nearest to a plan; not
    where that may be another year (`tillercount.store.whichyear`). Else the day (here) on which
    counts were added, else that on which the visit was made.
    """
    found = _known(connection, [] if field is None else [visits.c.field_id == field])
    sure, doubtful = set[dt.date](), dict[int, set[dt.date]]()
    if any(one.year_open for one in found):
        sure, doubtful = _told(found if field is None else _known(connection, []))
    return {
        one.row.id: replace(
            _date_of(one, sure, doubtful.get(one.row.field_id, ())), made=one.made[0]
        )
        for one in found
    }


def days_meant(connection: Connection, name: str, field: int | None) -> set[dt.date]:
    """The days that the name of a new visit may mean, if something is put in today; of a field by
    its number, None where it is new too."""
    sure, doubtful = _told(_known(connection, []))
    return may_be(name, dt.date.today(), sure, doubtful.get(field or 0, ()))


def _told(every: Iterable[_Known]) -> tuple[set[dt.date], dict[int, set[dt.date]]]:
    """The days that are right, as far as can be told, and the doubtful ones by field: a wrong clock
    puts its own field's visits in doubt, no others."""
    sure, doubtful = set[dt.date](), dict[int, set[dt.date]]()
    for one in every:
        (sure if one.sure else doubtful.setdefault(one.row.field_id, set())).update(one.days)
    return sure, doubtful


@dataclass(frozen=True)
class _Known:
    """What is known of a visit's day: its ``row``, its photos' clocks, first and last day on which
    its counts were put in (else on which it was ``made``), and since when it has any."""

    row: Any
    clock: VisitDate | None
    put_in: tuple[str, str]
    made: tuple[str, str]
    since: str | None

    @property
    def year_open(self) -> bool:
        """Whether its name is all that says its day, without a year."""
        if self.row.day or self.clock is not None or self.since is None:
            return False
        named = day_named(self.row.name, dt.date.fromisoformat(self.since), ZONES_AHEAD)
        return named is not None and not has_year(self.row.name)

    @property
    def sure(self) -> bool:
        """Whether its days are right, as far as can be told."""
        clock = None if self.row.day else self.clock
        first = self.since or self.put_in[0]
        return clock is None or _likely(clock.first, clock.last, first)

    @property
    def days(self) -> set[dt.date]:
        """Its days as typed, by its clocks, or by a name with its year; none to come."""
        if self.row.day:
            return days_of([self.row.day])
        if self.clock is not None:
            said = same_clocks(days_of([self.clock.first, self.clock.last]))
            return {day for day in (said[0] if said else ()) if day <= dt.date.today()}
        named = has_year(self.row.name) and day_named(self.row.name, dt.date.today())
        return {named} if named else set()


def _known(connection: Connection, meant: Sequence[ColumnElement[bool]]) -> list[_Known]:
    rows = connection.execute(
        select(visits.c.id, visits.c.name, visits.c.day, visits.c.field_id, acts.c.at)
        .join(acts, acts.c.id == visits.c.act_id)
        .where(*meant)
    ).all()
    made = {row.id: (day, day) for row in rows for day in (_local(row.at),)}
    counted, since = _put_in(connection, meant)
    clocks = _clocks(connection, meant)
    return [
        _Known(
            row,
            clocks.get(row.id),
            counted.get(row.id, made[row.id]),
            made[row.id],
            since.get(row.id),
        )
        for row in rows
    ]


def _clocks(
    connection: Connection, meant: Sequence[ColumnElement[bool]]
) -> dict[int, VisitDate]:
    """First and last day by the photos of each visit; a time that is none says nothing."""
    day = func.substr(photos.c.taken_at, 1, 10)
    taken = (
        select(placements.c.visit_id, day)
        .select_from(placements)
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .where(placements.c.ended_id.is_(None), photos.c.taken_at.is_not(None), *meant)
        .distinct()
    )
    days: dict[int, list[str]] = {}
    for visit, text in connection.execute(taken):
        with contextlib.suppress(ValueError):
            if dt.date.fromisoformat(text).isoformat() == text:
                days.setdefault(visit, []).append(text)
    return {visit: VisitDate(min(them), max(them), "photos") for visit, them in days.items()}


def _put_in(
    connection: Connection, meant: Sequence[ColumnElement[bool]]
) -> tuple[dict[int, tuple[str, str]], dict[int, str]]:
    """Of each visit with counts the first and the last day (here) on which those that stand were
    put in, and the very first: a count that was replaced or put to another spot later was made
    then."""
    ends = acts.alias("ends")
    by_hand = (
        select(spots.c.visit_id, acts.c.at, hand_counts.c.ended_id)
        .select_from(hand_counts)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .join(visits, visits.c.id == spots.c.visit_id)
        .join(acts, acts.c.id == hand_counts.c.act_id)
        .outerjoin(ends, ends.c.id == hand_counts.c.ended_id)
    )
    by_photo = (
        select(placements.c.visit_id, acts.c.at, placements.c.ended_id)
        .select_from(placements)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(acts, acts.c.id == placements.c.act_id)
        .outerjoin(ends, ends.c.id == placements.c.ended_id)
    )
    not_removed = or_(ends.c.id.is_(None), ends.c.verb != REMOVED)
    either = union_all(*(one.where(not_removed, *meant) for one in (by_hand, by_photo))).subquery()
    standing = case((either.c.ended_id.is_(None), either.c.at))
    query = select(
        either.c.visit_id, func.min(either.c.at), func.min(standing), func.max(standing)
    ).group_by(either.c.visit_id)
    stand: dict[int, tuple[str, str]] = {}
    since: dict[int, str] = {}
    for visit, earliest, first, last in connection.execute(query):
        since[visit] = _local(earliest)
        if first is not None:
            stand[visit] = _local(first), _local(last)
    return stand, since


def in_order(dates: Mapping[int, VisitDate]) -> list[int]:
    """Visits of a field by their last days; of those of one day, the one that was made first.

    A visit of unknown day counts as of the day it was put in, but before those of `put_before`.
    """
    ends = {visit: date.last for visit, date in dates.items()}
    for visit, date in dates.items():
        for before in put_before(dates, visit):
            ends[before] = min(ends[before], date.last)
    return sorted(dates, key=lambda visit: (ends[visit], visit))


def put_before(dates: Mapping[int, VisitDate], visit: int) -> list[int]:
    """Visits of unknown day that are taken to be before this one, which is dated by hand or by its
    name, only because they were made first in the same sitting.

    The day of typing says nothing of a visit typed from paper. But it may have been that visit's
    day all the same, so whoever goes by this order says it (`tillercount.store.dating`).
    """
    this = dates[visit]
    if this.how not in ("typed", "name"):
        return []
    return [
        other
        for other, date in dates.items()
        if date.how == "added"
        and other < visit
        and date.made == this.made
        and date.last > this.last
    ]


def _date_of(
    known: _Known, sure: Collection[dt.date], doubtful: Collection[dt.date]
) -> VisitDate:
    """One visit's, of the ways that say it; ``sure`` and ``doubtful``: `whichyear.may_be`."""
    row, clock, put_in, since = known.row, known.clock, known.put_in, known.since
    about = row.day or (put_in[0] if clock is None else clock.first)
    if since is not None and clock is None and not row.day:
        meant = may_be(row.name, dt.date.fromisoformat(since), sure, doubtful)
    else:
        planned = day_named(row.name, dt.date.fromisoformat(about), PLANNED_AHEAD)
        meant = set() if planned is None else {planned}
    named = next(iter(meant)) if len(meant) == 1 else None
    day = "" if named is None else named.isoformat()
    first, last, how = (
        (row.day, row.day, "typed")
        if row.day
        else (clock.first, clock.last, "photos")
        if clock is not None
        else (day, day, "name")
        if day
        else (*put_in, "added")
    )
    beside = [f"by its name it may be of {or_text(meant)}"] if len(meant) > 1 else []
    if how == "typed" and clock is not None and clock.days != row.day:
        beside.append(f"its photos' clocks say {clock.days}")
    if how == "photos" and not _likely(first, last, since or put_in[0]):
        beside.append("are the clocks right? Else give --date")
    if how in ("typed", "photos") and day and not first <= day <= last:
        beside.append(f"its name says {day}")
    if how == "name" and named is not None and (wrong := wrong_weekday(row.name, named)):
        beside.append(f"{wrong}: which is right? Give --date")
    return VisitDate(first, last, how, "; ".join(beside))


def _likely(first: str, last: str, put_in: str) -> bool:
    """Whether photos of these days were put in on that one: not before they were taken, and within
    a year. A clock that was never set says 1 January of some year."""
    at = dt.date.fromisoformat(put_in)
    since = dt.date.fromisoformat(first) + dt.timedelta(days=366) >= at
    return since and dt.date.fromisoformat(last) <= at + dt.timedelta(days=ZONES_AHEAD)


def _local(at: str) -> str:
    """The day here of a moment in UTC."""
    return dt.datetime.fromisoformat(at).astimezone().date().isoformat()
