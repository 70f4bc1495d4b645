"""Photos added that look like others of the season, turned or saved again: told, never left out."""

from __future__ import annotations

from tillercount.names import first_few
from tillercount.samelook import Looks
from tillercount.store.acts import Act
from tillercount.store.photoquery import in_entry, latest_of_photos
from tillercount.store.tables import fields, photos, placements, predictions, visits
from tillercount.store.tally import taking_out

__all__ = ["lookalikes"]


def lookalikes(act: Act) -> list[str]:
    """What to say of the photos whose counts this act put in, a line for each of their fields.

    Photos that were counted by an older program have no look, and are like none.
    """
    query = (
        latest_of_photos()
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .with_only_columns(
            photos.c.name.label("photo"),
            fields.c.name.label("field"),
            predictions.c.act_id,
            in_entry(("look",)).as_string().label("look"),
        )
    )
    known = [row for row in act.connection.execute(query) if row.look]
    rows = sorted(known, key=lambda row: row.act_id == act.id)  # the new ones last
    before = sum(row.act_id != act.id for row in rows)
    told: dict[str, list[tuple[str, str]]] = {}
    for new, old in Looks(row.look for row in rows).pairs(before):
        row, one = rows[new], rows[old]
        where = "" if one.field == row.field else f" of {one.field}"
        told.setdefault(row.field, []).append((row.photo, f"{one.photo}{where}"))
    return [
        "MIND: looks the same but for being turned, mirrored, made smaller or saved again: "
        f"{first_few([f'{new} and {old}' for new, old in pairs])}. If one is a copy, its place "
        f"counts twice: take it out with {taking_out(field, [pairs[0][0]], act.place)}"
        for field, pairs in told.items()
    ]
