"""Which season, and which field of it, a command means."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from tillercount.store import Season, Where

__all__ = ["day_of", "opened", "where_of"]


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


def day_of(text: str | None, *, planned: bool) -> dt.date | None:
    """The visit's day as typed; counts can't be of a day to come, a plan can.

    Raises
    ------
    InputError
        No day, or one to come.
    """
    import datetime as dt

    from tillercount.days import day_typed
    from tillercount.errors import InputError
    from tillercount.store.dates import PLANNED_AHEAD

    if text is None:
        return None
    today = dt.date.today()
    day = day_typed(text, today, PLANNED_AHEAD if planned else 0, what="--date")
    if not planned and day > today + dt.timedelta(days=1):  # where this clock is a zone behind
        raise InputError(f"--date {text!r} is {day}, which is to come; counts are of a day gone by")
    return day
