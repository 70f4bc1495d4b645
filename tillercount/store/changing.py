"""What a person changes in a season by hand: spots, counts, names, and what shouldn't be there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine

from tillercount.errors import InputError
from tillercount.names import spot_text, spots_once
from tillercount.store.acts import REMOVED, Act, acting
from tillercount.store.added import Placed
from tillercount.store.correcting import correct, hand_counts_beside
from tillercount.store.dating import date_visit
from tillercount.store.edits import assign, photo_named, place_of
from tillercount.store.engine import reading, sqlite_file
from tillercount.store.hands import count_text
from tillercount.store.migrate import BEFORE_REMOVE, copy_file
from tillercount.store.read import summary
from tillercount.store.removing import (
    contents,
    hand_count_at,
    remove_field,
    remove_hand_count,
    remove_photo,
    remove_plan,
    remove_visit,
)
from tillercount.store.renaming import rename
from tillercount.store.undoing import brought, remove_added
from tillercount.store.visits import Where, there
from tillercount.units import M2_PER_FT2

__all__ = ["Changing"]


class Changing:
    """The part of `tillercount.store.Season` that changes what is there."""

    _engine: Engine
    _who: str

    def assign(
        self,
        photo: str,
        spot: str | None,
        where: Where | None = None,
        *,
        new: bool = False,
        move: bool = False,
    ) -> Placed:
        """See `tillercount.store.edits.assign`."""
        detail = f"{photo} to {spot_text(spot) if spot is not None else 'no spot'}"
        if where is not None:
            detail += f" of {where.text}"
        with acting(self._engine, "assign", self._who, detail=detail) as act:
            done = assign(act, photo, spot, where, new=new, move=move)
            if done.came:
                act.tell(f"{detail}, moved from {done.came}")
            return done

    def correct(
        self,
        photo: str,
        plants: float | None = None,
        shoots: float | None = None,
        *,
        where: Where | None = None,
        note: str = "",
        withdraw: bool = False,
    ) -> dict[str, Any]:
        """See `tillercount.store.correcting.correct`.

        Where its spot was counted by hand too, which goes before the photo, the result says under
        ``means`` what the visit's means (per m²) were before and are after.
        """
        with acting(self._engine, "correct", self._who, detail=photo) as act:
            visit = hand_counts_beside(act.connection, photo, where)
            before = {} if visit is None else _means(act.connection, visit)
            done = correct(act, photo, plants, shoots, where=where, note=note, withdraw=withdraw)
            numbers = [f"{what} {v:g}" for what, v in done["person"].items() if v is not None]
            back = ["back to the model"] if withdraw else []
            at = there(act.connection, done["visit"]).text
            act.tell(f"{done['photo']} of {at}: {', '.join([*back, *numbers])}")
            if visit is not None:
                after = _means(act.connection, visit)
                done["means"] = {what: (one, after.get(what)) for what, one in before.items()}
            return done

    def date_visit(
        self, where: Where, day: dt.date, known: Iterable[tuple[str, str]] = ()
    ) -> str:
        """See `tillercount.store.dating.date_visit`."""
        with acting(self._engine, "date", self._who) as act:
            return date_visit(act, where, day, known)

    def rename(self, where: Where, to: str, what: str) -> str:
        """See `tillercount.store.renaming.rename`."""
        with acting(self._engine, "rename", self._who) as act:
            was = rename(act, where, to, what)
            inside = {"farm": "", "field": f" of {where.farm}"}.get(
                what, f" of {where.farm}, {where.field}"
            )
            act.tell(f"{what} {was!r}{inside} to {' '.join(to.split())!r}")
            return was

    def contents(self, where: Where) -> Mapping[str, int]:
        """See `tillercount.store.removing.contents`."""
        with reading(self._engine) as connection:
            return contents(connection, where)

    def remove(self, where: Where, *, backed_up: bool = False) -> tuple[list[str], Path | None]:
        """Erase a visit, or without a visit's name a field with all its visits.

        Returns
        -------
        tuple
            What is gone, in words, and the copy of the whole file that was made first; None on a
            server.

        Raises
        ------
        InputError
            Not there; no copy can be made; or a server, and nobody says that it is backed up.
        """
        def erase(act: Act) -> tuple[str, list[str]]:
            gone = (remove_field if where.visit is None else remove_visit)(act, where)
            return f"{', '.join(gone)} ({where.text})", gone

        if sqlite_file(self._engine.url) is None and not backed_up:
            raise InputError(
                f"{where.text} would be gone for good, and a server can't be copied from here; "
                "make a backup of the database, then give --backed-up"
            )
        with reading(self._engine) as connection:
            contents(connection, where)  # which says what isn't there, before anything is copied
        return self._removed(erase)

    def remove_hand_count(
        self, where: Where, spot: str, observer: str | None = None
    ) -> tuple[str, Path | None]:
        """See `tillercount.store.removing.remove_hand_count`; where it was, and the copy."""
        return self.remove_hand_counts(where, [spot], observer)

    def remove_hand_counts(
        self, where: Where, names: Sequence[str], observer: str | None = None
    ) -> tuple[str, Path | None]:
        """Of several spots in one act: all of them go, or none; as `remove_hand_count` for each.

        A spot that is named twice is one.
        """
        once = spots_once(names)

        def end(act: Act) -> tuple[str, str]:
            places = [remove_hand_count(act, where, name, observer) for name in once]
            at = places[-1].text  # one visit, that of ``where``
            return f"hand count of {', '.join(map(spot_text, once))}, {at}", at

        return self._removed(end)

    def remove_plan(self, where: Where) -> tuple[tuple[str, list[str]], Path | None]:
        """See `tillercount.store.removing.remove_plan`; where, what is gone, and the copy."""
        def end(act: Act) -> tuple[str, tuple[str, list[str]]]:
            at, gone = remove_plan(act, where)
            return f"{gone[0]}, {at.text}", (at.text, gone)

        return self._removed(end)

    def remove_photo(
        self, photo: str, where: Where | None = None
    ) -> tuple[tuple[str, str], Path | None]:
        """See `tillercount.store.removing.remove_photo`; its name, where it was, and the copy."""
        (gone,), copy = self.remove_photos([photo], where)
        return gone, copy

    def remove_photos(
        self, names: Sequence[str], where: Where | None = None
    ) -> tuple[list[tuple[str, str]], Path | None]:
        """Several photos in one act: all of them go, or none; as `remove_photo` for each."""
        def end(act: Act) -> tuple[str, list[tuple[str, str]]]:
            gone = [remove_photo(act, photo, where) for photo in names]
            found = [(name, at.text) for name, at in gone]
            return "; ".join(f"photo {name}, {at}" for name, at in found), found

        return self._removed(end)

    def hand_count_at(
        self, where: Where, names: Sequence[str], observer: str | None = None
    ) -> list[str]:
        """What hand counts of these spots say and where they are; none is changed.

        Raises
        ------
        InputError
            See `tillercount.store.removing.hand_count_at`.
        """
        with reading(self._engine) as connection:
            found = [hand_count_at(connection, where, one, observer) for one in spots_once(names)]
        return [
            f"{spot_text(row.spot)} of {at.text} by {row.observer or 'nobody named'} "
            f"({count_text(row.plants, row.shoots)} in {row.area_m2 / M2_PER_FT2:.3g} ft²)"
            for at, row in found
        ]

    def photos_at(self, names: Sequence[str], where: Where | None = None) -> list[str]:
        """Photos with their places; see `tillercount.store.edits.photo_named`."""
        with reading(self._engine) as connection:
            rows = [photo_named(connection, name, where) for name in names]
        return [f"{row.name} of {place_of(row)}" for row in rows]

    def brought(self, numbers: Sequence[int]) -> list[str]:
        """What addings of these numbers brought; see `tillercount.store.undoing.brought`."""
        with reading(self._engine) as connection:
            return [brought(connection, number).text for number in dict.fromkeys(numbers)]

    def remove_added(
        self, numbers: Sequence[int]
    ) -> tuple[list[tuple[str, list[str]]], Path | None]:
        """Take out what addings brought, the latest first, all or none; and the copy.

        See `tillercount.store.undoing.remove_added`.
        """
        def end(act: Act) -> tuple[str, list[tuple[str, list[str]]]]:
            done = [remove_added(act, one) for one in sorted(set(numbers), reverse=True)]
            return f"what was added: {'; '.join(text for text, _ in done)}", done

        return self._removed(end)

    def _removed(self, take: Callable[[Act], tuple[str, Any]]) -> tuple[Any, Path | None]:
        """Take something out, the file being copied first; a copy not needed goes again."""
        file = sqlite_file(self._engine.url)
        copy = None if file is None else copy_file(file, BEFORE_REMOVE)
        try:
            with acting(self._engine, REMOVED, self._who) as act:
                said, found = take(act)
                act.tell(said if copy is None else f"{said}; before that: {copy.name}")
        except BaseException:
            if copy is not None:
                copy.unlink(missing_ok=True)
            raise
        return found, copy


def _means(connection: Connection, visit: int) -> dict[str, float | None]:
    """A visit's means per m²; empty where its counts can't be put together."""
    at = there(connection, visit)
    try:
        estimate = summary(connection, Where(at.farm, at.field, at.visit)).estimate
    except InputError:
        return {}
    found = {what: getattr(estimate, what, None) for what in ("plants", "shoots")}
    return {what: None if one is None else one.mean for what, one in found.items()}
