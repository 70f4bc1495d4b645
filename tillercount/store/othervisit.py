"""How photos come into another visit of their field: those that were given, and nothing besides."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import Connection, select

from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.store.tables import fields, photos, placements, visits
from tillercount.store.tally import MOST_TYPED, taking_out
from tillercount.store.undoing import brought, brought_by

__all__ = ["to_other_visit"]


def to_other_visit(connection: Connection, visit: str, ids: Collection[int], store: str) -> str:
    """How photos, by their numbers, come into a visit of that name; commands can be typed.

    Where they are all that their addings brought, or too many to be typed, these are taken out,
    else the photos by name.
    """
    came = sorted({brought_by(connection, one) or 0 for one in ids} - {0})
    rows = _lying(connection, ids) if len(ids) <= MOST_TYPED else []
    it, one = ("it", "that photo") if len(ids) == 1 else ("them", "those photos")
    belong = "it belongs" if len(ids) == 1 else "they belong"
    if rows and (not came or _brought_more(connection, came, rows)):
        what = f"{one} alone"
        places = dict.fromkeys((row.visit, row.field) for row in rows)
        out = " and ".join(
            taking_out(
                field, [r.name for r in rows if (r.visit, r.field) == (was, field)], store, was
            )
            for was, field in places
        )
    else:
        what = f"what {it.replace('them', 'they')} came with"
        numbers = " ".join(f"--add {number}" for number in came) or "--photo NAME"
        goes = "which names all that goes" if came else "for each of them"
        out = f"tillercount season remove {in_command(store)} {numbers} ({goes})"
    elsewhere = "" if len(ids) == 1 else ", and what belongs elsewhere with its own --visit"
    return (
        f"if {belong} to {visit}, take out {what}: {out}; then add {it} again with --visit "
        f"{in_command(visit)}{elsewhere}"
    )


def _lying(connection: Connection, ids: Collection[int]) -> Sequence[Any]:
    """The placements of photos, with their names and places."""
    query = (
        select(
            placements.c.id,
            photos.c.name,
            visits.c.name.label("visit"),
            fields.c.name.label("field"),
        )
        .join_from(placements, photos)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(photos.c.id.in_(ids), placements.c.ended_id.is_(None))
        .order_by(placements.c.id)
    )
    return connection.execute(query).all()


def _brought_more(
    connection: Connection, numbers: Collection[int], rows: Sequence[Any]
) -> bool:
    """Whether addings brought anything besides these placements."""
    own = {row.id for row in rows}
    try:
        found = [brought(connection, one) for one in numbers]
    except InputError:  # nothing of it is left, so it can't be taken out
        return True
    return any(
        {*one.placements} - own or one.hands or one.recounted or one.planned for one in found
    )
