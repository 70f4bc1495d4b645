"""Photos of a visit put to their spots in the database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import insert, select, update

from tillercount.store.acts import Act, spot_key
from tillercount.store.added import Notes, Placed
from tillercount.store.placing import Place, ToPlace, Walk
from tillercount.store.tables import fields, placements, spots, visits

__all__ = ["Placer"]


class Placer:
    """Places the photos of one visit, batch by batch.

    In a visit with planned spots photos are placed on these. Without a plan each photo is a spot of
    its own, called as its file, unless its entry names one. ``lie_in`` are the visits in which the
    photos given so far lie, ``stay`` those photos that are in another visit of the field.
    """

    def __init__(self, act: Act, visit: int, within_m: float) -> None:
        self.notes = Notes()
        self.lie_in: set[int] = set()
        self.stay: set[int] = set()
        self._act = act
        self._visit = visit
        query = (
            select(spots.c.id, spots.c.name, spots.c.name_key, spots.c.lat, spots.c.lon)
            .where(spots.c.visit_id == visit, spots.c.planned)
            .order_by(spots.c.number)
        )
        rows = act.connection.execute(query).all()
        self._planned = [(row.id, row.name) for row in rows]
        self._walk = Walk(
            [row.name for row in rows],
            [row.name_key for row in rows],
            [row.lat for row in rows],
            [row.lon for row in rows],
            within_m,
        )

    def place(self, photos: Sequence[tuple[int, ToPlace]]) -> list[Placed]:
        """Place those that have no place yet; what became of them, in order."""
        standing = self._standing([number for number, _ in photos])
        wanted: list[tuple[int, ToPlace]] = []
        again: list[int] = []
        for number, photo in photos:
            row = standing.get(number)
            if row is None:
                wanted.append((number, photo))
            elif row.visit_id != self._visit:
                self._say_elsewhere(photo, row)
            elif row.spot_id is None and row.how != "hand":
                wanted.append((number, photo))
                again.append(row.id)
        self.lie_in |= {row.visit_id for row in standing.values()}
        if not wanted:
            return []
        self.lie_in.add(self._visit)
        found = self._find([photo for _, photo in wanted])
        rows = [
            {
                "photo_id": number,
                "visit_id": self._visit,
                "spot_id": spot,
                "how": place.how,
                "distance_m": place.distance_m,
                "note": place.note,
                "act_id": self._act.id,
            }
            for (number, _), (spot, _, place) in zip(wanted, found, strict=True)
        ]
        if again:
            self._act.connection.execute(
                update(placements).where(placements.c.id.in_(again)).values(ended_id=self._act.id)
            )
        self._act.connection.execute(insert(placements), rows)
        return [
            Placed(photo.name, name, place.how, place.distance_m, place.note)
            for (_, photo), (_, name, place) in zip(wanted, found, strict=True)
        ]

    def _standing(self, photos: list[int]) -> Mapping[int, Any]:
        query = select(
            placements.c.id,
            placements.c.photo_id,
            placements.c.visit_id,
            placements.c.spot_id,
            placements.c.how,
        ).where(placements.c.photo_id.in_(photos), placements.c.ended_id.is_(None))
        return {row.photo_id: row for row in self._act.connection.execute(query)}

    def _say_elsewhere(self, photo: ToPlace, row: Any) -> None:
        """Say that a photo is in another visit; those of other fields `Tally.left` tells."""
        query = (
            select(fields.c.id, fields.c.name, visits.c.name.label("visit"))
            .join_from(visits, fields)
            .where(visits.c.id == row.visit_id)
        )
        there = self._act.connection.execute(query).one()
        own = select(visits.c.field_id).where(visits.c.id == self._visit)
        if there.id != self._act.connection.scalar(own):
            return
        self.stay.add(row.photo_id)
        self.notes.add(
            f"{photo.name} is in the season already ({there.name}, {there.visit}) and stays there"
        )

    def _find(self, photos: Sequence[ToPlace]) -> list[tuple[int | None, str, Place]]:
        if not self._planned:
            return self._own_spots(photos)
        out: list[tuple[int | None, str, Place]] = []
        for place in self._walk.place(photos):
            number, name = (None, "") if place.spot is None else self._planned[place.spot]
            out.append((number, name, place))
        return out

    def _own_spots(self, photos: Sequence[ToPlace]) -> list[tuple[int | None, str, Place]]:
        keys = {k for p in photos for k in (p.key, p.spot, spot_key(p.path or p.name)) if k}
        there = self._named(keys)
        busy = self._busy(there.values())
        taken = {key for key, number in there.items() if number in busy}
        names: list[str] = []
        for photo in photos:
            if photo.spot:
                name = photo.given or photo.spot
            else:
                name = self._free(photo, taken)
                taken.add(spot_key(name))
            names.append(name)
        new: dict[str, dict[str, Any]] = {}
        for photo, name in zip(photos, names, strict=True):
            key = spot_key(name)
            if key not in there and key not in new:
                new[key] = {
                    "visit_id": self._visit,
                    "name": name,
                    "name_key": key,
                    "planned": False,
                    "by_hand": False,
                    "lat": photo.lat,
                    "lon": photo.lon,
                    "act_id": self._act.id,
                }
        if new:
            self._act.connection.execute(insert(spots), list(new.values()))
            there = {**there, **self._named(set(new))}
        return [(there[spot_key(name)], name, Place(None, "name")) for name in names]

    def _free(self, photo: ToPlace, taken: set[str]) -> str:
        """A name that no other photo has: two called alike in two folders are two places."""
        stem = photo.name.rsplit(".", 1)[0] or photo.name
        path = photo.path or photo.name
        if spot_key(stem) not in taken:
            return stem
        name, number = path, 2
        while spot_key(name) in taken or (number > 2 and self._named({spot_key(name)})):
            name = f"{path} ({number})"
            number += 1
        return name

    def _named(self, keys: Iterable[str]) -> dict[str, int]:
        query = select(spots.c.name_key, spots.c.id).where(
            spots.c.visit_id == self._visit, spots.c.name_key.in_(list(keys))
        )
        return {row.name_key: row.id for row in self._act.connection.execute(query)}

    def _busy(self, numbers: Iterable[int]) -> set[int]:
        query = select(placements.c.spot_id).where(
            placements.c.spot_id.in_(list(numbers)), placements.c.ended_id.is_(None)
        )
        return {int(n) for n in self._act.connection.scalars(query) if n is not None}
