"""Hand counts put into a season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import and_, insert, or_, select, update

from tillercount.errors import InputError
from tillercount.hand import HandCount
from tillercount.names import person_key, spot_key, spot_name, spot_text
from tillercount.spotdates import date_question
from tillercount.store.acts import REMOVED, Act, find_or_add
from tillercount.store.added import Added, Notes
from tillercount.store.tables import acts, hand_counts, spots, visits, zones
from tillercount.store.twicenamed import said_twice
from tillercount.store.visits import Where, field_of_visit, there, visit_for

__all__ = ["add_hand_counts", "count_text"]

FEWEST_ALIKE = 3
"""So many counts of the same spots by the same people with the same figures are one sheet, not
chance: a convention."""
_SAME = ("plants", "shoots", "definition", "area_m2")


def add_hand_counts(
    act: Act,
    where: Where,
    given: Sequence[HandCount],
    *,
    source: str = "",
    replace: bool = False,
) -> Added:
    """Put hand counts into a visit; the same count twice is one.

    Parameters
    ----------
    act, where
        The open transaction, and where the counts belong.
    given : sequence of HandCount
    source : str
        The file that they were read from, for messages.
    replace : bool
        A count of the same spot by the same person with other numbers takes the place of the
        earlier one, which is kept in the history.

    Raises
    ------
    InputError
        A spot was counted by the same person with other numbers.
    """
    source = f"{source}, " if source else ""
    at = visit_for(act, where)
    visit = at.id
    field = field_of_visit(act.connection, visit)
    assert field is not None
    if where.visit is None:
        # Without a visit's name the last one is meant; but an old file given again is known.
        earlier = _held_by(act, field, given)
        if earlier is not None:
            return there(act.connection, earlier).added("hand counts", 0, len(given))
    notes = Notes()
    spot_ids = _spots(act, visit, field, given, notes)
    standing = _standing(act, visit)
    moved = _moved(act, visit)
    rows: list[dict[str, Any]] = []
    ended: list[int] = []
    for count in given:
        row = _row(act, count, spot_ids[_spot_key(count)])
        before = standing.get((row["spot_id"], row["observer_key"]))
        if before is not None and all(getattr(before, name) == row[name] for name in _SAME):
            continue
        if before is None and row["spot_id"] in moved:
            if any(_content(row) == one for one in moved[row["spot_id"]]):
                continue
            raise InputError(
                f"{source}{spot_text(count.spot)} of {at.text} was put to a spot of the plan when "
                "that was added; give the count the planned spot's number"
            )
        if before is not None:
            was = count_text(before.plants, before.shoots)
            now = count_text(count.plants, count.shoots)
            if not replace:
                raise InputError(
                    f"{source}{spot_text(count.spot)}: {count.observer or 'nobody named'} counted "
                    f"{was} "
                    f"in {at.text} already, and now {now}. A new visit? Give --visit NAME, with a "
                    "new name. A slip? Correct the row, or give --replace to put the new count in "
                    "place of the old one"
                )
            ended.append(before.id)
            notes.add(f"{spot_text(count.spot)}, {count.observer}: {was} replaced by {now}")
        rows.append(row)
    if ended:
        act.connection.execute(
            update(hand_counts).where(hand_counts.c.id.in_(ended)).values(ended_id=act.id)
        )
    if rows:
        act.connection.execute(insert(hand_counts), rows)
    same = [*said_twice(act, visit), *_elsewhere(act, visit, given)] if rows else []
    return at.added("hand counts", len(rows), len(given) - len(rows), notes=(*same, *notes.done()))


def _spot_key(count: HandCount) -> str:
    return spot_key(spot_name(count.spot))


def _row(act: Act, count: HandCount, spot: int) -> dict[str, Any]:
    observer = " ".join(count.observer.split())
    return {
        "spot_id": spot,
        "observer": observer,
        "observer_key": observer.casefold(),
        "plants": count.plants,
        "shoots": count.shoots,
        "definition": count.definition.value,
        "area": count.area.label,
        "area_m2": count.area_m2,
        "lat": count.lat,
        "lon": count.lon,
        "note": count.note,
        "act_id": act.id,
    }


def _spots(
    act: Act, visit: int, field: int, given: Sequence[HandCount], notes: Notes
) -> dict[str, int]:
    """Numbers of the spots counted, by key; new ones are made."""
    query = select(spots.c.id, spots.c.name, spots.c.name_key, spots.c.planned, spots.c.zone_id)
    found = {
        row.name_key: row for row in act.connection.execute(query.where(spots.c.visit_id == visit))
    }
    planned = any(row.planned for row in found.values())
    named = [row.name for row in found.values()]
    numbers = {key: int(row.id) for key, row in found.items()}
    names = {count.zone for count in given if count.zone}
    zone_ids = {name: find_or_add(act, zones, name, {"field_id": field}) for name in sorted(names)}
    for count in given:
        key = _spot_key(count)
        zone = zone_ids.get(count.zone)
        if key not in numbers:
            if asked := date_question(count.spot, named, "this visit has"):
                notes.add(f"MIND: {asked}; take this file out again and add it anew")
            if planned:
                notes.add(
                    f"{spot_text(count.spot)} isn't in the visit's plan; kept as a further one"
                )
            numbers[key] = act.add(
                spots,
                visit_id=visit,
                name=spot_name(count.spot),
                name_key=key,
                zone_id=zone,
                planned=False,
                by_hand=False,
                lat=count.lat,
                lon=count.lon,
            )
        elif zone is not None and key in found and found[key].zone_id is None:
            act.connection.execute(
                update(spots).where(spots.c.id == numbers[key]).values(zone_id=zone)
            )
        elif zone is not None and key in found and found[key].zone_id != zone:
            notes.add(f"{spot_text(count.spot)} stays in the zone of the plan, not {count.zone}")
    return numbers


def _standing(act: Act, visit: int) -> dict[tuple[int, str], Any]:
    query = (
        select(hand_counts)
        .join_from(hand_counts, spots)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
    )
    return {(row.spot_id, row.observer_key): row for row in act.connection.execute(query)}


def _moved(act: Act, visit: int) -> dict[int, list[tuple[Any, ...]]]:
    """What was counted at spots whose counts a plan, added later, took along.

    The last count there by a person was ended, though nobody removed it.
    """
    query = (
        select(hand_counts, acts.c.verb)
        .join_from(hand_counts, spots, spots.c.id == hand_counts.c.spot_id)
        .outerjoin(acts, acts.c.id == hand_counts.c.ended_id)
        .where(spots.c.visit_id == visit, ~spots.c.planned)
        .order_by(hand_counts.c.id)
    )
    last = {(row.spot_id, row.observer_key): row for row in act.connection.execute(query)}
    found: dict[int, list[tuple[Any, ...]]] = {}
    for row in last.values():
        if row.verb not in (None, REMOVED):
            found.setdefault(row.spot_id, []).append(_content(row._asdict()))
    return found


def _content(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return (row["observer_key"], *(row[name] for name in _SAME))


def _held_by(act: Act, field: int, given: Sequence[HandCount]) -> int | None:
    """Number of the visit of a field that holds all of these counts.

    A count that another took the place of is known; one that was removed isn't, so that its file
    brings it back.
    """
    query = (
        select(
            spots.c.visit_id,
            spots.c.name_key,
            hand_counts.c.observer_key,
            *(hand_counts.c[name] for name in _SAME),
        )
        .join_from(hand_counts, spots)
        .join(visits)
        .outerjoin(acts, acts.c.id == hand_counts.c.ended_id)
        .where(visits.c.field_id == field)
        .where(or_(acts.c.id.is_(None), acts.c.verb != REMOVED))
    )
    held: dict[int, set[tuple[Any, ...]]] = {}
    for row in act.connection.execute(query):
        held.setdefault(row.visit_id, set()).add(tuple(row[1:]))
    wanted = {_figures(count) for count in given}
    return next((visit for visit, rows in sorted(held.items()) if wanted <= rows), None)


def _figures(count: HandCount) -> tuple[Any, ...]:
    """What makes two counts the same one: spot, person and figures."""
    by = person_key(count.observer)
    figures = (count.plants, count.shoots, count.definition.value, count.area_m2)
    return (_spot_key(count), by, *figures)


def _elsewhere(act: Act, visit: int, given: Sequence[HandCount]) -> list[str]:
    """The same sheet in another visit or field, said: one of the two names was probably a slip."""
    wanted = {_figures(count) for count in given}
    if len(wanted) < FEWEST_ALIKE:
        return []
    columns = (
        spots.c.name_key, hand_counts.c.observer_key, *(hand_counts.c[name] for name in _SAME)
    )  # fmt: skip
    one = next(iter(wanted))
    standing = (
        select(*columns).join_from(hand_counts, spots).where(hand_counts.c.ended_id.is_(None))
    )
    like_one = and_(*(column == value for column, value in zip(columns, one, strict=True)))
    others = standing.with_only_columns(spots.c.visit_id).where(like_one, spots.c.visit_id != visit)
    for other in sorted(set(act.connection.scalars(others))):
        rows = act.connection.execute(standing.where(spots.c.visit_id == other))
        if wanted <= {tuple(row) for row in rows}:
            return [
                f"MIND: the same {len(wanted)} counts, figure for figure, are in "
                f"{there(act.connection, other).text} too: another name of that field, or the "
                "wrong file? Then take these out again"
            ]
    return []


def count_text(plants: float | None, shoots: float | None) -> str:
    """What was counted, for a sentence."""
    parts = [f"{v:g} {w}" for v, w in ((plants, "plants"), (shoots, "shoots")) if v is not None]
    return ", ".join(parts)
