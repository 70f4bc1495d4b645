"""Plans put into visits: into one of their own, or to the counts that were made by them."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import func, select, update

from tillercount.errors import InputError
from tillercount.fingerprint import digest_of
from tillercount.names import spot_text
from tillercount.near import nearest
from tillercount.positions import distance_m, far_text
from tillercount.store.acts import Act, find_or_add, key_of, spot_key
from tillercount.store.added import MOST_NOTES, Added, Notes
from tillercount.store.belonging import AT_M, fit_of
from tillercount.store.inuse import has_counts
from tillercount.store.joining import move_spots, spot_rows
from tillercount.store.otherside import other_side
from tillercount.store.planfile import PlanFile, PlannedSpot, PlannedZone, read_plan
from tillercount.store.tables import fields, spots, visits, zones
from tillercount.store.tally import taking_plan_out
from tillercount.store.visits import There, Where, field_for, last_visit, made_or_found, there

__all__ = ["add_plan"]


def add_plan(act: Act, where: Where, plan: PlanFile | str | Path) -> Added:
    """Put a plan's spots, zones and outline into a visit.

    The same plan again adds nothing. Without a visit's name the plan goes to the last visit if
    that has no spots yet, or has counts without a plan that were plainly made by this one
    (`tillercount.store.belonging`); else to a new one. With the name of a visit whose counts have
    no plan it goes to them, unless they all lie elsewhere.

    Raises
    ------
    InputError
        The plan can't be read, the visit has another one, the counts of the visit named lie
        elsewhere, or it isn't clear whether the last visit's belong to it.
    """
    if not isinstance(plan, PlanFile):
        plan = read_plan(plan)
    digest = digest_of([asdict(spot) for spot in plan.spots])
    field, new = field_for(act, where)
    visit, known, said = _visit_for_plan(act, where, field, digest, plan, new)
    at = there(act.connection, visit, new)
    said = (*_said_of_name(act, plan, at), *other_side(act.connection, plan, at, act.place), *said)
    if known:
        return at.added("planned spots", 0, len(plan.spots), notes=(*plan.notes, *said))
    joins = has_counts(act.connection, visit)
    if plan.outline is not None:
        _note_shape(act, "fields", field, plan.outline)
    act.connection.execute(
        update(visits).where(visits.c.id == visit).values(plan=dict(plan.about), plan_digest=digest)
    )
    altered = _add_spots(act, visit, field, plan)
    if not joins:
        return at.added("planned spots", len(plan.spots), notes=(*plan.notes, *said, *altered))
    placed, notes = move_spots(act, visit)
    return at.added(
        "planned spots",
        len(plan.spots),
        placed=placed[:MOST_NOTES],
        placed_more=max(0, len(placed) - MOST_NOTES),
        notes=(*plan.notes, *said, *altered, *notes),
    )


def _add_spots(act: Act, visit: int, field: int, plan: PlanFile) -> tuple[str, ...]:
    """The plan's zones and spots; a spot of that name that is there becomes the planned one.

    Returns what changed of such spots.
    """
    zone_ids = {}
    for zone in plan.zones:
        found = find_or_add(act, zones, zone.name, {"field_id": field})
        _note_shape(act, "zones", found, zone)
        zone_ids[key_of(zone.name)] = found
    before = spot_rows(act.connection, visit)
    notes = Notes()
    rows: list[dict[str, Any]] = []
    for spot in plan.spots:
        zone_id = None
        if spot.zone:
            key = key_of(spot.zone)
            if key not in zone_ids:
                zone_ids[key] = find_or_add(act, zones, spot.zone, {"field_id": field})
            zone_id = zone_ids[key]
        row = {
            "zone_id": zone_id,
            "number": spot.number,
            "planned": True,
            "by_hand": spot.by_hand,
            "lat": spot.lat,
            "lon": spot.lon,
            "stands_for_m2": spot.stands_for_m2,
        }
        name = spot_key(spot.name)
        here = before.get(name)
        if here is None:
            own = {"visit_id": visit, "name": spot.name, "name_key": name, "act_id": act.id}
            rows.append(row | own)
        else:
            row["zone_id"] = zone_id or here.zone_id
            _note_changes(notes, here, spot)
            act.connection.execute(update(spots).where(spots.c.id == here.id).values(**row))
    if rows:
        act.connection.execute(spots.insert(), rows)
    return notes.done()


def _note_changes(notes: Notes, here: Any, spot: PlannedSpot) -> None:
    if here.lat is not None and here.lon is not None:
        away = distance_m(spot.lat, spot.lon, np.array([here.lat]), np.array([here.lon]))[0]
        if away > AT_M:
            notes.add(
                f"{spot_text(here.name)} now has the plan's position, {far_text(away)} from where "
                "it was counted"
            )
    if spot.zone and here.zone and key_of(spot.zone) != key_of(here.zone):
        notes.add(
            f"{spot_text(here.name)} is now in the plan's zone {spot.zone}, not in {here.zone}"
        )


def _visit_for_plan(
    act: Act, where: Where, field: int, digest: str, plan: PlanFile, new: list[str]
) -> tuple[int, bool, tuple[str, ...]]:
    """Number of the visit, whether it holds this plan already, and what to say of the choice."""
    query = select(visits.c.id, visits.c.name, visits.c.plan_digest).where(
        visits.c.field_id == field
    )
    all_ = act.connection.execute(query.order_by(visits.c.id)).all()
    if where.visit is not None:
        for row in all_:
            if key_of(row.name) == key_of(where.visit):
                if row.plan_digest == digest:
                    return row.id, True, ()
                if row.plan_digest is not None:
                    raise InputError(
                        f"{where.text} has spots of its own already, those of another plan; "
                        "name another visit: --visit NAME"
                    )
                return row.id, False, _said_of_named(act, where, row, plan)
        return made_or_found(act, visits, where.visit, {"field_id": field}, new), False, ()
    for row in all_:
        if row.plan_digest == digest:
            return row.id, True, ()
    last = last_visit(act.connection, field)
    said: tuple[str, ...] = ()
    if last is not None:
        (row,) = [one for one in all_ if one.id == last]
        if not _spots_in(act, last):
            return last, False, ()
        if row.plan_digest is None and has_counts(act.connection, last):
            fit = fit_of(act.connection, last, plan)
            if fit.answer == "yes":
                return last, False, (f"put to the counts of {row.name}: {fit.why}",)
            if fit.answer == "unclear":
                raise InputError(
                    f"{where.text}, {row.name} has counts and no plan, and it isn't clear whether "
                    f"they were made by this one ({fit.why}). If they were, give --visit "
                    f'"{row.name}"; if the plan is for another visit, give --visit with a new '
                    "name. Nothing was added"
                )
            said = (
                f"a visit of its own, since the counts of {row.name} weren't made by it: {fit.why}",
            )
    taken = {key_of(row.name) for row in all_}
    number = len(all_) + 1
    while f"visit {number}" in taken:
        number += 1
    return made_or_found(act, visits, f"visit {number}", {"field_id": field}, new), False, said


def _said_of_name(act: Act, plan: PlanFile, at: There) -> tuple[str, ...]:
    """Where a plan was drawn for a field of another name than the one it is put into."""
    from tillercount.plan.boundary import UNNAMED

    name = plan.outline.name if plan.outline is not None and plan.outline.named else ""
    if name in ("", UNNAMED) or nearest(name, [at.field]) is not None:
        return ()
    return (
        f"MIND: this plan was drawn for {name!r}, and this is {at.field}; if it is another field's "
        f"plan: {taking_plan_out(act.place, at)}",
    )


def _said_of_named(act: Act, where: Where, visit: Any, plan: PlanFile) -> tuple[str, ...]:
    """What to say of putting a plan to the visit that was named for it."""
    if not has_counts(act.connection, visit.id):
        return ()
    fit = fit_of(act.connection, visit.id, plan)
    if fit.answer == "no":
        raise InputError(
            f"{where.text} was counted elsewhere than this plan says: {fit.why}. If the plan is "
            "for another visit, give --visit with a new name, for another field, --field. If it "
            "is for this visit and its positions are wrong, add it as a visit of its own and put "
            "the photos to its spots with season assign. Nothing was added"
        )
    if fit.answer == "unclear":
        said = f"put to the counts of {visit.name} as you said; their places don't tell"
        return (f"{said}: {fit.why}",)
    return (f"put to the counts of {visit.name}: {fit.why}",)


def _spots_in(act: Act, visit: int) -> int:
    query = select(func.count()).select_from(spots).where(spots.c.visit_id == visit)
    return act.connection.scalar(query) or 0


def _note_shape(act: Act, table: str, row: int, zone: PlannedZone) -> None:
    target = fields if table == "fields" else zones
    act.connection.execute(
        update(target)
        .where(target.c.id == row)
        .values(area_m2=zone.area_m2, shape=None if zone.shape is None else dict(zone.shape))
    )
