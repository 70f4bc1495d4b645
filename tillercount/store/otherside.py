"""A plan on the other side of the earth from the rest of the season: a sign was lost."""

from __future__ import annotations

import statistics

from sqlalchemy import Connection, select

from tillercount.store.planfile import PlanFile
from tillercount.store.tables import photos, placements, spots
from tillercount.store.tally import taking_plan_out
from tillercount.store.visits import There

__all__ = ["other_side"]

_MOST = 2000
"""Positions looked at; where a season is, a few tell."""
_APART_DEG = 10.0
"""Fields of one season beside the meridian or the equator lie on both sides of it: a convention."""


def other_side(connection: Connection, plan: PlanFile, at: There, store: str) -> tuple[str, ...]:
    """What to ask where every other position of the season has the other sign of the longitude,
    or of the latitude, and lies far from it.

    Nothing is changed: a grower with fields on both sides is rare, but can be.
    """
    from tillercount.plan.degrees import place_words

    own = [(spot.lon, spot.lat) for spot in plan.spots]
    others = _others(connection, at.id)
    if not own or not others:
        return ()
    here, there = _middle(own), _middle(others)
    for axis in (0, 1):
        signs = {place[axis] > 0 for place in others}
        apart = abs(here[axis] - there[axis]) > _APART_DEG
        if len(signs) == 1 and (here[axis] > 0) not in signs and apart:
            what = "longitude" if axis == 0 else "latitude"
            said = (
                f"MIND: this plan lies at {place_words(*here)}, and all else in the season at "
                f"{place_words(*there)}: was the minus of the {what} lost"
            )
            if here[axis] < 0:  # then it is the others that lack it
                return (f"{said} there? Then take their plans out, and plan those fields again",)
            return (
                f"{said}? Then take the plan out ({taking_plan_out(store, at)}) and plan again",
            )
    return ()


def _middle(places: list[tuple[float, float]]) -> tuple[float, float]:
    lon, lat = (statistics.median(values) for values in zip(*places, strict=True))
    return lon, lat


def _others(connection: Connection, visit: int) -> list[tuple[float, float]]:
    """Longitude and latitude of spots of other visits, and of photos, wherever they are."""
    of_spots = select(spots.c.lon, spots.c.lat).where(
        spots.c.visit_id != visit, spots.c.lat.is_not(None), spots.c.lon.is_not(None)
    )
    of_photos = (
        select(photos.c.lon, photos.c.lat)
        .join(placements, placements.c.photo_id == photos.c.id)
        .where(placements.c.ended_id.is_(None), photos.c.lat.is_not(None))
    )
    return [
        (float(row.lon), float(row.lat))
        for query in (of_spots, of_photos)
        for row in connection.execute(query.limit(_MOST))
        if row.lon is not None
    ]
