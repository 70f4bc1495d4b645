"""Which farm, field and visit somebody means, by what was typed and what is there.

Adding may make new ones, which a slip of the finger does too: a name near to one that is there is
refused until somebody says that it really is another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sqlalchemy import Connection, select

from tillercount.errors import InputError
from tillercount.near import nearest
from tillercount.store.acts import key_of
from tillercount.store.formernames import called_now
from tillercount.store.tables import farms, fields, visits
from tillercount.store.visits import Where

__all__ = ["settle"]

_MOST = 10


def settle(
    connection: Connection,
    farm: str | None = None,
    field: str | None = None,
    visit: str | None = None,
    *,
    adding: bool = False,
    new: bool = False,
) -> Where:
    """The place meant, named as the season names it.

    What isn't given must be the only one there is; a farm that isn't given is the one that has the
    field.

    Parameters
    ----------
    connection : Connection
    farm, field, visit : str, optional
        As typed. No visit stays None: the field's last one.
    adding : bool
        Names that aren't there are taken for new ones.
    new : bool
        Even where they are near to names that are there.

    Raises
    ------
    InputError
        It isn't clear, isn't there, or is probably mistyped; the message says what to give.
    """
    rows = connection.execute(
        select(
            farms.c.id.label("farm_id"),
            farms.c.name,
            fields.c.id.label("field_id"),
            fields.c.name.label("field"),
        )
        .select_from(farms)
        .outerjoin(fields, fields.c.farm_id == farms.c.id)
        .order_by(farms.c.name, fields.c.name)
    ).all()
    named = list(dict.fromkeys(row.name for row in rows))

    def former(what: str, name: str) -> str | None:
        # other farms have a field, and other fields a visit, of that name
        if what == "farm":
            return called_now(connection, farms, name)
        if what == "field":
            on = next((row.farm_id for row in rows if row.name == farm), 0)
            return called_now(connection, fields, name, farm_id=on)
        return called_now(connection, visits, name, field_id=on_it.get(field or "", 0))

    if farm is None:
        farm = _farm_of(field, named, [(r.name, r.field) for r in rows if r.field is not None])
    else:
        farm = _one("farm", farm, named, "in the season", adding, new, former)
    on_it = {r.field: r.field_id for r in rows if r.name == farm and r.field is not None}
    if field is None:
        if len(on_it) != 1:
            raise InputError(
                f"which field of {farm} is meant isn't clear; give --field NAME{_there(on_it)}"
            )
        (field,) = on_it
    else:
        field = _one("field", field, list(on_it), f"on {farm}", adding, new, former)
    if visit is not None:
        query = select(visits.c.name).where(visits.c.field_id == on_it.get(field, 0))
        have = connection.scalars(query.order_by(visits.c.id)).all()
        visit = _one("visit", visit, have, f"of {farm}, {field}", adding, new, former)
    return Where(farm, field, visit)


def _farm_of(field: str | None, named: Sequence[str], pairs: Sequence[tuple[str, str]]) -> str:
    """The farm where none is given."""
    if not named:
        give = "--farm NAME as well" if field is not None else "--farm NAME and --field NAME"
        raise InputError(f"nothing is in the season yet; give {give}")
    if field is not None:
        having = [farm for farm, one in pairs if key_of(one) == key_of(field)]
        if len(having) == 1:
            return having[0]
        if having:
            raise InputError(
                f"{len(having)} farms have a field {field!r}; give --farm NAME{_there(having)}"
            )
    if len(named) == 1:
        return named[0]
    text = f"which farm is meant isn't clear; give --farm NAME{_there(named)}"
    if field is not None:
        near = nearest(field, [one for _, one in pairs])
        owner = ", ".join(farm for farm, one in pairs if one == near)
        maybe = f"; did you mean {near!r} ({owner})?" if near else ";"
        text = f"no farm has a field {field!r}{maybe} {'else ' if near else ''}{text}"
    raise InputError(text)


def _one(
    what: str,
    name: str,
    have: Sequence[str],
    where: str,
    adding: bool,
    new: bool,
    former: Callable[[str, str], str | None],
) -> str:
    key = key_of(name)
    for one in have:
        if key_of(one) == key:
            return one
    near = nearest(name, have)
    shown = " ".join(name.split())
    if adding and new:
        return shown
    now = former(what, name)
    if now is not None and any(key_of(one) == key_of(now) for one in have):
        text = f"{shown!r} is called {now!r} now: give --{what} {_quoted(now)}"
        if not adding:
            raise InputError(text)
        raise InputError(f"{text}; if it really is another {what}, add --new. Nothing was added")
    if adding and near is None:
        return shown
    text = f"no {what} {shown!r} {where}"
    if adding:
        raise InputError(
            f"{text} yet, but one called {near!r}: did you mean that? Give --{what} {_quoted(near)}"
            f"; if {shown!r} really is another {what}, add --new. Nothing was added"
        )
    maybe = f"; did you mean {near!r}?" if near else ";"
    raise InputError(f"{text}{maybe} it has: {', '.join(have[:_MOST]) or 'none yet'}")


def _there(names: Sequence[str] | dict[str, int]) -> str:
    return f" ({', '.join(list(names)[:_MOST])})" if names else ""


def _quoted(name: str | None) -> str:
    return f'"{name}"' if name and " " in name else str(name)
