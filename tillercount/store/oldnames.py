"""Former names out of a season of layout 3, which had them only in its journal's sentences."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass

from sqlalchemy import Connection, MetaData, Table, select

from tillercount.names import key_of

__all__ = ["names_in_journal"]

_TEXT = r"""('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
_RENAMED = re.compile(rf"(farm|field|visit) {_TEXT}(?P<inside> of .*)? to {_TEXT}")


@dataclass
class _There:
    """A farm, a field or a visit: its name then, the act that made it, and what it lies in."""

    name: str
    act: int
    inside: _There | None = None

    @property
    def place(self) -> str:
        """Where it lies, as the journal had it."""
        names = [] if self.inside is None else [self.inside.name]
        if self.inside is not None and self.inside.inside is not None:
            names.insert(0, self.inside.inside.name)
        return f" of {', '.join(names)}" if names else ""


def names_in_journal(connection: Connection, then: MetaData) -> list[tuple[str, int, str, int]]:
    """(farm, field or visit; its number; a name that it had; the act that took it), in order.

    The journal is gone through from its end, so that every sentence meets the names of its time.
    What isn't there any more had no name that somebody could look for.
    """
    acts = then.tables["acts"]
    there = _all_there(connection, then)
    query = select(acts.c.id, acts.c.detail).where(acts.c.verb == "rename")
    out = []
    for act, detail in connection.execute(query.order_by(acts.c.id.desc())):
        found = _RENAMED.fullmatch(detail)
        if found is None:
            continue
        what, place = found[1], (found["inside"] or "").casefold()
        was, to = (str(ast.literal_eval(found[group])) for group in (2, 4))
        meant = [
            (number, one)
            for number, one in there[what].items()
            if key_of(one.name) == key_of(to) and one.place.casefold() == place and one.act < act
        ]
        for number, one in meant[:1]:
            out.append((what, number, was, int(act)))
            one.name = was
    return out[::-1]


def _all_there(connection: Connection, then: MetaData) -> dict[str, dict[int, _There]]:
    def rows(table: Table) -> list[dict[str, object]]:
        return [dict(row._mapping) for row in connection.execute(select(table))]

    there: dict[str, dict[int, _There]] = {"farm": {}, "field": {}, "visit": {}}
    for what, within in (("farm", ""), ("field", "farm"), ("visit", "field")):
        for row in rows(then.tables[f"{what}s"]):
            inside = there[within][int(str(row[f"{within}_id"]))] if within else None
            one = _There(str(row["name"]), int(str(row["act_id"])), inside)
            there[what][int(str(row["id"]))] = one
    return there
