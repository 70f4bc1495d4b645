"""What is known of photos before they are counted: that saves the counting, or forbids it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection

from tillercount.area import Area
from tillercount.store.dates import days_meant
from tillercount.store.dating import check_day
from tillercount.store.photoquery import latest_of_photos
from tillercount.store.sizes import check_sizes
from tillercount.store.tables import fields, photos, placements, predictions, visits
from tillercount.store.visits import Where, field_there, is_there
from tillercount.store.whichyear import refuse_odd_day

__all__ = ["Known", "check_photos", "counted"]


@dataclass(frozen=True)
class Known:
    """Where a photo is that needs no counting, by which ``name`` and number, and whether it was
    refused there."""

    field: str
    visit: str
    refused: bool
    id: int
    name: str


def counted(connection: Connection, sha256: str, area: str) -> Known | None:
    """Field and visit of a photo if the count that holds for it there is one of this area."""
    last = (
        latest_of_photos()
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(photos.c.sha256 == sha256, predictions.c.area == area)
        .with_only_columns(
            fields.c.name,
            visits.c.name.label("visit"),
            predictions.c.status == "refused",
            photos.c.id,
            photos.c.name.label("photo"),
        )
    )
    found = connection.execute(last.limit(1)).first()
    if found is None:
        return None
    return Known(str(found[0]), str(found[1]), bool(found[2]), int(found[3]), str(found[4]))


def check_photos(
    connection: Connection,
    given: Mapping[str, str],
    area: Area,
    where: Where,
    day: dt.date | None,
    *,
    replace: bool,
    clocks: bool = True,
) -> None:
    """What would be refused once they are counted is refused before, which saves the counting.

    Parameters
    ----------
    connection : Connection
    given : mapping of SHA-256 to file name
        The photos to be counted.
    area, where, day
        As typed for them.
    replace : bool
        Counts of another area may be replaced.
    clocks : bool
        The clock of one of them at least says its day, whatever the visit is called.

    Raises
    ------
    InputError
        The visit has another day, or counts of another area would be replaced; or a new visit is
        called by a day that there isn't, that may be two or that has another weekday, and nothing
        else tells its day.
    """
    if not replace:
        check_sizes(connection, given, (area.text, area.typed or area.text), where)
    if day is not None and any(_placed(connection, sha256) is None for sha256 in given):
        check_day(connection, where, day)
    if day is None and not clocks and where.visit is not None and not is_there(connection, where):
        field = field_there(connection, where)
        refuse_odd_day(where.visit, days_meant(connection, where.visit, field))


def _placed(connection: Connection, sha256: str) -> int | None:
    query = latest_of_photos().where(photos.c.sha256 == sha256)
    return connection.scalar(query.with_only_columns(placements.c.id).limit(1))
