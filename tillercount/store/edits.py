"""A photo found by what somebody calls it, and put to another spot by hand.

Nothing that was there is touched: a placement is ended and followed by another. Who did it and
when is in the act.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Select, insert, or_, select, update

from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.rounding import kept
from tillercount.store.acts import Act, key_of, spot_key
from tillercount.store.added import Placed
from tillercount.store.photoquery import last_of, latest_of_photos
from tillercount.store.placing import distance_m
from tillercount.store.tables import (
    farms,
    fields,
    photos,
    placements,
    predictions,
    spots,
    visits,
)
from tillercount.store.visits import Where, field_of, there, visit_of

__all__ = ["assign", "photo_named", "place_of"]

_SHORTEST_HASH = 8
_MOST = 5
"""Photos of one name that are told apart one by one."""


def photo_named(connection: Connection, name: str, where: Where | None = None) -> Any:
    """The one photo of this file name, path or beginning of its SHA-256, with its place.

    Raises
    ------
    InputError
        None, or several; the message tells them apart.
    """
    key = key_of(name)
    wanted = [photos.c.name_key == key, photos.c.path == name]
    start = name.strip().casefold()
    by_hash = len(start) >= _SHORTEST_HASH and all(c in "0123456789abcdef" for c in start)
    if by_hash:
        wanted.append(photos.c.sha256.startswith(start))
    query = _placed().where(or_(*wanted)).order_by(placements.c.id)
    there = " in the season"
    if where is None:
        found = connection.execute(query.limit(_MOST + 1)).all()
    else:
        visit, visit_name = visit_of(connection, where)
        here = query.where(placements.c.visit_id == visit)
        found = connection.execute(here.limit(_MOST + 1)).all()
        if not found and by_hash and where.visit is None:
            # a hash is one photo's alone, so no visit need be named
            here = query.where(visits.c.field_id == field_of(connection, where))
            found = connection.execute(here.limit(_MOST + 1)).all()
        there = f" in {where.farm}, {where.field}, {visit_name}"
    if not found:
        elsewhere = connection.execute(query.limit(_MOST)).all() if where is not None else ()
        raise InputError(f"no photo {name!r}{there}; {_elsewhere(elsewhere, where)}")
    if len(found) > 1:
        many = f"{_MOST} photos and more" if len(found) > _MOST else f"{len(found)} photos"
        which = "; ".join(_told_apart(connection, row) for row in found[:_MOST])
        by_field = where is None and len({row.field for row in found}) == len(found)
        apart = " or by its field (--field)" if by_field else ""
        raise InputError(
            f"{many} are called {name!r}: {which}. Name one by the beginning of its hash, as in "
            f"{found[0].sha256[:12]}, in place of its name{apart}"
        )
    return found[0]


def _placed() -> Select[Any]:
    """Each photo that is in a visit, with its place."""
    return (
        select(
            photos,
            placements.c.id.label("placement"),
            placements.c.visit_id,
            placements.c.spot_id,
            visits.c.name.label("visit"),
            fields.c.name.label("field"),
            farms.c.name.label("farm"),
        )
        .join_from(photos, placements, placements.c.photo_id == photos.c.id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .join(farms, farms.c.id == fields.c.farm_id)
        .where(placements.c.ended_id.is_(None))
    )


def place_of(row: Any) -> str:
    """Where a photo from `photo_named` is."""
    return f"{row.farm}, {row.field}, {row.visit}"


def _told_apart(connection: Connection, row: Any) -> str:
    """One of several photos of a name, by all that tells them apart."""
    count = connection.execute(
        last_of(predictions, row.id, *(predictions.c[n] for n in ("status", "plants", "shoots")))
    ).first()
    numbers = [] if count is None else [(count.plants, "plants"), (count.shoots, "shoots")]
    said = ", ".join(f"{kept(value):g} {what}" for value, what in numbers if value is not None)
    return f"{row.sha256[:12]} of {place_of(row)} ({row.path}: {said or 'refused'})"


def _elsewhere(rows: Sequence[Any], where: Where | None) -> str:
    """Where a photo is that isn't in the visit meant, and what to give."""
    if not rows or where is None:
        return "give its file name as `season show` writes it"
    ways = []
    for row in rows:
        own = (row.farm, row.field) == (where.farm, where.field)
        options = f"--visit {in_command(row.visit)}"
        if not own:
            options = f"--farm {in_command(row.farm)} --field {in_command(row.field)} {options}"
        place, give = (row.visit, "add") if own else (place_of(row), "give")
        ways.append(f"it is in {place}: {give} {options}")
    return "; or ".join(dict.fromkeys(ways))


def assign(
    act: Act,
    photo: str,
    spot: str | None,
    where: Where | None = None,
    *,
    new: bool = False,
    move: bool = False,
) -> Placed:
    """Put a photo to a spot by hand; without a spot, to none.

    Parameters
    ----------
    act : Act
    photo, spot : str
        The photo's file name or hash; the spot's name or number.
    where : Where, optional
        The visit that the spot is in; the photo's own if not given.
    new : bool
        Make the spot if it isn't there.
    move : bool
        A photo that isn't in that visit comes there from the one in which it is.

    Raises
    ------
    InputError
        No such photo or spot; or the photo is in another visit, and nobody says that it moves.
    """
    if where is None and move:
        raise InputError("--move needs to know where to: give --field NAME, and --visit NAME")
    try:
        row = photo_named(act.connection, photo, where)
        visit = int(row.visit_id)
        if move and where is not None:  # found by its hash in another visit of the field
            visit = visit_of(act.connection, where)[0]
    except InputError as error:
        if where is None:
            raise
        if not move:
            bring = " (or --move, to bring it from there)" if "it is in " in str(error) else ""
            raise InputError(f"{error}{bring}. Nothing was changed") from None
        visit = visit_of(act.connection, where)[0]
        row = photo_named(act.connection, photo)
    number, name, away = None, "", None
    if spot is not None:
        found = act.connection.execute(
            select(spots).where(spots.c.visit_id == visit, spots.c.name_key == spot_key(spot))
        ).first()
        if found is not None:
            number, name = int(found.id), str(found.name)
            if None not in (row.lat, row.lon, found.lat, found.lon):
                import numpy as np

                here = np.array([found.lat]), np.array([found.lon])
                away = float(distance_m(row.lat, row.lon, *here)[0])
        elif new:
            more = {"planned": False, "by_hand": False, "lat": row.lat, "lon": row.lon}
            name = " ".join(spot.split())
            number = act.add(spots, visit_id=visit, name=name, name_key=spot_key(name), **more)
        else:
            raise InputError(_no_spot(act.connection, spot, visit))
    act.connection.execute(
        update(placements).where(placements.c.id == row.placement).values(ended_id=act.id)
    )
    act.connection.execute(
        insert(placements).values(
            photo_id=row.id,
            visit_id=visit,
            spot_id=number,
            how="hand",
            distance_m=away,
            note="",
            act_id=act.id,
        )
    )
    before = act.connection.scalar(select(spots.c.name).where(spots.c.id == row.spot_id))
    was = before if before is not None and row.spot_id != number else ""
    done = Placed(row.name, name, "hand", away, "", was, refused=_refused(act.connection, row.id))
    if visit == row.visit_id:
        return done
    return replace(done, came=place_of(row), goes=there(act.connection, visit).text)


def _refused(connection: Connection, photo: int) -> bool:
    """Whether a photo was refused and nobody gave it a count."""
    held = connection.execute(latest_of_photos().where(photos.c.id == photo)).first()
    by_person = held is not None and (held.fixed_plants, held.fixed_shoots) != (None, None)
    return held is not None and held.status == "refused" and not by_person


def _no_spot(connection: Connection, spot: str, visit: int) -> str:
    names = connection.scalars(
        select(spots.c.name).where(spots.c.visit_id == visit).order_by(spots.c.id).limit(12)
    ).all()
    where = connection.execute(
        select(fields.c.name, visits.c.name.label("visit"))
        .join_from(visits, fields)
        .where(visits.c.id == visit)
    ).one()
    return (
        f"no spot {spot!r} in {where.name}, {where.visit}; it has: "
        f"{', '.join(names) or 'none yet'}; add --new to make it"
    )
