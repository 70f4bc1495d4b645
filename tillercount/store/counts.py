"""Counts of photos put into a season: photos, predictions, and the spots they belong to."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select

from tillercount.errors import InputError
from tillercount.field import SpotDensity, collect
from tillercount.fingerprint import digest_of
from tillercount.store.acts import Act, key_of
from tillercount.store.added import MOST_NOTES, Added, Notes, Placed
from tillercount.store.countsfile import (
    CountsHead,
    Entry,
    as_entry,
    head_of,
    read_entries,
    read_head,
)
from tillercount.store.holding import add_predictions
from tillercount.store.lookalikes import lookalikes
from tillercount.store.othervisit import to_other_visit
from tillercount.store.places import Placer
from tillercount.store.placing import WITHIN_M, to_place
from tillercount.store.removing import remove_visit
from tillercount.store.sizes import refuse_other_sizes
from tillercount.store.strangers import doubtful_rows, strangers
from tillercount.store.tables import models, photos
from tillercount.store.tally import Item, Tally
from tillercount.store.visits import There, Where, field_of_visit, there, visit_for

__all__ = ["BATCH", "add_counts"]

BATCH = 500
"""Entries held in memory at once."""


def add_counts(
    act: Act,
    where: Where,
    counts: str | Path | Mapping[str, Any],
    *,
    within_m: float = WITHIN_M,
    records: Iterable[Mapping[str, Any]] | None = None,
    replace_sizes: bool = True,
) -> Added:
    """Put a counts file, or one already in memory, into a visit; its counts hold from now on.

    A photo that is in another visit stays there, and no visit is made for such photos alone.

    Parameters
    ----------
    act, where
        The open transaction, and where the counts belong.
    counts : path or mapping
        A counts file.
    within_m : float
        A photo farther than this from every planned spot isn't placed, metres.
    records : iterable of mapping, optional
        The entries, where they don't come from ``counts`` itself.
    replace_sizes : bool
        Whether counts of one marked area may take the place of those of another.

    Raises
    ------
    InputError
        The file, one of its entries or a value can't be used; the season stays as it was.
    """
    if isinstance(counts, Mapping):
        source, folder = "the counts", Path()
        head = head_of(counts, source)
        entries: Iterable[Mapping[str, Any]] = records or counts.get("spots") or ()
    else:
        path = Path(counts)
        source, folder = str(path), path.parent
        head = read_head(path)
        entries = read_entries(path) if records is None else records
    at = visit_for(act, where)
    model = _model_id(act, head)
    placer = Placer(act, at.id, within_m)
    notes, placed = Notes(), list[Placed]()
    tally = Tally(act.place, "" if isinstance(counts, Mapping) else source)
    unplaced = total = moved = unkept = looked = 0
    for batch in _batches(entries):
        items, lost = _read(batch, head, model, source, folder, total, notes)
        total += len(batch)
        unkept += lost
        looked += any(one.record.get("look") for one in items)
        ids = _add_photos(act, items)
        add_predictions(act, items, ids, model, tally, at.id)
        wanted = [
            (ids[one.sha256], to_place(e.photo, e.spot, one.lat, one.lon, e.taken_at))
            for one in items
            for e in (one.entry,)
        ]
        done = placer.place(wanted)
        moved += len(done)
        unplaced += sum(not one.spot for one in done)
        placed.extend(done[: MOST_NOTES - len(placed)])
    if not total:
        raise InputError(f"{source}: no spots in it; count photos first")
    if not replace_sizes:
        refuse_other_sizes(act.connection, tally.resized, Where(at.farm, at.field).text)
    for line in placer.notes.done():
        notes.add(line)
    said = [*tally.replaced(), *tally.said_of_stays(at.field), *tally.said_of_others()]
    said += strangers(act, at)
    if tally.new or moved:
        said[:0] = doubtful_rows(act.connection, at.id, said)
        said += lookalikes(act) if looked else []
    if where.visit is not None and placer.stay and not moved:
        way = to_other_visit(act.connection, where.visit, placer.stay, act.place)
        said.append(f"MIND: {way}")
    away = not moved and placer.lie_in != {at.id}
    if at.made and not moved:
        at, line = _unmade(act, at)
        said.append(line)
    elif away and where.visit is None:
        # without a visit's name the last one is meant; but what lies in an earlier one is of that
        field = field_of_visit(act.connection, at.id)
        own = [one for one in placer.lie_in if field_of_visit(act.connection, one) == field]
        if len(own) == 1:
            at, away = there(act.connection, own[0]), False
    return at.added(
        "counts",
        tally.new,
        tally.known,
        unplaced=unplaced,
        placed=placed,
        placed_more=moved - len(placed),
        notes=(*notes.done(), *said),
        refused=tally.refused,
        refusals=tuple(tally.refusals),
        unkept=unkept,
        known_refused=tally.known_refused,
        back=tally.back,
        put=tally.put,
        away=away,
    )


def _unmade(act: Act, at: There) -> tuple[There, str]:
    """Take back a visit made for nothing; where that leaves one, and a line that says so."""
    gone = remove_visit(act, Where(at.farm, at.field, at.visit))
    left = replace(
        at,
        farm=at.farm if len(gone) < 3 else "",
        field=at.field if len(gone) < 2 else "",
        visit="",
        made=(),
        last="",
    )
    return left, f"{', '.join(gone)} not made: nothing here would be in it"


def _batches(
    entries: Iterable[Mapping[str, Any]],
) -> Iterable[list[Mapping[str, Any]]]:
    steady = iter(entries)
    while batch := list(itertools.islice(steady, BATCH)):
        yield batch


def _model_id(act: Act, head: CountsHead) -> int:
    digest = digest_of([head.model, head.level])
    found = act.connection.scalar(select(models.c.id).where(models.c.digest == digest))
    if found is not None:
        return found
    row = act.connection.execute(
        insert(models).values(
            digest=digest,
            name=str(head.model.get("name") or ""),
            sha256=str(head.model.get("sha256") or ""),
            record={**head.model, "interval_level": head.level},
        )
    )
    assert row.inserted_primary_key is not None
    return int(row.inserted_primary_key[0])


def _read(
    batch: list[Mapping[str, Any]],
    head: CountsHead,
    model: int,
    source: str,
    folder: Path,
    before: int,
    notes: Notes,
) -> tuple[list[Item], int]:
    """The entries of photos that can be told, and how many refused ones can't."""
    entries: list[Entry] = []
    counted: list[dict[str, Any]] = []
    for number, record in enumerate(batch, start=before + 1):
        entry = as_entry(record, f"{source}, entry {number}")
        entries.append(entry)
        if entry.status != "refused":
            counted.append({**record, "spot": f"{entry.photo} (entry {number})"})
    densities = iter(_densities(counted, head, source))
    items: dict[str, Item] = {}
    lost = 0
    for number, (entry, record) in enumerate(zip(entries, batch, strict=True), start=before + 1):
        density = None if entry.status == "refused" else next(densities)
        sha256 = entry.sha256 or _hash(entry, folder)
        if not sha256:
            if density is not None:
                raise InputError(
                    f"{source}, entry {number}, sha256: missing, and {entry.photo} isn't here to "
                    "be read; put the photo beside the counts file, or count it again"
                )
            notes.add(f"{entry.photo} was refused and can't be read, so it isn't kept")
            lost += 1
            continue
        lat, lon = entry.lat, entry.lon
        if lat is None or lon is None:
            lat = lon = None
        elif abs(lat) < 1e-4 and abs(lon) < 1e-4:
            notes.add(f"{entry.photo}: position 0, 0 (a phone without a fix) left out")
            lat = lon = None
        # where the file lay says nothing about the count, nor how the photo looks
        content = {k: v for k, v in record.items() if k not in ("photo", "spot", "look")}
        item = Item(entry, record, sha256, digest_of([content, model]), lat, lon, density)
        first = items.setdefault(sha256, item)
        if first is not item:
            copy, kept = entry.photo, first.entry.photo
            twice = f"{copy} is given twice" if copy == kept else f"{copy} is a copy of {kept}"
            notes.add(f"{twice}: the first is kept")
    return list(items.values()), lost


def _densities(
    counted: list[dict[str, Any]], head: CountsHead, source: str
) -> tuple[SpotDensity, ...]:
    """The counts as densities, by the one function that reads them."""
    if not counted:
        return ()
    file = {
        "schema": head.schema,
        "model": head.model,
        "interval_level": head.level,
        "spots": counted,
    }
    try:
        return collect(file).spots
    except InputError as error:
        raise InputError(f"{source}, {error}") from error


def _hash(entry: Entry, folder: Path) -> str:
    from tillercount.fingerprint import file_sha256

    for path in (Path(entry.photo), folder / entry.photo, folder / Path(entry.photo).name):
        found = file_sha256(path)
        if found:
            return found
    return ""


def _add_photos(act: Act, items: list[Item]) -> dict[str, int]:
    ids = _photo_ids(act, items)
    rows = []
    for item in items:
        if item.sha256 in ids:
            continue
        photo = item.entry.photo.replace("\\", "/")
        name = photo.rsplit("/", 1)[-1]
        rows.append(
            {
                "sha256": item.sha256,
                "name": name,
                "name_key": key_of(name),
                "path": photo,
                "taken_at": item.entry.taken_at,
                "lat": item.lat,
                "lon": item.lon,
                "act_id": act.id,
            }
        )
    if rows:
        act.connection.execute(insert(photos), rows)
        ids = _photo_ids(act, items)
    return ids


def _photo_ids(act: Act, items: list[Item]) -> dict[str, int]:
    query = select(photos.c.sha256, photos.c.id).where(
        photos.c.sha256.in_([item.sha256 for item in items])
    )
    return {row.sha256: row.id for row in act.connection.execute(query)}
