"""Names that a farm, a field or a visit had before it was renamed."""

from __future__ import annotations

from sqlalchemy import Connection, Table, select

from tillercount.store.acts import Act, key_of
from tillercount.store.tables import fields, former_names, reference_to

__all__ = ["called_now", "field_names_before", "keep_name"]


def keep_name(act: Act, table: Table, number: int, was: str) -> None:
    """Keep the name that a row of a table had until now."""
    act.add(former_names, **{reference_to(table.name): number}, name=was, name_key=key_of(was))


def called_now(connection: Connection, table: Table, name: str, **within: int) -> str | None:
    """The present name of what had this one; None where nothing that is there had it.

    ``within``: where it lies, by number. Of several that had the name, the last one renamed is
    meant.
    """
    had = former_names.c[reference_to(table.name)] == table.c.id
    query = select(table.c.name).join(former_names, had)
    query = query.where(former_names.c.name_key == key_of(name))
    for column, value in within.items():
        query = query.where(table.c[column] == value)
    return connection.scalar(query.order_by(former_names.c.id.desc()).limit(1))


def field_names_before(connection: Connection, field: int) -> list[str]:
    """Names that a field had and by which no other field of its farm is meant now."""
    farm, now = connection.execute(
        select(fields.c.farm_id, fields.c.name).where(fields.c.id == field)
    ).one()
    taken = set(connection.scalars(select(fields.c.name_key).where(fields.c.farm_id == farm)))
    had = select(former_names.c.name).where(former_names.c.field_id == field)
    names = connection.scalars(had.order_by(former_names.c.id.desc())).all()
    return [
        name
        for name in dict.fromkeys(names)
        if key_of(name) not in taken and called_now(connection, fields, name, farm_id=farm) == now
    ]
