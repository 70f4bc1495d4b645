"""A plan put to counts that were added before it.

Counts without a plan stand at spots of their own, called as the photo or the hand count names them.
Whether a plan added later is theirs is told by where they were counted: a plan's spots are drawn at
random, so counts that all lie at them, in more than one or two places, were made by it. Names alone
don't tell, since every plan has a spot 1.

Joined, the visit is as if the plan had come first: a counted spot becomes the planned one of its
name, and photos go to the planned spot that they lie at. What belongs to none keeps its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from sqlalchemy import Connection, insert, select, update

from tillercount.positions import distance_m, far_text
from tillercount.store.acts import Act, spot_key
from tillercount.store.added import Notes, Placed
from tillercount.store.placing import PHONE_ERROR_M, WITHIN_M, ToPlace, Walk
from tillercount.store.planfile import PlannedSpot
from tillercount.store.tables import hand_counts, photos, placements, predictions, spots

__all__ = ["Fit", "fit_of", "has_counts", "replace_photos", "spot_names"]

AT_M = 3 * PHONE_ERROR_M
"""Counts no farther than this (48 ft) from a planned spot lie at it: a convention."""

FEWEST_PLACES = 3
"""Fewer places than this may lie at another plan's spots by chance: a convention."""


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


def has_counts(connection: Connection, visit: int) -> bool:
    """Whether a photo or a hand count stands in a visit."""
    photo = select(placements.c.id).where(
        placements.c.visit_id == visit, placements.c.ended_id.is_(None)
    )
    hand = (
        select(hand_counts.c.id)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
    )
    return any(connection.execute(one.limit(1)).first() is not None for one in (photo, hand))


def fit_of(connection: Connection, visit: int, plan: Sequence[PlannedSpot]) -> Fit:
    """Whether the counts of a visit belong to a plan, by where they were made."""
    counted = _counted(connection, visit)
    lats, lons = (np.array([getattr(spot, name) for spot in plan]) for name in ("lat", "lon"))
    keys = [spot_key(spot.name) for spot in plan]
    known = [one for one in counted if one.places]
    nearest = []
    for one in known:
        for place in one.places:
            away = distance_m(*place, lats, lons)
            best = int(np.argmin(away))
            nearest.append((one, best, float(away[best])))
    if known and min(away for _, _, away in nearest) > WITHIN_M:
        one, _, least = min(nearest, key=lambda found: found[2])
        return Fit("no", f"spot {one.name}, the nearest, is {far_text(least)} from any of the plan")
    if known and max(away for _, _, away in nearest) > AT_M:
        one, best, most = max(nearest, key=lambda found: found[2])
        there = plan[best].name
        return Fit("unclear", f"spot {one.name} is {far_text(most)} from its nearest, spot {there}")
    for one, best, _ in nearest:
        if one.key in keys and one.key != keys[best]:
            return Fit("unclear", f"spot {one.name} lies at the plan's spot {plan[best].name}")
    strange = [one.name for one in counted if not one.places and one.key not in keys]
    if strange:
        return Fit("unclear", f"spot {strange[0]} has no position and isn't in the plan")
    at = {best for _, best, _ in nearest}
    if len(at) < FEWEST_PLACES:
        some = f"only {len(at)} of the plan's spots" if at else "no count"
        return Fit("unclear", f"{some} can be told by a position, and names alone say too little")
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


def spot_names(connection: Connection, visit: int) -> Mapping[str, Any]:
    """The spots of a visit by their name as compared: number, and zone."""
    query = select(spots.c.id, spots.c.name_key, spots.c.zone_id).where(spots.c.visit_id == visit)
    return {row.name_key: row for row in connection.execute(query)}


def replace_photos(act: Act, visit: int) -> tuple[list[Placed], tuple[str, ...]]:
    """Put the photos of a visit to its planned spots, as if these had been there first.

    What a person placed stays. A photo that belongs to no planned spot keeps the one it has.

    Returns
    -------
    list of Placed, tuple of str
        Those that were moved, and notes on spots that aren't in the plan.
    """
    planned = act.connection.execute(
        select(spots).where(spots.c.visit_id == visit, spots.c.planned).order_by(spots.c.number)
    ).all()
    rows = _placed(act.connection, visit)
    walk = Walk(
        [one.name for one in planned], [one.name_key for one in planned],
        [one.lat for one in planned], [one.lon for one in planned],
    )  # fmt: skip
    notes = Notes()
    moved: list[Placed] = []
    for row, place in zip(rows, walk.place([_to_place(row) for row in rows]), strict=True):
        spot = None if place.spot is None else planned[place.spot]
        if spot is None:
            if row.spot_id is not None and not row.planned:
                notes.add(f"{row.name} keeps its own spot, {row.spot}: {place.note}")
            continue
        if spot.id == row.spot_id:
            continue
        act.connection.execute(
            update(placements).where(placements.c.id == row.id).values(ended_id=act.id)
        )
        act.connection.execute(
            insert(placements).values(
                photo_id=row.photo_id, visit_id=visit, spot_id=spot.id, how=place.how,
                distance_m=place.distance_m, note=place.note, act_id=act.id,
            )
        )  # fmt: skip
        moved.append(
            Placed(row.name, spot.name, place.how, place.distance_m, place.note, row.spot or "")
        )
    by_hand = (
        select(spots.c.name)
        .join(hand_counts, hand_counts.c.spot_id == spots.c.id)
        .where(spots.c.visit_id == visit, ~spots.c.planned, hand_counts.c.ended_id.is_(None))
        .order_by(spots.c.id)
        .distinct()
    )
    for name in act.connection.scalars(by_hand):
        notes.add(f"spot {name}, counted by hand, isn't in the plan; kept as a further one")
    return moved, notes.done()


def _placed(connection: Connection, visit: int) -> Sequence[Any]:
    """Photos that no person placed, each with its spot and the entry of its last count."""
    last = (
        select(predictions.c.record)
        .where(predictions.c.photo_id == photos.c.id)
        .order_by(predictions.c.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    query = (
        select(
            placements.c.id,
            placements.c.photo_id,
            placements.c.spot_id,
            spots.c.name.label("spot"),
            spots.c.planned,
            photos.c.name,
            photos.c.path,
            photos.c.lat,
            photos.c.lon,
            photos.c.taken_at,
            last.label("record"),
        )
        .join_from(placements, photos, photos.c.id == placements.c.photo_id)
        .outerjoin(spots, spots.c.id == placements.c.spot_id)
        .where(placements.c.visit_id == visit, placements.c.ended_id.is_(None))
        .where(placements.c.how != "hand")
        .order_by(placements.c.id)
    )
    return connection.execute(query).all()


def _to_place(row: Any) -> ToPlace:
    record = row.record if isinstance(row.record, Mapping) else {}
    given = " ".join(str(record.get("spot") or "").split())
    stem = row.name.rsplit(".", 1)[0] or row.name
    return ToPlace(
        name=row.name,
        key=spot_key(stem),
        spot=spot_key(given) if given else "",
        given=given,
        path=row.path,
        lat=row.lat,
        lon=row.lon,
        taken_at=row.taken_at,
    )
