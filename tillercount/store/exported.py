"""Which counts of a season an export has: all, those of a field, or those of one of its visits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection

from tillercount.store.dates import in_order, visit_dates
from tillercount.store.rows import count_rows
from tillercount.store.visits import Where, field_of, visit_of

__all__ = ["rows_of"]


def rows_of(connection: Connection, where: Where | None = None) -> Iterator[dict[str, Any]]:
    """Every count of a season, or of a place in it: without a visit's name of all visits of the
    field, the first first. See `tillercount.store.rows.count_rows`."""
    numbers: list[int | None] = [None]
    if where is not None and where.visit is not None:
        numbers = [visit_of(connection, where)[0]]
    elif where is not None:
        numbers = [*in_order(visit_dates(connection, field_of(connection, where)))]
    for visit in numbers:
        yield from count_rows(connection, visit)
