"""Taking out all that one adding brought, by its number in the journal.

Photos and hand counts are ended, as `tillercount.store.removing` ends them, and what they took the
place of holds again. A plan goes as one that is taken out by itself. A visit in which nothing is
left goes too. A day that the adding gave its visit is taken back, unless it was given again since.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, insert, select, update

from tillercount.errors import InputError
from tillercount.names import first_few
from tillercount.store.acts import Act
from tillercount.store.dating import days_by, take_back_days
from tillercount.store.holding import count_again
from tillercount.store.inuse import has_counts
from tillercount.store.removing import remove_plan, remove_visit
from tillercount.store.tables import acts, hand_counts, photos, placements, predictions, spots
from tillercount.store.tables import visits as visits_table
from tillercount.store.visits import Where, there

__all__ = ["Brought", "brought", "brought_by", "remove_added"]

_ADDS = ("add plan", "add counts", "add hand counts", "date")


@dataclass(frozen=True)
class Brought:
    """What one adding brought and is there still: numbers of rows.

    ``placements`` and ``hands`` are what would be ended, ``recounted`` counts that took the place
    of others of the same photo, ``planned`` visits with planned spots of it, ``visits`` all that it
    brought something to. ``names`` are photos and spots, for people. ``days`` are those it gave.
    """

    act: int
    what: str
    placements: tuple[int, ...]
    hands: tuple[int, ...]
    recounted: tuple[int, ...]
    planned: tuple[int, ...]
    visits: tuple[int, ...]
    names: tuple[str, ...]
    places: tuple[str, ...]
    days: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """All of it in words."""
        parts = [
            f"{number} {one if number == 1 else more}"
            for number, one, more in (
                (len(self.placements), "photo", "photos"),
                (len(self.hands), "hand count", "hand counts"),
                (len(self.recounted), "newer count of a photo", "newer counts of photos"),
                (len(self.planned), "plan", "plans"),
            )
            if number
        ]
        named = f" ({first_few(self.names)})" if self.names else ""
        parts += [f"the day {day}" for day in self.days if not parts]
        return f"{', '.join(parts) or 'a visit without counts'}{named}, {'; '.join(self.places)}"


def brought(connection: Connection, number: int) -> Brought:
    """What an adding brought that is there still.

    Raises
    ------
    InputError
        No adding of this number, or nothing of it is left.
    """
    row = connection.execute(select(acts).where(acts.c.id == number)).first()
    if row is None or row.verb not in _ADDS:
        is_ = "isn't in the journal" if row is None else f"is {row.verb!r}, which added nothing"
        raise InputError(f"number {number} {is_}; `season show --log` has the numbers")
    # a photo that this adding only put to another spot of its visit wasn't brought by it
    first = placements.alias("first")
    before = placements.alias("before")
    came = (
        select(placements.c.id, placements.c.visit_id, photos.c.name, photos.c.id.label("photo"))
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(first, (first.c.photo_id == placements.c.photo_id) & (first.c.act_id == number))
        .outerjoin(before, (before.c.photo_id == first.c.photo_id) & (before.c.ended_id == number))
        .where(placements.c.ended_id.is_(None), before.c.id.is_(None))
        .order_by(placements.c.id)
    )
    photos_in = connection.execute(came).all()
    hands = connection.execute(
        select(hand_counts.c.id, spots.c.visit_id, spots.c.name)
        .join_from(hand_counts, spots)
        .where(hand_counts.c.act_id == number, hand_counts.c.ended_id.is_(None))
        .order_by(hand_counts.c.id)
    ).all()
    own = {one.photo for one in photos_in}
    recounted = [one for one in _recounted(connection, number) if one.photo_id not in own]
    planned = connection.scalars(
        select(spots.c.visit_id).where(spots.c.act_id == number, spots.c.planned).distinct()
    ).all()
    made = connection.scalar(select(visits_table.c.id).where(visits_table.c.act_id == number))
    given = days_by(connection, number)
    if not (photos_in or hands or recounted or planned or made or given):
        raise InputError(f"nothing of number {number} ({row.verb} {row.source}) is there any more")
    at = [one.visit_id for one in (*photos_in, *hands, *recounted)]
    places = dict.fromkeys([*at, *planned, *([] if made is None else [made]), *given])
    return Brought(
        number,
        row.verb,
        tuple(one.id for one in photos_in),
        tuple(one.id for one in hands),
        tuple(one.id for one in recounted),
        tuple(planned),
        tuple(places),
        tuple(dict.fromkeys(one.name for one in (*photos_in, *hands, *recounted))),
        tuple(there(connection, visit).text for visit in places),
        tuple(dict.fromkeys(given.values())),
    )


def brought_by(connection: Connection, photo: int) -> int | None:
    """The number of the adding that brought a photo where it lies; not that of a plan or a person
    that only put it to another spot."""
    before = placements.alias("before")
    query = (
        select(placements.c.act_id)
        .join(acts, acts.c.id == placements.c.act_id)
        .outerjoin(
            before,
            (before.c.photo_id == placements.c.photo_id)
            & (before.c.ended_id == placements.c.act_id),
        )
        .where(placements.c.photo_id == photo, acts.c.verb == "add counts", before.c.id.is_(None))
    )
    return connection.scalar(query.order_by(placements.c.id.desc()).limit(1))


def _recounted(connection: Connection, number: int) -> list[Any]:
    """Counts of this adding that hold, with a count before them."""
    newer = predictions.alias("newer")
    older = predictions.alias("older")
    last = select(func.max(newer.c.id)).where(newer.c.photo_id == predictions.c.photo_id)
    query = (
        select(predictions.c.id, predictions.c.photo_id, placements.c.visit_id, photos.c.name)
        .join(photos, photos.c.id == predictions.c.photo_id)
        .join(
            placements,
            (placements.c.photo_id == photos.c.id) & placements.c.ended_id.is_(None),
        )
        .where(
            predictions.c.act_id == number,
            predictions.c.id == last.correlate(predictions).scalar_subquery(),
            select(older.c.id)
            .where(older.c.photo_id == predictions.c.photo_id, older.c.act_id < number)
            .correlate(predictions)
            .exists(),
        )
        .order_by(predictions.c.id)
    )
    return list(connection.execute(query))


def remove_added(act: Act, number: int) -> tuple[str, list[str]]:
    """Take out what an adding brought; where and what it was, and what became of the rest.

    Raises
    ------
    InputError
        As `brought`.
    """
    found = brought(act.connection, number)
    said: list[str] = []
    for start in range(0, len(found.placements), 500):  # a database takes only so many at once
        some = found.placements[start : start + 500]
        act.connection.execute(
            update(placements).where(placements.c.id.in_(some)).values(ended_id=act.id)
        )
    again = [count_again(act, one, number) for one in found.recounted]
    back = [name for hand in found.hands for name in _end_hand_count(act, hand, number)]
    if again or back:
        many = len(again) + len(back)
        said.append(
            f"{many} count{'s' * (many > 1)} that stood before "
            f"hold{'s' * (many == 1)} again ({first_few([*again, *back])})"
        )
    for visit in found.planned:
        at = there(act.connection, visit)
        said += remove_plan(act, Where(at.farm, at.field, at.visit))[1]
    dated = take_back_days(act, number)
    for visit in found.visits:
        # what was ended is history, which only a file's copy keeps
        if act.connection.dialect.name == "sqlite" and _is_empty(act, visit):
            at = there(act.connection, visit)
            said.append(f"gone: {', '.join(remove_visit(act, Where(at.farm, at.field, at.visit)))}")
            dated.pop(visit, None)
    said += dated.values()
    return found.text, said


def _end_hand_count(act: Act, number: int, added: int) -> list[str]:
    """End one; what it took the place of is put in again, as it was by whom it was."""
    row = act.connection.execute(select(hand_counts).where(hand_counts.c.id == number)).one()
    act.connection.execute(
        update(hand_counts).where(hand_counts.c.id == number).values(ended_id=act.id)
    )
    before = act.connection.execute(
        select(hand_counts).where(
            hand_counts.c.spot_id == row.spot_id,
            hand_counts.c.observer_key == row.observer_key,
            hand_counts.c.ended_id == added,
        )
    ).first()
    if before is None:
        return []
    values = {**before._mapping, "ended_id": None}
    del values["id"]
    act.connection.execute(insert(hand_counts).values(**values))
    query = select(spots.c.name).where(spots.c.id == row.spot_id)
    return [str(act.connection.scalar(query))]


def _is_empty(act: Act, visit: int) -> bool:
    """Whether nothing stands in a visit and nothing is planned there."""
    planned = select(spots.c.id).where(spots.c.visit_id == visit, spots.c.planned)
    return not has_counts(act.connection, visit) and act.connection.scalar(planned) is None
