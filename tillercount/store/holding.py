"""Which of a photo's counts holds: the one that was put in last, but never a refusal for a count.

A count that is put in once more, after another one of the same photo, gets a row of its own and
thereby holds again: a wrong size is put right by adding the right file, and nothing is lost. A
photo that was counted and is refused now (a wrong size, most often) keeps its count.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select

from tillercount.area import WholePhoto, parse_area
from tillercount.errors import InputError
from tillercount.field import SpotDensity
from tillercount.names import first_few
from tillercount.store.acts import Act, digest_of
from tillercount.store.added import MOST_NOTES
from tillercount.store.countsfile import Entry
from tillercount.store.photoquery import in_entry
from tillercount.store.tables import fields, placements, predictions, visits

__all__ = ["Held", "Item", "Tally", "add_predictions", "held_counts", "left_there"]

_MOST_TYPED = 12
"""Photos named in a command that somebody is to type."""


@dataclass(frozen=True)
class Item:
    """An entry read and checked. ``density`` is None for a photo that was refused."""

    entry: Entry
    record: Mapping[str, Any]
    sha256: str
    digest: str
    lat: float | None
    lon: float | None
    density: SpotDensity | None

    @property
    def name(self) -> str:
        """The photo's file name."""
        return self.entry.photo.replace("\\", "/").rsplit("/", 1)[-1]


@dataclass
class Tally:
    """What became of the counts put in so far; ``new`` holds the ``refused`` ones too.

    ``known_refused``, ``back`` (those that hold again) and ``put`` (whose photos weren't in any
    visit) are some of the ``known``.
    """

    new: int = 0
    refused: int = 0
    known: int = 0
    known_refused: int = 0
    back: int = 0
    put: int = 0
    elsewhere: dict[str, list[str]] = dataclasses.field(default_factory=dict)
    refusals: list[tuple[str, str]] = dataclasses.field(default_factory=list)
    stays: list[tuple[str, str, str]] = dataclasses.field(default_factory=list)
    stay: int = 0
    _instead: dict[str, tuple[list[str], int]] = dataclasses.field(default_factory=dict)

    def refuse(self, item: Item) -> None:
        """One more photo that was refused."""
        self.refused += 1
        if len(self.refusals) < MOST_NOTES:
            self.refusals.append((item.name, item.entry.reason or "no reason given"))

    def stood(self, item: Item, held: Held) -> None:
        """One more photo that is refused now, and whose count holds all the same."""
        self.stay += 1
        if len(self.stays) < MOST_NOTES:
            reason = item.entry.reason or "no reason given"
            self.stays.append((item.name, reason, held.label))

    def instead(self, item: Item, was: Held) -> None:
        """One more count that took the place of one that held until now."""
        names, number = self._instead.get(was.label, ([], 0))
        if number < MOST_NOTES:
            names.append(item.name)
        self._instead[was.label] = names, number + 1

    def left(self, item: Item, held: Held) -> None:
        """One more photo of another field, whose count there isn't touched."""
        self.elsewhere.setdefault(held.field, []).append(item.name)

    def said_of_others(self) -> list[str]:
        """What to say of photos that are in other fields, a line for each field."""
        return [left_there(field, names) for field, names in self.elsewhere.items()]

    def said_of_stays(self, field: str) -> list[str]:
        """What to say of counts that stay though the photo was refused this time."""
        lines = [
            f"{name}: refused this time ({reason}), so its count with {label} stays; look at "
            f"--area. To do without that count: {_taking_out(field, [name])}"
            for name, reason, label in self.stays
        ]
        more = self.stay - len(self.stays)
        return [*lines, f"and {more} more likewise"] if more else lines

    def replaced(self) -> list[str]:
        """What the counts took the place of, a line for each area."""
        lines = []
        for area, (names, number) in self._instead.items():
            what = f"those with {area}" if area else "earlier ones"
            lines.append(f"in place of {what}: {first_few(names, len(names), of=number)}")
        return lines


def left_there(field: str, names: Sequence[str], store: str = "SEASON") -> str:
    """What to say of photos that are in another field, and how to bring them here."""
    more = len(names) - _MOST_TYPED
    rest = f" (and the other {more} likewise)" if more > 0 else ""
    return (
        f"in {field} already, and left as counted there: {first_few(names)}; what belongs here, "
        f"take out there first: {_taking_out(field, names[:_MOST_TYPED], store)}{rest}; to count "
        f'anew there, add with --field "{field}" --again'
    )


def _taking_out(field: str, names: Sequence[str], store: str = "SEASON") -> str:
    """The command that takes photos out of a field."""
    photos = " ".join(f'--photo "{n}"' if " " in n else f"--photo {n}" for n in names)
    return f'tillercount season remove {store} --field "{field}" {photos}'


@dataclass(frozen=True)
class Held:
    """The counts of a photo: ``last`` holds, ``before`` is the one that held until then.

    ``label`` is the marked area of the last one in the words in which it was given, ``placed``
    says whether the photo is in a visit, ``refused`` whether the last one is no count at all.
    ``field`` is the field that the photo is in, "" where it is in none, ``field_id`` its number.
    """

    digests: frozenset[str]
    last: int
    last_digest: str
    before: int | None
    label: str
    placed: bool
    refused: bool
    field: str = ""
    field_id: int | None = None

    def is_last(self, digest: str) -> bool:
        """Whether the count with this content is the one that holds."""
        again = () if self.before is None else (_again(digest, self.before),)
        return self.last_digest in (digest, *again)


def _again(digest: str, after: int) -> str:
    """Digest of a count that is put in once more, after the one of that number."""
    return digest_of([digest, after])


def held_counts(connection: Connection, photos: Sequence[int]) -> dict[int, Held]:
    """What holds for those of these photos that have a count."""
    query = select(
        predictions.c.id,
        predictions.c.photo_id,
        predictions.c.digest,
        predictions.c.status,
        predictions.c.area,
        in_entry(("area", "typed")).as_string().label("typed"),
    ).where(predictions.c.photo_id.in_(photos))
    rows: dict[int, list[Any]] = {}
    for row in connection.execute(query.order_by(predictions.c.id)):
        rows.setdefault(row.photo_id, []).append(row)
    standing = (
        select(placements.c.photo_id, fields.c.name, fields.c.id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(placements.c.photo_id.in_(photos), placements.c.ended_id.is_(None))
    )
    placed = {row.photo_id: (row.name, row.id) for row in connection.execute(standing)}
    return {
        photo: Held(
            frozenset(row.digest for row in found),
            found[-1].id,
            found[-1].digest,
            found[-2].id if len(found) > 1 else None,
            found[-1].typed or found[-1].area,
            photo in placed,
            found[-1].status == "refused",
            *placed.get(photo, ("", None)),
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
            tally.left(item, held)
            continue
        if item.density is None and held is not None and held.placed and not held.refused:
            tally.known += 1
            tally.stood(item, held)
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
            tally.instead(item, held)
        rows.append(_row(item, digest, ids[item.sha256], model, act))
    if rows:
        act.connection.execute(insert(predictions), rows)


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
