"""A person's count of a photo in place of the model's; what the model said stays beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, select

from tillercount.area import parse_counted_area
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.hand import MOST_SHOOTS_PER_PLANT
from tillercount.handlimits import refuse_too_dense
from tillercount.names import in_command
from tillercount.store.acts import Act
from tillercount.store.edits import photo_named
from tillercount.store.photoquery import last_of
from tillercount.store.tables import corrections, hand_counts, predictions, spots
from tillercount.store.tally import in_visit
from tillercount.store.visits import Where, there

__all__ = ["correct", "hand_counts_beside"]

_MANY_SHOOTS_PER_PLANT = 12
"""One count corrected, and more shoots per plant than this: the other count was forgotten. A
convention, more than twice the 3 to 5 of `MOST_SHOOTS_PER_PLANT`'s published stands."""


_FAR = 3
"""So many times the model's count, or the model's so many times it, may be a slip: a convention."""
_FEW = 5
"""A model's count that is smaller is soon missed by so much: a convention."""


def correct(
    act: Act,
    photo: str,
    plants: float | None = None,
    shoots: float | None = None,
    *,
    where: Where | None = None,
    note: str = "",
    withdraw: bool = False,
) -> dict[str, Any]:
    """Set the counts in the marked area of a photo; the model's prediction stays beside them.

    What isn't given stays as an earlier correction or the model says. ``withdraw`` goes back to
    the model's counts.

    Returns
    -------
    dict
        photo, the marked ``area`` that it was counted in, and for plants and shoots what the model
        ``predicted``, what a ``person`` says now and what ``holds``; whether it was ``refused``,
        and the ``doubt`` where a count may be a slip ("" if none); the number of its ``visit``,
        the ``spot`` it is at, and what was counted ``by_hand`` there.

    Raises
    ------
    InputError
        No such photo, or numbers that can't be.
    """
    row = photo_named(act.connection, photo, where)
    model = act.connection.execute(last_of(predictions, row.id)).one()
    before = act.connection.execute(last_of(corrections, row.id)).first()
    alone = (plants is None) != (shoots is None)
    given = {"plants": plants, "shoots": shoots}
    if withdraw:
        if plants is not None or shoots is not None:
            raise InputError("give either the counts or --withdraw, not both")
        if before is None or (before.plants is None and before.shoots is None):
            raise InputError(f"{row.name} has no correction to withdraw")
    elif plants is None and shoots is None:
        raise InputError("nothing to correct; give --plants or --shoots, or both")
    elif model.area_m2 is None:
        raise InputError(
            f"{row.name} was refused before its area was known; count the spot by hand instead"
        )
    elif before is not None and before.area == model.area:
        plants = before.plants if plants is None else plants
        shoots = before.shoots if shoots is None else shoots
    holds = {
        "plants": model.plants if plants is None else plants,
        "shoots": model.shoots if shoots is None else shoots,
    }
    _check(row.name, holds["plants"], holds["shoots"], alone=alone)
    if not withdraw and model.area:
        try:
            refuse_too_dense(parse_counted_area(model.area), plants, shoots)
        except InputError as error:
            raise InputError(f"{row.name}: {error}") from error
    act.add(corrections, photo_id=row.id, plants=plants, shoots=shoots, area=model.area, note=note)
    return {
        "photo": row.name,
        "person": {"plants": plants, "shoots": shoots},
        "area": (model.record.get("area") or {}).get("typed") or model.area,
        "predicted": {"plants": model.plants, "shoots": model.shoots},
        "holds": holds,
        "refused": model.status == "refused",
        "doubt": _doubt(act, photo, row.visit_id, given, model, before),
        "visit": int(row.visit_id),
        **_at_spot(act.connection, row.spot_id),
    }


def _doubt(
    act: Act, photo: str, visit: int, given: Mapping[str, float | None], model: Any, before: Any
) -> str:
    """What to say of counts that lie far from the model's, and how to undo them; "" if none do."""
    far = []
    for what, value in given.items():
        was = getattr(model, what)
        if value is None or was is None or was < _FEW:
            continue
        if value > _FAR * was:
            far.append(f"{value:g} {what} are more than {_FAR} times the model's {was:g}")
        elif value * _FAR < was:
            far.append(f"{value:g} {what} are less than a third of the model's {was:g}")
    if not far:
        return ""
    earlier: dict[str, float] = {}
    if before is not None and before.area == model.area:
        all_of_it = {what: getattr(before, what) for what in given}
        earlier = {what: value for what, value in all_of_it.items() if value is not None}
    at = there(act.connection, visit)
    command = (
        f"tillercount season correct {in_command(act.place)} {in_command(photo)} "
        f"{in_visit(at.farm, at.field, at.visit)}"
    )
    changed = [what for what, value in given.items() if value is not None]
    if all(what in earlier for what in changed):
        options = " ".join(f"--{what} {earlier[what]:g}" for what in changed)
        back = f"to what was corrected before: {command} {options}"
    else:
        also = " and ".join(f"{value:g} {what}" for what, value in earlier.items())
        lost = f" (the {also} counted by hand before go too: give them again)" if also else ""
        back = f"to the model's counts: {command} --withdraw{lost}"
    return f"{'; '.join(far)}. Taken as given. A slip? Give the right count, or go back {back}"


def hand_counts_beside(
    connection: Connection, photo: str, where: Where | None = None
) -> int | None:
    """Number of a photo's visit, where its spot was counted by hand too; else None."""
    row = photo_named(connection, photo, where)
    return int(row.visit_id) if _at_spot(connection, row.spot_id)["by_hand"] else None


def _at_spot(connection: Connection, spot: int | None) -> dict[str, Any]:
    """Name of a spot, and the hand counts that hold there."""
    if spot is None:
        return {"spot": "", "by_hand": []}
    name = connection.scalar(select(spots.c.name).where(spots.c.id == spot))
    columns = (hand_counts.c.observer, hand_counts.c.plants, hand_counts.c.shoots)
    query = select(*columns).where(hand_counts.c.spot_id == spot, hand_counts.c.ended_id.is_(None))
    return {"spot": str(name), "by_hand": [dict(r._mapping) for r in connection.execute(query)]}


def _check(photo: str, plants: float | None, shoots: float | None, *, alone: bool) -> None:
    for what, value in (("plants", plants), ("shoots", shoots)):
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise InputError(f"{photo}, {what}: {value:g} can't be; give what was counted")
    if plants is None or shoots is None:
        return
    if shoots < plants:
        raise InputError(
            f"{photo}: shoots {shoots:g} would be fewer than plants {plants:g}, though each plant "
            f"has a main stem; give both counts ({Definition.STEMS.words})"
        )
    if shoots > MOST_SHOOTS_PER_PLANT * plants:
        raise InputError(
            f"{photo}: shoots {shoots:g} would be more than {MOST_SHOOTS_PER_PLANT} for each of "
            f"{plants:g} plants; check both counts"
        )
    if alone and shoots > _MANY_SHOOTS_PER_PLANT * plants:
        raise InputError(
            f"{photo}: plants {plants:g} and shoots {shoots:g} would be {shoots / plants:.1f} "
            "shoots on each plant, and early stands have 3 to 5; the other count must be wrong "
            "too: give both, --plants and --shoots. Nothing was changed"
        )
