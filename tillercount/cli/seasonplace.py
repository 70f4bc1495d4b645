"""Which season, and which field of it, a command means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.store import Season, Where

__all__ = ["opened", "where_of"]


def opened(store: str, who: str | None = None, backed_up: bool = False) -> Season:
    """The season of that file or server; a note where it was brought up to date."""
    from tillercount.cli.guard import say
    from tillercount.store import Season

    kept = Season.open(store, who=who, backed_up=backed_up)
    if kept.copy is not None:
        say(f"{kept.place} was brought to this program's layout; as it was: {kept.copy}")
    return kept


def where_of(kept: Season, farm: str | None, field: str | None, visit: str | None) -> Where:
    """The place meant: what isn't said must be the only one there is."""
    from tillercount.errors import InputError
    from tillercount.store import Where

    rows = kept.overview()
    if farm is None:
        farm = _only(rows, "farm")
        if farm is None:
            raise InputError("which farm is meant isn't clear; give --farm NAME")
    if field is None:
        field = _only([row for row in rows if row["farm"].casefold() == farm.casefold()], "field")
        if field is None:
            raise InputError(f"which field of {farm} is meant isn't clear; give --field NAME")
    return Where(farm, field, visit)


def _only(rows: Sequence[dict[str, Any]], what: str) -> str | None:
    names = {row[what] for row in rows}
    return names.pop() if len(names) == 1 else None
