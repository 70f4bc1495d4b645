"""Hand counts that a visit has twice: under a date that a spreadsheet made, and under the name that
was mended."""

from __future__ import annotations

from sqlalchemy import select

from tillercount.datetwice import Named, twice_named, twice_question
from tillercount.names import in_command
from tillercount.store.acts import Act
from tillercount.store.tables import hand_counts, spots

__all__ = ["said_twice"]


def said_twice(act: Act, visit: int) -> list[str]:
    """The question whether counts that this act put into the visit are there under another name
    too, or whether it brought both, with what takes the dates out; else empty."""
    query = (
        select(hand_counts, spots.c.name)
        .join_from(hand_counts, spots)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
        .order_by(hand_counts.c.id)
    )
    came: dict[Named, int] = {}
    for row in act.connection.execute(query):
        figures = (row.plants, row.shoots, row.definition, row.area_m2)
        came[Named(row.name, row.observer, figures)] = row.act_id
    pairs = [pair for pair in twice_named(came) if act.id in (came[pair[0]], came[pair[1]])]
    if not pairs:
        return []
    numbers = " ".join(f"--add {one}" for one in sorted({came[dated] for dated, _ in pairs}))
    return [
        f"MIND: {twice_question(pairs)}. Take out what brought the dates: tillercount season "
        f"remove {in_command(act.place)} {numbers}; then add the mended sheet, without them, again"
    ]
