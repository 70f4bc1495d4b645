"""A season: one file, or one database on a server, with all that was counted and by whom."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from sqlalchemy import URL, Engine

from tillercount.errors import InputError
from tillercount.handfile import read_with_note
from tillercount.store.acts import acting, told, who_am_i
from tillercount.store.added import Added
from tillercount.store.changing import Changing
from tillercount.store.clocks import of_one_visit
from tillercount.store.counts import add_counts
from tillercount.store.dating import dated, named_by_file
from tillercount.store.engine import (
    is_other_file,
    make_engine,
    place_of,
    reading,
    shown,
    sqlite_file,
)
from tillercount.store.filesaid import said_by
from tillercount.store.hands import add_hand_counts
from tillercount.store.lists import last_model
from tillercount.store.looking import Looking
from tillercount.store.making import is_empty, make_tables, not_there
from tillercount.store.migrate import bring_up
from tillercount.store.placing import WITHIN_M
from tillercount.store.planfile import PlanFile
from tillercount.store.plans import add_plan
from tillercount.store.read import densities, summary
from tillercount.store.tables import assessments
from tillercount.store.visits import Where, there, visit_of

if TYPE_CHECKING:
    from tillercount.hand import HandCount
    from tillercount.stand import Assessment

__all__ = ["Season"]


class Season(Looking, Changing):
    """An open season; use it in a ``with`` block, or close it.

    Every method that changes something is one transaction: when it returns, all of it is on the
    disk; when it raises, or the machine stops, nothing of it is.

    Parameters
    ----------
    engine : Engine
        See `create` and `open`.
    who : str, optional
        Who makes the changes; the computer's user if not given.
    copy : Path, optional
        The copy that was made before the file was taken to a newer layout.
    """

    def __init__(self, engine: Engine, who: str | None = None, copy: Path | None = None) -> None:
        self._engine = engine
        self._who = who_am_i(who)
        self.copy = copy

    @classmethod
    def create(cls, where: str | Path | URL, *, who: str | None = None) -> Season:
        """A new season: a file that isn't there yet, or a database without one.

        Raises
        ------
        InputError
            The file is there, the folder isn't, the server can't be reached or holds a season.
        """
        url = place_of(where)
        file = sqlite_file(url)
        if file is not None:
            if file.exists() and not is_empty(file):
                raise InputError(f"{file} is there already; name another file")
            if not file.parent.is_dir():
                raise InputError(f"{file}: the folder doesn't exist; make it, or name another")
        engine = make_engine(url)
        try:
            make_tables(engine, who_am_i(who))
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, who)

    @classmethod
    def open(
        cls, where: str | Path | URL, *, who: str | None = None, backed_up: bool = False
    ) -> Season:
        """A season that is there. An older layout is brought up, a file being copied first.

        Raises
        ------
        InputError
            Nothing there, no season, one by a newer program, or an older one on a server that
            nobody says is backed up.
        """
        url = place_of(where)
        file = sqlite_file(url)
        if file is not None and not file.is_file():
            raise InputError(not_there(file))
        if file is not None and is_other_file(file):
            raise InputError(f"{file} isn't a season; make one with: tillercount season new FILE")
        engine = make_engine(url)
        try:
            copy = bring_up(engine, backed_up=backed_up)
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, who, copy)

    def close(self) -> None:
        """Let go of the file or the server."""
        self._engine.dispose()

    def __enter__(self) -> Season:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def place(self) -> str:
        """The file, or the URL without its password."""
        return shown(self._engine.url)

    @property
    def engine(self) -> Engine:
        """For what this class has no method for."""
        return self._engine

    def add_plan(
        self, plan: PlanFile | str | Path, where: Where, *, day: dt.date | None = None
    ) -> Added:
        """See `tillercount.store.plans.add_plan`; ``day`` as in `tillercount.store.dating`."""
        source = "" if isinstance(plan, PlanFile) else str(plan)
        with acting(self._engine, "add plan", self._who, source=source) as act:
            return told(act, dated(act, where, day, lambda: add_plan(act, where, plan)))

    def add_counts(
        self,
        counts: str | Path | Mapping[str, Any],
        where: Where,
        *,
        within_m: float = WITHIN_M,
        records: Iterable[Mapping[str, Any]] | None = None,
        day: dt.date | None = None,
        replace_sizes: bool = True,
    ) -> Added:
        """See `tillercount.store.counts.add_counts`; ``day`` as in `tillercount.store.dating`, and
        photos of another visit by their clocks as in `tillercount.store.clocks`."""
        source = "" if isinstance(counts, Mapping) else str(counts)

        def add() -> Added:
            return add_counts(
                act, where, counts, within_m=within_m, records=records, replace_sizes=replace_sizes
            )

        with acting(self._engine, "add counts", self._who, source=source) as act:
            return told(act, dated(act, where, day, of_one_visit(act, where, day, add)))

    def add_hand_counts(
        self,
        counts: str | Path | Iterable[HandCount],
        where: Where,
        *,
        replace: bool = False,
        day: dt.date | None = None,
    ) -> Added:
        """See `tillercount.store.hands.add_hand_counts`; ``day`` as in `tillercount.store.dating`,
        which without one goes by what the file says (`tillercount.store.filesaid`), as the first
        visit's name does.
        """
        source = str(counts) if isinstance(counts, str | Path) else ""

        if isinstance(counts, str | Path):
            given, left_out = read_with_note(counts, where.field)
        else:
            given, left_out = list(counts), ""
        said = said_by(given)

        with acting(self._engine, "add hand counts", self._who, source=source) as act:
            at = named_by_file(act.connection, where, said)

            def add() -> Added:
                return add_hand_counts(act, at, given, source=source, replace=replace)

            added = told(act, dated(act, at, day, add, said))
        notes = (left_out, *added.notes) if left_out else added.notes
        return dataclasses.replace(added, notes=notes)

    def assess(
        self, where: Where, rules: str | Path, *, given_lb_ac: float = 0.0, **options: Any
    ) -> Assessment:
        """Judge a visit by `tillercount.stand.assess`, with its options, and keep the result.

        With ``given_lb_ac``, spring nitrogen that is on already, see
        `tillercount.stand.given.with_given`; the yield goal is then a number, bu/ac.

        Raises
        ------
        InputError
            As there.
        """
        from tillercount.stand import assess as assess_field
        from tillercount.stand.given import with_given

        with reading(self._engine) as connection:
            visit, _ = visit_of(connection, where)
            at = there(connection, visit).text
            found = densities(connection, visit)
            said = summary(connection, where)
            model = last_model(connection, visit)
        if not found:
            raise InputError(f"{at}: nothing counted yet; add photos or hand counts first")
        options.setdefault("zone_areas", said.zone_areas)
        options.setdefault("rows_elsewhere", said.rows_elsewhere)
        options.setdefault("model", model)
        result = assess_field(found, rules, name=where.field, **options)
        result = with_given(result, given_lb_ac, options.get("yield_goal"))
        record = result.to_json()
        with acting(self._engine, "assess", self._who, detail=at) as act:
            act.add(
                assessments,
                visit_id=visit,
                rules=str(record["rules"]),
                headline=result.verdict.headline,
                record=record,
            )
        return result
