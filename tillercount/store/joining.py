"""Counts put to the spots of a plan that was added after them.

Counts without a plan stand at spots of their own, called as the photo or the hand count names them.
Joined, the visit is as if the plan had come first: a counted spot becomes the planned one of its
name, and the others go to the planned spot that they lie at.

A spot goes there whole: its photos and hand counts were said to be of one place, by their common
name or by a person, and stay so. One whose photos and hand counts lie at different planned spots
keeps its own. `tillercount.store.belonging` tells whether the plan is theirs at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from sqlalchemy import Connection, insert, select, update

from tillercount.names import spot_text
from tillercount.store.acts import Act
from tillercount.store.added import Notes, Placed
from tillercount.store.places import Placer
from tillercount.store.placing import (
    WITHIN_M,
    Place,
    ToPlace,
    Walk,
    distance_m,
    far_text,
    to_place,
)
from tillercount.store.tables import hand_counts, photos, placements, predictions, spots, zones

__all__ = ["move_spots", "place_loose", "spot_rows"]

_NOWHERE = -1
"""A vote for none of the planned spots: it has a position, and that lies at none."""


@dataclass(eq=False)
class _Whole:
    """What was counted at one spot. ``votes`` are planned spots, by their order in the plan."""

    spot: Any
    photos: list[Any] = field(default_factory=list)
    hands: list[Any] = field(default_factory=list)
    votes: dict[int, float] = field(default_factory=dict)
    note: str = ""

    def vote(self, place: Place, *, has_position: bool = True) -> None:
        """One more word on where this belongs, with its distance."""
        away = np.inf if place.distance_m is None else place.distance_m
        if place.spot is not None:
            self.votes[place.spot] = min(away, self.votes.get(place.spot, np.inf))
        elif has_position:
            self.votes[_NOWHERE] = away
            self.note = self.note or place.note

    @property
    def goes(self) -> int | None:
        """The planned spot that all of it belongs to."""
        only = next(iter(self.votes)) if len(self.votes) == 1 else _NOWHERE
        return None if only == _NOWHERE else only


def spot_rows(connection: Connection, visit: int) -> Mapping[str, Any]:
    """The spots of a visit by their name as compared, with their zone's name."""
    query = (
        select(spots, zones.c.name.label("zone"))
        .outerjoin_from(spots, zones, zones.c.id == spots.c.zone_id)
        .where(spots.c.visit_id == visit)
        .order_by(spots.c.number, spots.c.id)
    )
    return {row.name_key: row for row in connection.execute(query)}


def move_spots(act: Act, visit: int) -> tuple[list[Placed], tuple[str, ...]]:
    """Put what was counted in a visit to its planned spots, as if these had been there first.

    A spot moves whole or not at all. What a person placed follows the others of its spot.

    Returns
    -------
    list of Placed, tuple of str
        Photos that were moved, and notes on hand counts and on spots that aren't in the plan.
    """
    by_id = {row.id: row for row in spot_rows(act.connection, visit).values()}
    planned = [row for row in by_id.values() if row.planned]
    walk = Walk(
        [one.name for one in planned], [one.name_key for one in planned],
        [one.lat for one in planned], [one.lon for one in planned],
    )  # fmt: skip
    rows = _photos(act.connection, visit)
    loose = [row for row in rows if row.how != "hand"]
    wanted = [to_place(r.path, _given(r), r.lat, r.lon, r.taken_at) for r in loose]
    places = {row.id: place for row, place in zip(loose, walk.place(wanted), strict=True)}
    wholes = {number: _Whole(by_id[number]) for number in by_id}
    moves = _Moves(act, visit, planned)
    for row in rows:
        if row.spot_id is not None:
            wholes[row.spot_id].photos.append(row)
        elif row.id in places and places[row.id].spot is not None:
            moves.photo(row, places[row.id])
    for row in _hands(act.connection, visit):
        wholes[row.spot_id].hands.append(row)
    order = {one.id: number for number, one in enumerate(planned)}
    for whole in wholes.values():
        _hear(whole, walk, places, order)
    moves.settle(wholes.values(), places, order)
    return moves.moved, moves.notes.done()


def place_loose(act: Act, visit: int) -> int:
    """Photos of a visit that have no spot and that no person left without one, placed; how many."""
    loose = [
        row for row in _photos(act.connection, visit) if row.spot_id is None and row.how != "hand"
    ]
    wanted = [(r.photo_id, to_place(r.path, _given(r), r.lat, r.lon, r.taken_at)) for r in loose]
    done = Placer(act, visit, WITHIN_M).place(wanted) if wanted else []
    return sum(bool(one.spot) for one in done)


def _hear(whole: _Whole, walk: Walk, places: Mapping[int, Place], order: Mapping[int, int]) -> None:
    """Collect where the photos and hand counts of a spot say that it belongs."""
    own = order.get(whole.spot.id)
    for row in whole.photos:
        if row.id in places:
            whole.vote(places[row.id], has_position=row.lat is not None and own is None)
    by_person = [row for row in whole.photos if row.id not in places]
    if own is not None:
        # Its name is in the plan, and a person gave it to these.
        if whole.hands or by_person:
            whole.vote(Place(own, "hand"))
        return
    _hear_positions(whole, walk, whole.hands)
    if not whole.votes:
        _hear_positions(whole, walk, by_person)


def _hear_positions(whole: _Whole, walk: Walk, rows: Iterable[Any]) -> None:
    known = [row for row in rows if row.lat is not None and row.lon is not None]
    for place in walk.place([ToPlace("", "", lat=row.lat, lon=row.lon) for row in known]):
        whole.vote(place)


class _Moves:
    """Moves spots, and says so."""

    def __init__(self, act: Act, visit: int, planned: Sequence[Any]) -> None:
        self.moved: list[Placed] = []
        self.notes = Notes()
        self._act, self._visit, self._planned = act, visit, planned
        self._zones = {one.id: (one.zone_id, one.zone) for one in planned}

    def settle(
        self, wholes: Iterable[_Whole], places: Mapping[int, Place], order: Mapping[int, int]
    ) -> None:
        """Move what can be moved, the nearest first; the rest is named."""
        leaving: list[_Whole] = []
        by_hand: set[int] = set()
        for one in wholes:
            own = order.get(one.spot.id)
            if one.goes is not None and one.goes != own:
                leaving.append(one)
                continue
            by_hand |= {one.spot.id} if one.hands else set()
            self._say_kept(one, own)
        leaving.sort(key=lambda one: (min(one.votes.values()), one.spot.id))
        for one in leaving:
            assert one.goes is not None
            to = self._planned[one.goes]
            if one.hands and to.id in by_hand:
                self.notes.add(
                    f"{spot_text(one.spot.name)} is kept as a further one: it lies at "
                    f"{spot_text(to.name)}, which has a hand count of its own"
                )
                continue
            if one.hands:
                by_hand.add(to.id)
            self._move(one, places, one.goes)

    def _move(self, whole: _Whole, places: Mapping[int, Place], goes: int) -> None:
        to, was = self._planned[goes], whole.spot.name
        for row in whole.photos:
            place = places.get(row.id)
            if place is None or place.spot is None:
                how = "hand" if place is None else "name"
                place = Place(goes, how, _away(row, to), f"with the others of {spot_text(was)}")
                self.photo(row, place, "with")
            else:
                self.photo(row, place)
        for row in whole.hands:
            self._act.connection.execute(
                update(hand_counts).where(hand_counts.c.id == row.id).values(ended_id=self._act.id)
            )
            # Still of the act that brought it in: a visit's date is the day of its hand counts.
            same = {k: v for k, v in row._mapping.items() if k not in ("id", "ended_id")}
            self._act.connection.execute(insert(hand_counts).values({**same, "spot_id": to.id}))
        if whole.hands:
            away = whole.votes[goes]
            far = f", {far_text(away)} away" if np.isfinite(away) else ""
            self.notes.add(
                f"{spot_text(was)}, counted by hand, is {spot_text(to.name)} of the plan{far}"
            )
        self._keep_zone(whole.spot, to)

    def photo(self, row: Any, place: Place, shown: str | None = None) -> None:
        """Move one photo; ``shown`` is how, where it wasn't by its own position, time or name."""
        assert place.spot is not None
        to = self._planned[place.spot]
        self._act.connection.execute(
            update(placements).where(placements.c.id == row.id).values(ended_id=self._act.id)
        )
        self._act.connection.execute(
            insert(placements).values(
                photo_id=row.photo_id, visit_id=self._visit, spot_id=to.id, how=place.how,
                distance_m=place.distance_m, note=place.note, act_id=self._act.id,
            )
        )  # fmt: skip
        how, was = shown or place.how, row.spot or ""
        self.moved.append(Placed(row.name, to.name, how, place.distance_m, place.note, was))

    def _keep_zone(self, spot: Any, to: Any) -> None:
        """A zone that somebody gave holds where the plan has none."""
        number, name = self._zones[to.id]
        if spot.zone_id is None or spot.zone_id == number:
            return
        if number is not None:
            self.notes.add(
                f"{spot_text(to.name)} stays in the plan's zone {name}, not {spot.zone} like "
                f"{spot_text(spot.name)}"
            )
            return
        self._zones[to.id] = spot.zone_id, spot.zone
        self._act.connection.execute(
            update(spots).where(spots.c.id == to.id).values(zone_id=spot.zone_id)
        )

    def _say_kept(self, whole: _Whole, own: int | None) -> None:
        names = [spot_text(self._planned[n].name) for n in sorted(whole.votes) if n != _NOWHERE]
        if names and whole.goes is None:
            names += ["none of the plan's spots"] if _NOWHERE in whole.votes else []
            self.notes.add(
                f"{spot_text(whole.spot.name)} is kept whole, as it was: what was counted there "
                f"lies at {' and at '.join(names)}; to part them: season assign"
            )
        elif own is None and whole.photos:
            why = f": {whole.note}" if whole.note else ", which isn't in the plan"
            for row in whole.photos:
                self.notes.add(f"{row.name} keeps its own spot, {whole.spot.name}{why}")
        if own is None and whole.hands and whole.goes is None and not names:
            self.notes.add(
                f"{spot_text(whole.spot.name)}, counted by hand, isn't in the plan; kept as a "
                "further one"
            )


def _away(row: Any, to: Any) -> float | None:
    if None in (row.lat, row.lon, to.lat, to.lon):
        return None
    return float(distance_m(row.lat, row.lon, np.array([to.lat]), np.array([to.lon]))[0])


def _photos(connection: Connection, visit: int) -> Sequence[Any]:
    """The photos of a visit, each with its spot and the entry of its last count."""
    last = (
        select(predictions.c.record)
        .where(predictions.c.photo_id == photos.c.id)
        .order_by(predictions.c.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    of_photo = (photos.c[name] for name in ("name", "path", "lat", "lon", "taken_at"))
    of_place = (placements.c[name] for name in ("id", "photo_id", "spot_id", "how"))
    query = (
        select(*of_place, *of_photo, spots.c.name.label("spot"), last.label("record"))
        .join_from(placements, photos, photos.c.id == placements.c.photo_id)
        .outerjoin(spots, spots.c.id == placements.c.spot_id)
        .where(placements.c.visit_id == visit, placements.c.ended_id.is_(None))
        .order_by(placements.c.id)
    )
    return connection.execute(query).all()


def _hands(connection: Connection, visit: int) -> Sequence[Any]:
    query = (
        select(hand_counts)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
        .order_by(hand_counts.c.id)
    )
    return connection.execute(query).all()


def _given(row: Any) -> str:
    """The spot that somebody gave with a photo."""
    record = row.record if isinstance(row.record, Mapping) else {}
    return str(record.get("spot") or "")
