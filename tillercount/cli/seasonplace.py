"""Which season, and which field of it, a command means."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.store import Season, Where

__all__ = ["opened", "where_given", "where_of"]


def opened(store: str, who: str | None = None, backed_up: bool = False) -> Season:
    """The season of that file or server; a note where it was brought up to date."""
    from tillercount.cli.guard import say
    from tillercount.store import Season

    kept = Season.open(store, who=who, backed_up=backed_up)
    if kept.copy is not None:
        say(f"{kept.place} was brought to this program's layout; as it was: {kept.copy}")
    return kept


def where_of(kept: Season, farm: str | None, field: str | None, visit: str | None) -> Where:
    """The place meant, which must be there; see `tillercount.store.settle.settle`."""
    return kept.where(farm, field, visit)


def where_given(
    kept: Season, farm: str | None, field: str | None, visit: str | None
) -> Where | None:
    """As `where_of`; None where no place was named."""
    return where_of(kept, farm, field, visit) if farm or field or visit else None
