"""Which spots count as spots: those planned, and those at which something was counted.

A spot that nobody planned is made by the photo or the hand count that names it. Once these are
taken out or moved away it stands empty; its row stays, since what was ended keeps pointing to it.
"""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, or_, select

from tillercount.store.tables import hand_counts, placements, spots

__all__ = ["has_counts", "in_use"]


def in_use() -> ColumnElement[bool]:
    """Condition on a row of spots: planned, or with a photo or a hand count that stands."""
    photo = select(placements.c.id).where(
        placements.c.spot_id == spots.c.id, placements.c.ended_id.is_(None)
    )
    hand = select(hand_counts.c.id).where(
        hand_counts.c.spot_id == spots.c.id, hand_counts.c.ended_id.is_(None)
    )
    return or_(spots.c.planned, photo.correlate(spots).exists(), hand.correlate(spots).exists())


def has_counts(connection: Connection, visit: int) -> bool:
    """Whether a photo or a hand count stands in a visit."""
    photo = select(placements.c.id).where(
        placements.c.visit_id == visit, placements.c.ended_id.is_(None)
    )
    hand = (
        select(hand_counts.c.id)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
    )
    return any(connection.execute(one.limit(1)).first() is not None for one in (photo, hand))
