"""Names that a farm, a field or a visit had before it was renamed, as the journal has them."""

from __future__ import annotations

import ast
import re

from sqlalchemy import Connection, select

from tillercount.store.acts import key_of
from tillercount.store.tables import acts

__all__ = ["RENAMED", "called_now", "renamed_text"]

RENAMED = "rename"
"""The journal's word for it."""
_TEXT = r"""('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""


def renamed_text(what: str, was: str, inside: str, to: str) -> str:
    """What the journal says of one renaming; ``inside`` is " of " and where it lies, or ""."""
    return f"{what} {was!r}{inside} to {to!r}"


def called_now(connection: Connection, what: str, name: str, inside: str = "") -> str | None:
    """The name that came in the place of this one, last of all; None where it never went.

    ``inside``: only names of what lay there; the end of what `renamed_text` has, since a farm may
    have been renamed as well.
    """
    query = select(acts.c.detail).where(acts.c.verb == RENAMED).order_by(acts.c.id)
    wanted, now = key_of(name), None
    for detail in connection.scalars(query):
        found = re.fullmatch(rf"{what} {_TEXT}(?P<inside> of .*)? to {_TEXT}", detail)
        if found is None or not (found["inside"] or "").endswith(inside):
            continue
        was, to = (str(ast.literal_eval(found[group])) for group in (1, 3))
        if key_of(was) == (wanted if now is None else key_of(now)):
            now = to
    return now
