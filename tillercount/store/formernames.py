"""Names that a farm, a field or a visit had before it was renamed, as the journal has them."""

from __future__ import annotations

import ast
import re
from collections.abc import Collection

from sqlalchemy import Connection, select

from tillercount.store.acts import key_of
from tillercount.store.tables import acts

__all__ = ["RENAMED", "called_now", "former_names", "renamed_text"]

RENAMED = "rename"
"""The journal's word for it."""
_TEXT = r"""('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""


def renamed_text(what: str, was: str, inside: str, to: str) -> str:
    """What the journal says of one renaming; ``inside`` is " of " and where it lies, or ""."""
    return f"{what} {was!r}{inside} to {to!r}"


def called_now(
    connection: Connection, what: str, name: str, inside: Collection[str] = ("",)
) -> str | None:
    """The name that came in the place of this one, last of all; None where it never went.

    ``inside``: where it may have lain then, as `renamed_text` has it, under each name that place
    had. Of several that had the name, the last one renamed is meant.
    """
    now = None
    for was, to in _renamed(connection, what, inside):
        if key_of(was) == key_of(name) or (now is not None and key_of(was) == key_of(now)):
            now = to
    return now


def former_names(
    connection: Connection, what: str, name: str, inside: Collection[str] = ("",)
) -> list[str]:
    """The name of what is there, and those that it had before, latest first."""
    names = [name]
    for was, to in reversed(_renamed(connection, what, inside)):
        if key_of(to) == key_of(names[-1]):
            names.append(was)
    return names


def _renamed(connection: Connection, what: str, inside: Collection[str]) -> list[tuple[str, str]]:
    """(before, after) of each renaming there, in order."""
    query = select(acts.c.detail).where(acts.c.verb == RENAMED).order_by(acts.c.id)
    places = {one.casefold() for one in inside}
    out = []
    for detail in connection.scalars(query):
        found = re.fullmatch(rf"{what} {_TEXT}(?P<inside> of .*)? to {_TEXT}", detail)
        if found is not None and (found["inside"] or "").casefold() in places:
            was, to = (str(ast.literal_eval(found[group])) for group in (1, 3))
            out.append((was, to))
    return out
