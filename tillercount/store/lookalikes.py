"""Photos added that look like others of the season, turned or saved again: told, never left out."""

from __future__ import annotations

from collections import Counter
from typing import Any

from sqlalchemy import or_

from tillercount.field.copies import LOOKS
from tillercount.names import first_few, key_of
from tillercount.samelook import Looks
from tillercount.store.acts import Act
from tillercount.store.photoquery import in_entry, latest_of_photos
from tillercount.store.tables import corrections, fields, photos, placements, predictions, visits
from tillercount.store.tally import taking_out

__all__ = ["lookalikes"]

_MOST_NAMED = 6
_HASH = 12


def lookalikes(act: Act) -> list[str]:
    """What to say of the photos whose counts this act put in, a line for each of their visits.

    Refused photos are left out: only what counts can count twice. Photos that were counted by an
    older program have no look, and are like none.
    """
    query = (
        latest_of_photos()
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(or_(predictions.c.status == "counted", corrections.c.id.is_not(None)))
        .with_only_columns(
            photos.c.name.label("photo"),
            photos.c.sha256,
            fields.c.id.label("field_id"),
            fields.c.name.label("field"),
            visits.c.id.label("visit_id"),
            visits.c.name.label("visit"),
            predictions.c.act_id,
            in_entry(("look",)).as_string().label("look"),
        )
        .order_by(placements.c.id)
    )
    known = [row for row in act.connection.execute(query) if row.look]
    rows = sorted(known, key=lambda row: row.act_id == act.id)  # the new ones last
    before = sum(row.act_id != act.id for row in rows)
    told: dict[tuple[int, bool], list[tuple[Any, Any]]] = {}
    for new, old in Looks(row.look for row in rows).firsts(before):
        pair = rows[new], rows[old]
        one_visit = pair[0].visit_id == pair[1].visit_id
        told.setdefault((pair[0].visit_id, one_visit), []).append(pair)
    names = Counter(key_of(row.photo) for row in rows)
    single = {name for name, many in names.items() if many == 1}
    return [_line(pairs, one_visit, single, act.place) for (_, one_visit), pairs in told.items()]


def _line(pairs: list[tuple[Any, Any]], one_visit: bool, single: set[str], store: str) -> str:
    news = [new for new, _ in pairs]
    out = [
        new.photo if key_of(new.photo) in single else new.sha256[:_HASH] for new in news
    ][:_MOST_NAMED]
    if one_visit:
        harm = "If one is a copy, its place counts twice"
    else:
        harm = "If it is a copy, it was taken of another field or on another visit"
    each = first_few((f"{new.photo} and {_called(old, new)}" for new, old in pairs), between="; ")
    which = "it" if len(pairs) == 1 else "them" if len(out) == len(pairs) else "the first of them"
    return (
        f"MIND: {LOOKS}: {each}. {harm}: take {which} out with "
        f"{taking_out(news[0].field, out, store, news[0].visit)}"
    )


def _called(old: Any, beside: Any) -> str:
    """A photo's name with its field and visit, where those aren't the other's."""
    if old.visit_id == beside.visit_id:
        return str(old.photo)
    of = "" if old.field_id == beside.field_id else f"{old.field}, "
    return f"{old.photo} of {of}{old.visit}"
