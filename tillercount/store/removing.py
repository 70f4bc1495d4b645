"""Taking out of a season what was put there by mistake.

A hand count or a photo is ended, not erased: its rows stay, and adding its file again brings it
back. A visit, a field or a plan is erased, with all that hangs on it; `Season` copies the file
first. Zones go with the plan that brought them, unless spots of another visit lie in them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, func, null, select, update

from tillercount.errors import InputError
from tillercount.names import first_few, in_command, person_key
from tillercount.store.acts import Act, spot_key
from tillercount.store.edits import photo_named
from tillercount.store.erasing import acts_of, erase, erase_field, erase_visit, erase_zones
from tillercount.store.inuse import in_use
from tillercount.store.joining import place_loose
from tillercount.store.tables import (
    assessments,
    corrections,
    fields,
    hand_counts,
    placements,
    spots,
    visits,
    zones,
)
from tillercount.store.visits import There, Where, field_of, last_visit, there, visit_of

__all__ = [
    "contents",
    "hand_count_at",
    "remove_field",
    "remove_hand_count",
    "remove_photo",
    "remove_plan",
    "remove_visit",
]


def contents(connection: Connection, where: Where) -> Mapping[str, int]:
    """How much of each kind is in a visit; without a visit's name in all visits of the field."""
    ids = _visits_meant(connection, where)
    here = spots.c.visit_id.in_(ids)
    standing = (placements.c.visit_id.in_(ids), placements.c.ended_id.is_(None))
    fixed = select(func.count(corrections.c.id)).join_from(
        corrections, placements, placements.c.photo_id == corrections.c.photo_id
    )
    counts = {
        "visits": len(ids),
        "spots": connection.scalar(select(func.count()).select_from(spots).where(here, in_use())),
        "photos": connection.scalar(
            select(func.count()).select_from(placements).where(*standing)
        ),
        "hand counts": connection.scalar(
            select(func.count(hand_counts.c.id))
            .join_from(hand_counts, spots)
            .where(here, hand_counts.c.ended_id.is_(None))
        ),
        "corrections": connection.scalar(fixed.where(*standing)),
        "assessments": connection.scalar(
            select(func.count()).select_from(assessments).where(assessments.c.visit_id.in_(ids))
        ),
    }
    return {what: int(number or 0) for what, number in counts.items()}


def remove_field(act: Act, where: Where) -> list[str]:
    """Erase a field with all its visits, and its farm if that has no other; what is gone."""
    field = field_of(act.connection, where)
    for visit in _visits_meant(act.connection, Where(where.farm, where.field)):
        erase_visit(act, visit)
    return [*erase_field(act, field)]


def remove_visit(act: Act, where: Where) -> list[str]:
    """Erase a visit, and its field if that has no other; what is gone."""
    visit, name = visit_of(act.connection, where)
    field = field_of(act.connection, where)
    brought = acts_of(act, visit)
    erase_visit(act, visit)
    gone = [f"visit {name!r}"]
    left = select(func.count()).select_from(visits).where(visits.c.field_id == field)
    if not act.connection.scalar(left):
        gone += erase_field(act, field)
    else:
        gone += erase_zones(act, field, brought)
    return gone


def remove_plan(act: Act, where: Where) -> tuple[There, list[str]]:
    """Take a plan out of its visit; the visit, and what is gone or changed, in words.

    Planned spots at which nothing was counted go. The others stay with all that was counted there
    and are no planned ones any more, and photos that the plan left without a spot become spots of
    their own, as in a visit that never had a plan.

    Raises
    ------
    InputError
        The visit has no plan.
    """
    # without a visit's name the field's last one, whose plan may be all that is in it yet
    last = last_visit(act.connection, field_of(act.connection, where))
    visit = last if where.visit is None and last else visit_of(act.connection, where)[0]
    at = there(act.connection, visit)
    row = act.connection.execute(select(visits).where(visits.c.id == visit)).one()
    planned = select(spots.c.id).where(spots.c.visit_id == visit, spots.c.planned)
    many = act.connection.scalar(select(func.count()).select_from(planned.subquery())) or 0
    if row.plan_digest is None and not many:
        raise InputError(f"{at.text} has no plan, so none can be taken out of it")
    brought = acts_of(act, visit)
    # what was ended points to its spot too: adding it again brings it back there
    held = [select(t.c.spot_id).where(t.c.spot_id.is_not(None)) for t in (placements, hand_counts)]
    empty = [spots.c.id.not_in(one) for one in held]
    kept = many - int(act.connection.scalar(
        select(func.count()).select_from(spots).where(spots.c.id.in_(planned), *empty)
    ) or 0)  # fmt: skip
    erase(act, spots, (spots.c.visit_id == visit) & spots.c.planned & empty[0] & empty[1])
    act.connection.execute(
        update(spots)
        .where(spots.c.visit_id == visit, spots.c.planned)
        .values(planned=False, by_hand=False, number=None, stands_for_m2=None, lat=None, lon=None)
    )
    act.connection.execute(
        update(visits).where(visits.c.id == visit).values(plan=null(), plan_digest=None)
    )
    gone = [f"the plan with {many} spot{'s' if many != 1 else ''}"]
    others = select(func.count()).select_from(visits).where(
        visits.c.field_id == row.field_id, visits.c.plan_digest.is_not(None)
    )
    if not act.connection.scalar(others):
        outline = update(fields).where(fields.c.id == row.field_id)
        act.connection.execute(outline.values(area_m2=None, shape=null()))
    gone += erase_zones(act, row.field_id, brought)
    if kept:
        stay = "stays" if kept == 1 else "stay"
        gone.append(f"{kept} of its spots {stay} with what was counted there")
    left = select(zones.c.name).join(spots, spots.c.zone_id == zones.c.id)
    left = left.where(spots.c.visit_id == visit).distinct().order_by(zones.c.name)
    if names := act.connection.scalars(left).all():
        many_left = len(names) > 1
        gone.append(
            f"zone{'s' if many_left else ''} {first_few(names)} still "
            f"weigh{'' if many_left else 's'} the field, for spots were counted in "
            f"{'them' if many_left else 'it'}"
        )
    placed = place_loose(act, visit)
    if placed:
        many_now = f"{placed} photos without a spot now have their own"
        gone.append("1 photo without a spot now has its own" if placed == 1 else many_now)
    return at, gone


def hand_count_at(
    connection: Connection, where: Where, spot: str, observer: str | None = None
) -> tuple[There, Any]:
    """The one hand count of a spot and the visit it is in.

    Raises
    ------
    InputError
        None there, or by several people and nobody is named, or in several visits of the field and
        none is named.
    """
    visit, _ = visit_of(connection, where)
    if where.visit is None:
        _refuse_several_visits(connection, visit, spot)
    query = (
        select(hand_counts, spots.c.name.label("spot"))
        .join_from(hand_counts, spots)
        .where(spots.c.visit_id == visit, spots.c.name_key == spot_key(spot))
        .where(hand_counts.c.ended_id.is_(None))
    )
    found = connection.execute(query).all()
    if observer is not None:
        key = person_key(observer)
        found = [row for row in found if row.observer_key == key]
    at = there(connection, visit)
    if not found:
        by = f" by {observer}" if observer is not None else ""
        raise InputError(
            f"no hand count{by} of spot {spot!r} in {at.text}; {_counted(connection, visit)}"
        )
    if len(found) > 1:
        names = ", ".join(row.observer or "nobody named" for row in found)
        raise InputError(
            f"{len(found)} people counted spot {spot!r} in {at.text} ({names}); say whose count "
            "goes: --observer NAME"
        )
    return at, found[0]


def _refuse_several_visits(connection: Connection, visit: int, spot: str) -> None:
    """Which of them is meant can't be told, and a count that is taken out is missed too late."""
    field = select(visits.c.field_id).where(visits.c.id == visit).scalar_subquery()
    query = (
        select(visits.c.name)
        .distinct()
        .join_from(hand_counts, spots)
        .join(visits, visits.c.id == spots.c.visit_id)
        .where(visits.c.field_id == field, spots.c.name_key == spot_key(spot))
        .where(hand_counts.c.ended_id.is_(None))
    )
    names = list(connection.scalars(query))
    if len(names) > 1:
        raise InputError(
            f"spot {spot!r} has hand counts in {len(names)} visits ({', '.join(sorted(names))}); "
            f"say which one goes: --visit {in_command(sorted(names)[0])}"
        )


def remove_hand_count(act: Act, where: Where, spot: str, observer: str | None = None) -> There:
    """End the hand count of one spot; the visit it was in. See `hand_count_at`."""
    at, row = hand_count_at(act.connection, where, spot, observer)
    act.connection.execute(
        update(hand_counts).where(hand_counts.c.id == row.id).values(ended_id=act.id)
    )
    return at


def remove_photo(act: Act, photo: str, where: Where | None = None) -> tuple[str, There]:
    """Take a photo out of its visit; its file name, and where it was."""
    row: Any = photo_named(act.connection, photo, where)
    act.connection.execute(
        update(placements).where(placements.c.id == row.placement).values(ended_id=act.id)
    )
    return str(row.name), there(act.connection, int(row.visit_id))


def _visits_meant(connection: Connection, where: Where) -> list[int]:
    if where.visit is not None:
        return [visit_of(connection, where)[0]]
    field = field_of(connection, where)
    return list(connection.scalars(select(visits.c.id).where(visits.c.field_id == field)))


def _counted(connection: Connection, visit: int) -> str:
    query = (
        select(spots.c.name)
        .join_from(hand_counts, spots)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
        .order_by(spots.c.id)
    )
    names = list(dict.fromkeys(connection.scalars(query.limit(12))))
    return f"counted by hand there: {', '.join(names) or 'none'}"
