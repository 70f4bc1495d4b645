"""Another name for a farm, a field or a visit; all that is in it stays."""

from __future__ import annotations

from sqlalchemy import select, update

from tillercount.errors import InputError
from tillercount.names import in_command
from tillercount.store.acts import Act, find, key_of
from tillercount.store.dates import visit_dates
from tillercount.store.dating import give_day
from tillercount.store.formernames import keep_name
from tillercount.store.tables import farms, fields, visits
from tillercount.store.visits import Where, field_of, visit_of

__all__ = ["rename"]


def rename(act: Act, where: Where, to: str, what: str) -> str:
    """Rename the farm, the field or the visit of a place.

    A visit that was dated by its name keeps that day under a name that is none.

    Parameters
    ----------
    act : Act
    where : Where
        A place that is there.
    to : str
        The new name.
    what : str
        ``farm``, ``field`` or ``visit``.

    Returns
    -------
    str
        The name it had.

    Raises
    ------
    InputError
        Another one has that name already.
    """
    key, shown = key_of(to), " ".join(to.split())
    field = field_of(act.connection, where)
    farm = act.connection.scalars(select(fields.c.farm_id).where(fields.c.id == field)).one()
    within: dict[str, int]
    if what == "farm":
        table, number, within = farms, farm, {}
    elif what == "field":
        table, number, within = fields, field, {"farm_id": farm}
    else:
        table, number, within = visits, visit_of(act.connection, where)[0], {"field_id": field}
    was = str(act.connection.scalar(select(table.c.name).where(table.c.id == number)))
    other = find(act.connection, table, shown, **within)
    if other is not None and other != number:
        raise InputError(_taken(where, what, shown, was))
    before = visit_dates(act.connection, field)[number] if table is visits else None
    act.connection.execute(
        update(table).where(table.c.id == number).values(name=shown, name_key=key)
    )
    if key != key_of(was):
        keep_name(act, table, number, was)
    if before is not None and before.how == "name":
        now = visit_dates(act.connection, field)[number]
        if now.how == "added":
            give_day(act, number, before.first)
    return was


def _taken(where: Where, what: str, shown: str, was: str) -> str:
    """That a name is another's, and how to bring the two together by hand."""
    typed, farm = in_command(was), in_command(where.farm)
    goes = {
        "farm": f"--farm {typed} --field NAME, for each field",
        "field": f"--farm {farm} --field {typed}",
        "visit": f"--farm {farm} --field {in_command(where.field)} --visit {typed}",
    }[what]
    return (
        f"there is a {what} {shown!r} already, and renaming doesn't put two together. Nothing was "
        f"changed. Give {was!r} another name; or, to have all of it in {shown!r}: add its plans, "
        f"photos and hand counts there again (tillercount season add ... --{what} "
        f"{in_command(shown)}), make again what was corrected or assigned by hand, look at it with "
        f"season show, and only then take the other out: tillercount season remove ... {goes}"
    )
