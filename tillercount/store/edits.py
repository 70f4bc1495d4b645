"""What a person changes: the spot of a photo, and the count of a photo.

Neither touches what was there: a placement is ended and followed by another, a correction stands
beside the prediction. Who did it and when is in the act.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, insert, or_, select, update

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.hand import MOST_SHOOTS_PER_PLANT
from tillercount.names import in_command
from tillercount.store.acts import Act, key_of, spot_key
from tillercount.store.added import Placed
from tillercount.store.placing import distance_m
from tillercount.store.tables import (
    corrections,
    farms,
    fields,
    hand_counts,
    photos,
    placements,
    predictions,
    spots,
    visits,
)
from tillercount.store.visits import Where, visit_of

__all__ = ["assign", "correct", "hand_counts_beside", "photo_named"]

_SHORTEST_HASH = 8
_MANY_SHOOTS_PER_PLANT = 12
"""One count corrected, and more shoots per plant than this: the other count was forgotten. A
convention, more than twice the 3 to 5 of `MOST_SHOOTS_PER_PLANT`'s published stands."""


def photo_named(connection: Connection, name: str, where: Where | None = None) -> Any:
    """The one photo of this file name, path or beginning of its SHA-256, with its place.

    Raises
    ------
    InputError
        None, or several; the message tells them apart.
    """
    key = key_of(name)
    wanted = [photos.c.name_key == key, photos.c.path == name]
    if len(key) >= _SHORTEST_HASH and all(c in "0123456789abcdef" for c in key):
        wanted.append(photos.c.sha256.startswith(key))
    query = (
        select(
            photos,
            placements.c.id.label("placement"),
            placements.c.visit_id,
            placements.c.spot_id,
            fields.c.name.label("field"),
        )
        .join_from(photos, placements, placements.c.photo_id == photos.c.id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(or_(*wanted), placements.c.ended_id.is_(None))
    )
    there = " in the season"
    if where is not None:
        visit, visit_name = visit_of(connection, where)
        query = query.where(placements.c.visit_id == visit)
        there = f" in {where.farm}, {where.field}, {visit_name}"
    found = connection.execute(query.limit(6)).all()
    if not found:
        raise InputError(f"no photo {name!r}{there}; {_elsewhere(connection, wanted, where)}")
    if len(found) > 1:
        which = ", ".join(f"{row.field}: {row.path} ({row.sha256[:12]})" for row in found[:5])
        apart = " or by its field" if len({row.field for row in found}) == len(found) else ""
        raise InputError(
            f"{len(found)} photos are called {name!r}: {which}; name one by the beginning of its "
            f"hash, in brackets{apart}"
        )
    return found[0]


def _elsewhere(connection: Connection, wanted: Sequence[Any], where: Where | None) -> str:
    """Where a photo is that isn't in the visit meant, and what to do."""
    query = (
        select(
            visits.c.name.label("visit"), fields.c.name.label("field"), farms.c.name.label("farm")
        )
        .join_from(photos, placements, placements.c.photo_id == photos.c.id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .join(farms, farms.c.id == fields.c.farm_id)
        .where(or_(*wanted), placements.c.ended_id.is_(None))
    )
    row = None if where is None else connection.execute(query.order_by(visits.c.id)).first()
    if row is None or where is None:
        return "give its file name as `season show` writes it"
    if (row.farm, row.field) == (where.farm, where.field):
        return f"it is in {row.visit}: add --visit {in_command(row.visit)}"
    return (
        f"it is in {row.farm}, {row.field}, {row.visit}: "
        f"give --farm {in_command(row.farm)} --field {in_command(row.field)} "
        f"--visit {in_command(row.visit)}"
    )


def assign(
    act: Act, photo: str, spot: str | None, where: Where | None = None, *, new: bool = False
) -> Placed:
    """Put a photo to a spot by hand; without a spot, to none.

    Parameters
    ----------
    act : Act
    photo, spot : str
        The photo's file name or hash; the spot's name or number.
    where : Where, optional
        The visit that the spot is in; the photo's own if not given. A photo that was put into the
        wrong field moves this way.
    new : bool
        Make the spot if it isn't there.

    Raises
    ------
    InputError
        No such photo or spot.
    """
    try:
        row = photo_named(act.connection, photo, where)
    except InputError:
        if where is None:
            raise
        row = photo_named(act.connection, photo)
    visit = int(row.visit_id) if where is None else visit_of(act.connection, where)[0]
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
    return Placed(row.name, name, "hand", away, "", was)


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


def correct(
    act: Act,
    photo: str,
    plants: float | None = None,
    shoots: float | None = None,
    *,
    where: Where | None = None,
    note: str = "",
    withdraw: bool = False,
) -> dict[str, Any]:
    """Set the counts in the marked area of a photo; the model's prediction stays beside them.

    What isn't given stays as an earlier correction or the model says. ``withdraw`` goes back to
    the model's counts.

    Returns
    -------
    dict
        photo, the marked ``area`` that it was counted in, and for plants and shoots what the model
        ``predicted`` and what now ``holds``; the number of its ``visit``, the ``spot`` it is at,
        and what was counted ``by_hand`` there.

    Raises
    ------
    InputError
        No such photo, or numbers that can't be.
    """
    row = photo_named(act.connection, photo, where)
    model = act.connection.execute(
        select(predictions)
        .where(predictions.c.photo_id == row.id)
        .order_by(predictions.c.id.desc())
        .limit(1)
    ).one()
    before = act.connection.execute(
        select(corrections)
        .where(corrections.c.photo_id == row.id)
        .order_by(corrections.c.id.desc())
        .limit(1)
    ).first()
    alone = (plants is None) != (shoots is None)
    if withdraw:
        if plants is not None or shoots is not None:
            raise InputError("give either the counts or --withdraw, not both")
        if before is None or (before.plants is None and before.shoots is None):
            raise InputError(f"{row.name} has no correction to withdraw")
    elif plants is None and shoots is None:
        raise InputError("nothing to correct; give --plants or --shoots, or both")
    elif model.area_m2 is None:
        raise InputError(
            f"{row.name} was refused before its area was known; count the spot by hand instead"
        )
    elif before is not None and before.area == model.area:
        plants = before.plants if plants is None else plants
        shoots = before.shoots if shoots is None else shoots
    holds = {
        "plants": model.plants if plants is None else plants,
        "shoots": model.shoots if shoots is None else shoots,
    }
    _check(row.name, holds["plants"], holds["shoots"], alone=alone)
    act.add(corrections, photo_id=row.id, plants=plants, shoots=shoots, area=model.area, note=note)
    return {
        "photo": row.name,
        "area": (model.record.get("area") or {}).get("typed") or model.area,
        "predicted": {"plants": model.plants, "shoots": model.shoots},
        "holds": holds,
        "visit": int(row.visit_id),
        **_at_spot(act.connection, row.spot_id),
    }


def hand_counts_beside(
    connection: Connection, photo: str, where: Where | None = None
) -> int | None:
    """Number of a photo's visit, where its spot was counted by hand too; else None."""
    row = photo_named(connection, photo, where)
    return int(row.visit_id) if _at_spot(connection, row.spot_id)["by_hand"] else None


def _at_spot(connection: Connection, spot: int | None) -> dict[str, Any]:
    """Name of a spot, and the hand counts that hold there."""
    if spot is None:
        return {"spot": "", "by_hand": []}
    name = connection.scalar(select(spots.c.name).where(spots.c.id == spot))
    columns = (hand_counts.c.observer, hand_counts.c.plants, hand_counts.c.shoots)
    query = select(*columns).where(hand_counts.c.spot_id == spot, hand_counts.c.ended_id.is_(None))
    return {"spot": str(name), "by_hand": [dict(r._mapping) for r in connection.execute(query)]}


def _check(photo: str, plants: float | None, shoots: float | None, *, alone: bool) -> None:
    for what, value in (("plants", plants), ("shoots", shoots)):
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise InputError(f"{photo}, {what}: {value:g} can't be; give what was counted")
    if plants is None or shoots is None:
        return
    if shoots < plants:
        raise InputError(
            f"{photo}: shoots {shoots:g} would be fewer than plants {plants:g}, though each plant "
            f"has a main stem; give both counts ({Definition.STEMS.words})"
        )
    if shoots > MOST_SHOOTS_PER_PLANT * plants:
        raise InputError(
            f"{photo}: shoots {shoots:g} would be more than {MOST_SHOOTS_PER_PLANT} for each of "
            f"{plants:g} plants; check both counts"
        )
    if alone and shoots > _MANY_SHOOTS_PER_PLANT * plants:
        raise InputError(
            f"{photo}: plants {plants:g} and shoots {shoots:g} would be {shoots / plants:.1f} "
            "shoots on each plant, and early stands have 3 to 5; the other count must be wrong "
            "too: give both, --plants and --shoots. Nothing was changed"
        )
