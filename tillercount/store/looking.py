"""What is read out of a season: summaries, lists, the journal, what is known of photos, exports."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Engine, select

from tillercount.store.added import Placed
from tillercount.store.check import Finding, check_season
from tillercount.store.clocks import check_clocks
from tillercount.store.edits import photo_named
from tillercount.store.engine import reading, shown
from tillercount.store.export import export
from tillercount.store.exported import rows_of
from tillercount.store.formernames import field_names_before
from tillercount.store.history import History, history
from tillercount.store.known import Known, check_photos, counted
from tillercount.store.lists import journal, overview, placed_photos
from tillercount.store.othervisit import to_other_visit
from tillercount.store.read import FieldSummary, summary
from tillercount.store.settle import settle
from tillercount.store.tables import assessments
from tillercount.store.visits import Where, field_of, visit_of

if TYPE_CHECKING:
    from tillercount.area import Area

__all__ = ["Looking"]


class Looking:
    """The part of `tillercount.store.Season` that changes nothing."""

    _engine: Engine

    def assessments(self, where: Where) -> list[dict[str, Any]]:
        """The assessments of a visit that were kept, the oldest first."""
        with reading(self._engine) as connection:
            visit, _ = visit_of(connection, where)
            query = select(assessments).where(assessments.c.visit_id == visit)
            rows = connection.execute(query.order_by(assessments.c.id))
            return [dict(row._mapping) for row in rows]

    def summary(self, where: Where, *, level: float = 0.9) -> FieldSummary:
        """See `tillercount.store.read.summary`."""
        with reading(self._engine) as connection:
            return summary(connection, where, level=level)

    def where(
        self,
        farm: str | None = None,
        field: str | None = None,
        visit: str | None = None,
        *,
        adding: bool = False,
        new: bool = False,
    ) -> Where:
        """See `tillercount.store.settle.settle`."""
        with reading(self._engine) as connection:
            return settle(connection, farm, field, visit, adding=adding, new=new)

    def field_names_before(self, where: Where) -> list[str]:
        """See `tillercount.store.formernames.field_names_before`."""
        with reading(self._engine) as connection:
            return field_names_before(connection, field_of(connection, where))

    def history(self, where: Where, *, level: float = 0.9) -> History:
        """See `tillercount.store.history.history`."""
        with reading(self._engine) as connection:
            return history(connection, where, level=level)

    def placed(self, where: Where) -> list[Placed]:
        """Every photo of a visit with its spot, how it came there and how far off it was."""
        with reading(self._engine) as connection:
            return placed_photos(connection, where)

    def overview(self) -> list[dict[str, Any]]:
        """One row per visit."""
        with reading(self._engine) as connection:
            return overview(connection)

    def journal(self, limit: int = 50) -> list[dict[str, Any]]:
        """Who did what and when, the latest first."""
        with reading(self._engine) as connection:
            return journal(connection, limit)

    def counted(self, sha256: str, area: str) -> Known | None:
        """See `tillercount.store.known.counted`."""
        with reading(self._engine) as connection:
            return counted(connection, sha256, area)

    def to_other_visit(self, visit: str, photos: Collection[int | str]) -> str:
        """See `tillercount.store.othervisit.to_other_visit`; photos by number, or by what
        `tillercount.store.edits.photo_named` finds them."""
        with reading(self._engine) as connection:
            ids = [
                one if isinstance(one, int) else photo_named(connection, one).id for one in photos
            ]
            return to_other_visit(connection, visit, ids, shown(self._engine.url))

    def check_photos(
        self, given: Mapping[str, str], area: Area, where: Where, day: dt.date | None,
        replace: bool, *, clocks: bool = True,
    ) -> None:
        """See `tillercount.store.known.check_photos`."""
        with reading(self._engine) as connection:
            check_photos(connection, given, area, where, day, replace=replace, clocks=clocks)

    def check_clocks(
        self, where: Where, given: Mapping[str, tuple[str, str]], *, alone: bool = False
    ) -> None:
        """See `tillercount.store.clocks.check_clocks`."""
        with reading(self._engine) as connection:
            check_clocks(connection, where, given, alone=alone)

    def export(self, path: str | Path, where: Where | None = None) -> int:
        """Write every count, or those of a field or of one visit; how many.

        See `tillercount.store.exported.rows_of` and `tillercount.store.export`.
        """
        with reading(self._engine) as connection:
            rows = rows_of(connection, where)
            with contextlib.closing(rows):  # type: ignore[type-var]
                return export(rows, path)

    def check(self, *, photos_in: Path | None = None) -> list[Finding]:
        """See `tillercount.store.check.check_season`."""
        return check_season(self._engine, photos_in=photos_in)
