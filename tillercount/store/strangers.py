"""Signs that photos without a position were taken in another field than they are put to.

A position says where a photo belongs. Without one only whoever adds it knows, and three things that
hardly ever speak by chance are held against it: the folder a photo lies in, the day, and the row
spacing that is seen. None of it proves anything, so it is said and nothing is refused.

Not held against it are times (two people with two phones are in two fields at once) and the stand:
photos added one at a time, or a thin half after a thick one, differ from a field's others as much
as another field does.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

from sqlalchemy import ColumnElement, Connection, func, select

from tillercount.field.rowdoubt import ANOTHER_DRILL, other_drill, row_doubt, seen_rows
from tillercount.field.rowspacing import spacing_text
from tillercount.field.spots import SeenRows
from tillercount.names import first_few, in_command, key_of
from tillercount.store.acts import Act
from tillercount.store.photoquery import latest_of_photos
from tillercount.store.tables import fields, photos, placements, predictions, visits
from tillercount.store.visits import There, field_of_visit

__all__ = ["doubtful_rows", "rows_elsewhere", "strangers"]

_SAMPLE = 500
"""Photos on either side whose rows are looked at, drawn evenly, so that a large import takes no
longer for it."""
_DAYS = 7
"""Photos of one visit aren't taken farther apart: a convention; rain may break a visit off."""
_CAMERA_FOLDER = re.compile(r"dcim|\d{3}[a-z0-9_]{5}", re.IGNORECASE)
"""Folders that a camera makes: DCIM and in it three digits with five letters (the standard for
cameras' files, JEITA CP-3461; from memory). They are called after no field."""


def strangers(act: Act, at: There) -> list[str]:
    """What speaks against photos without a position that this act has just put into a visit."""
    here = (placements.c.visit_id == at.id, placements.c.ended_id.is_(None))
    new = (*here, placements.c.act_id == act.id, photos.c.lat.is_(None))
    joined = select(func.count()).select_from(placements).join(photos)
    many = act.connection.scalar(joined.where(*new)) or 0
    if not many:
        return []
    field = act.connection.scalar(select(visits.c.field_id).where(visits.c.id == at.id))
    said = [
        *_folders(act.connection, new, act.id, int(field or 0)),
        _days(act.connection, new, (*here, placements.c.act_id != act.id)),
        _spacing(act.connection, new, act.id, int(field or 0)),
    ]
    found = [line for line in said if line]
    if not found:
        return []
    season = in_command(act.place)
    whose = "1 photo has" if many == 1 else f"{many:,} photos have"
    return [
        f"{whose} no position; look whether {'it is' if many == 1 else 'they are'} of {at.field}:",
        *(f"- {line}" for line in found),
        f"if one is of another field, take it out (tillercount season remove {season} --photo NAME "
        f"--field {in_command(at.field)}), then add its counts to that (tillercount season add "
        f"{season} COUNTS.json --field FIELD)",
    ]


def _folders(
    connection: Connection, new: Sequence[ColumnElement[bool]], act: int, field: int
) -> Iterable[str]:
    """Photos whose folder is called like another field.

    Only the nearest folder counts, not those above it and not the file's name. One from which the
    field has photos already says nothing, nor a photo that was taken out of a visit before: whoever
    moves it knows what he does.
    """
    rows = connection.execute(select(fields.c.id, fields.c.name)).all()
    own = {_plain(row.name) for row in rows if row.id == field}
    other = {_plain(row.name): row.name for row in rows if row.id != field}
    other = {key: name for key, name in other.items() if key not in own and not key.isdigit()}
    if not other:
        return
    query = select(photos.c.path).join_from(placements, photos)
    moved = select(placements.c.photo_id).where(placements.c.ended_id.is_not(None))
    fresh = query.where(*new, photos.c.id.not_in(moved)).order_by(placements.c.id)
    called: dict[str, list[str]] = {}
    for path in connection.scalars(fresh):
        if (name := other.get(_plain(_nearest(path)))) is not None:
            called.setdefault(name, []).append(path)
    if not called:
        return
    before = query.join(visits, visits.c.id == placements.c.visit_id).where(
        visits.c.field_id == field, placements.c.act_id != act, placements.c.ended_id.is_(None)
    )
    known = {_plain(_nearest(path)) for path in connection.scalars(before)}
    for name, paths in called.items():
        if _plain(name) not in known:
            yield f"{first_few(paths, 3)}: in a folder called like {name}, another of your fields"


def _nearest(path: str) -> str:
    """Name of the folder that a photo lies in, those passed over that a camera makes."""
    parents = reversed(PurePosixPath(path).parent.parts)
    return next((part for part in parents if not _CAMERA_FOLDER.fullmatch(part)), "")


def _plain(name: str) -> str:
    words = name.replace("_", " ").replace("-", " ").strip(" /")
    return key_of(words) if words else ""


def _days(
    connection: Connection,
    new: Sequence[ColumnElement[bool]],
    others: Sequence[ColumnElement[bool]],
) -> str:
    """Days between the new photos and the visit's others, or among the new ones."""
    day = func.substr(photos.c.taken_at, 1, 10)
    query = select(func.min(day), func.max(day)).select_from(placements).join(photos)
    mine, theirs = (
        tuple(connection.execute(query.where(*some, photos.c.taken_at.is_not(None))).one())
        for some in (new, others)
    )
    if not mine[0]:
        return ""
    if theirs[0]:
        if max(_apart(mine[0], theirs[1]), _apart(theirs[0], mine[1])) > _DAYS:
            return (
                f"taken {_span(mine)}, and the visit's other photos {_span(theirs)}: another field "
                "or another visit (--visit NAME)?"
            )
    elif _apart(*mine) > _DAYS:
        return f"taken {_span(mine)}, which is long for one visit: are there two among them?"
    return ""


def _apart(first: str, last: str) -> int:
    try:
        return (dt.date.fromisoformat(last) - dt.date.fromisoformat(first)).days
    except ValueError:
        return 0


def _span(days: Sequence[str]) -> str:
    return days[0] if days[0] == days[1] else f"{days[0]} to {days[1]}"


def _spacing(
    connection: Connection, new: Sequence[ColumnElement[bool]], act: int, field: int
) -> str:
    """Rows of another drill than in the field's other photos, where both sides are sure."""
    here = select(visits.c.id).where(visits.c.field_id == field)
    known = (
        placements.c.visit_id.in_(here),
        placements.c.act_id != act,
        placements.c.ended_id.is_(None),
    )
    mine, theirs = _seen(connection, new), _seen(connection, known)
    both = other_drill(mine, theirs)
    if both is None:
        return ""
    a, b = map(spacing_text, both)
    return (
        f"rows {a} apart are seen in {len(mine)} of them, and {b} in {len(theirs)} of the field's "
        f"other photos: {ANOTHER_DRILL}?"
    )


def doubtful_rows(connection: Connection, visit: int, said: Iterable[str]) -> list[str]:
    """What rows in a visit's photos speak against, photos with a position among them; nothing where
    it was ``said`` already that they are of two drills."""
    here = _seen(connection, (placements.c.visit_id == visit, placements.c.ended_id.is_(None)))
    doubt = row_doubt(here, rows_elsewhere(connection, visit))
    if doubt is None or any(ANOTHER_DRILL in line for line in said):
        return []
    return [f"MIND: {doubt.line}"]


def rows_elsewhere(connection: Connection, visit: int) -> tuple[SeenRows, ...]:
    """Rows seen in photos of the other visits to a visit's field."""
    field = field_of_visit(connection, visit)
    others = select(visits.c.id).where(visits.c.field_id == field, visits.c.id != visit)
    return tuple(
        _seen(connection, (placements.c.visit_id.in_(others), placements.c.ended_id.is_(None)))
    )


def _seen(connection: Connection, which: Sequence[ColumnElement[bool]]) -> list[SeenRows]:
    """Rows seen in photos drawn evenly from all of these."""
    query = select(placements.c.id).join(photos).where(*which).order_by(placements.c.id)
    ids = list(connection.scalars(query))
    step = max(1, math.ceil(len(ids) / _SAMPLE))
    entries = latest_of_photos().add_columns(predictions.c.record)
    rows = connection.execute(entries.where(placements.c.id.in_(ids[::step])))
    return [seen for row in rows if (seen := seen_rows(row.record)) is not None]
