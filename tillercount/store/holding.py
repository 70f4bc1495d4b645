"""Which of a photo's counts holds: the one that was put in last, but never a refusal for a count.

A count that is put in once more, after another one of the same photo, gets a row of its own and
thereby holds again: a wrong size is put right by adding the right file, and nothing is lost. A
photo that was counted and is refused now (a wrong size, most often) keeps its count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select

from tillercount.area import WholePhoto, parse_area
from tillercount.errors import InputError
from tillercount.fingerprint import digest_of
from tillercount.store.acts import Act
from tillercount.store.photoquery import in_entry
from tillercount.store.tables import fields, photos, placements, predictions, visits
from tillercount.store.tally import Item, Resized, Tally

__all__ = ["Held", "add_predictions", "count_again", "held_counts"]


@dataclass(frozen=True)
class Held:
    """The counts of a photo: ``last`` holds, ``before`` is the one that held until then.

    ``area`` is the marked area of the last one as it is compared, ``label`` the same in the words
    in which it was given, ``placed`` says whether the photo is in a visit, ``refused`` whether the
    last one is no count at all. ``field`` is the field that the photo is in, "" where it is in
    none, ``field_id`` its number, ``name`` what the photo is called in the season.
    """

    digests: frozenset[str]
    last: int
    last_digest: str
    before: int | None
    label: str
    placed: bool
    refused: bool
    area: str = ""
    field: str = ""
    field_id: int | None = None
    name: str = ""

    def counts_in(self, field: int | None) -> bool:
        """Whether it is a count, and of a photo in that field."""
        return self.placed and not self.refused and self.field_id == field

    def is_last(self, digest: str) -> bool:
        """Whether the count with this content is the one that holds."""
        again = () if self.before is None else (_again(digest, self.before),)
        return self.last_digest in (digest, *again)


def _again(digest: str, after: int) -> str:
    """Digest of a count that is put in once more, after the one of that number."""
    return digest_of([digest, after])


def held_counts(connection: Connection, ids: Sequence[int]) -> dict[int, Held]:
    """What holds for those of these photos that have a count."""
    query = select(
        predictions.c.id,
        predictions.c.photo_id,
        predictions.c.digest,
        predictions.c.status,
        predictions.c.area,
        in_entry(("area", "typed")).as_string().label("typed"),
    ).where(predictions.c.photo_id.in_(ids))
    rows: dict[int, list[Any]] = {}
    for row in connection.execute(query.order_by(predictions.c.id)):
        rows.setdefault(row.photo_id, []).append(row)
    standing = (
        select(placements.c.photo_id, fields.c.name, fields.c.id, photos.c.name.label("photo"))
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(placements.c.photo_id.in_(ids), placements.c.ended_id.is_(None))
    )
    placed = {row.photo_id: (row.name, row.id, row.photo) for row in connection.execute(standing)}
    return {
        photo: Held(
            frozenset(row.digest for row in found),
            found[-1].id,
            found[-1].digest,
            found[-2].id if len(found) > 1 else None,
            found[-1].typed or found[-1].area,
            photo in placed,
            found[-1].status == "refused",
            found[-1].area,
            *placed.get(photo, ("", None, "")),
        )
        for photo, found in rows.items()
    }


def add_predictions(
    act: Act, items: Sequence[Item], ids: Mapping[str, int], model: int, tally: Tally, visit: int
) -> None:
    """Put counts in, so that these hold; before the photos are placed.

    A refusal doesn't take the place of a count, and a photo that is in another field than that of
    ``visit`` keeps its count: whoever adds it here can't mean to change the mean of that field.

    Parameters
    ----------
    act : Act
    items : sequence of Item
        Each of another photo.
    ids : mapping of str to int
        Numbers of the photos by their SHA-256.
    model : int
        Number of the model that counted.
    tally : Tally
        Takes up what became of them.
    """
    there = held_counts(act.connection, list(ids.values()))
    own = act.connection.scalar(select(visits.c.field_id).where(visits.c.id == visit))
    rows = []
    for item in items:
        held, digest = there.get(ids[item.sha256]), item.digest
        if held is not None and held.placed and held.field_id != own:
            tally.known += 1
            tally.left(held.name, held.field)
            tally.here(item, held.name, held.field)
            continue
        if held is not None and held.placed:
            tally.here(item, held.name, held.field)
        if item.density is None and held is not None and held.placed and not held.refused:
            tally.known += 1
            tally.stood(item, held.label)
            continue
        if held is None or digest not in held.digests:
            tally.new += 1
            if item.density is None:
                tally.refuse(item)
        else:
            tally.known += 1
            tally.known_refused += item.density is None
            tally.put += not held.placed
            if held.is_last(digest):
                continue
            tally.back += 1
            digest = _again(digest, held.last)
        if held is not None and held.placed and not held.refused:
            tally.instead(item, held.label)
            if held.area != item.entry.area.text:
                photo = ids[item.sha256]
                one = Resized(item.name, photo, held.label, item.area, held.area)
                tally.resized.append(one)
        rows.append(_row(item, digest, ids[item.sha256], model, act))
    if rows:
        act.connection.execute(insert(predictions), rows)


def count_again(act: Act, number: int, added: int) -> str:
    """Put in once more what held before a count, which the act ``added`` brought; the photo's name.

    The row says by which act it came first, as that is whose count it is.
    """
    last = act.connection.execute(select(predictions).where(predictions.c.id == number)).one()
    before = act.connection.execute(
        select(predictions)
        .where(predictions.c.photo_id == last.photo_id, predictions.c.act_id < added)
        .order_by(predictions.c.id.desc())
        .limit(1)
    ).one()
    values = {**before._mapping, "digest": _again(before.digest, last.id)}
    del values["id"]
    act.connection.execute(insert(predictions).values(**values))
    name = select(photos.c.name).where(photos.c.id == last.photo_id)
    return str(act.connection.scalar(name))


def _row(item: Item, digest: str, photo: int, model: int, act: Act) -> dict[str, Any]:
    density = item.density
    row: dict[str, Any] = {
        "photo_id": photo,
        "digest": digest,
        "model_id": model,
        "status": item.entry.status,
        "reason": item.entry.reason,
        "area": item.entry.area.text,
        "area_m2": density.area_m2 if density else _stated_m2(item.entry.area.text),
        "flags": item.entry.flags,
        "record": dict(item.record),
        "act_id": act.id,
    }
    for what in ("plants", "shoots"):
        interval = item.record.get(what)
        row[what] = interval.get("count") if density and isinstance(interval, dict) else None
        for name in (f"{what}_per_m2", f"{what}_se", f"{what}_bias_rel"):
            row[name] = getattr(density, name) if density else None
    return row


def _stated_m2(text: str) -> float | None:
    """Area that was marked on a photo that was refused: a person may still count in it."""
    try:
        area = parse_area(text)
    except InputError:
        return None
    return None if isinstance(area, WholePhoto) else area.area_m2
