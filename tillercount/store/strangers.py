"""Signs that photos without a position were taken in another field than they are put to.

A position says where a photo belongs. Without one only the word of whoever adds it does, and what
can be measured is held against that word: names of folders, days and minutes, the row spacing, the
stand itself. None of it proves anything, so it is said and nothing is refused.
"""

from __future__ import annotations

import datetime as dt
import math
import statistics
from collections.abc import Callable, Sequence
from pathlib import PurePosixPath
from typing import Any

from sqlalchemy import Connection, func, select

from tillercount.field.apart import several_folders
from tillercount.field.rowspacing import spacing_text
from tillercount.names import first_few, key_of
from tillercount.rounding import figure
from tillercount.store.acts import Act
from tillercount.store.photoquery import latest_of_photos
from tillercount.store.tables import fields, photos, placements, predictions, visits
from tillercount.units import per_ft2

__all__ = ["strangers"]

_MOST = 500
"""Photos looked at on either side, so that a large import takes no longer for it."""
_DAYS = 7
"""Photos of one visit aren't taken farther apart: a convention; rain may break a visit off."""
_SAME_MINUTE_S = 60.0
"""Nobody is in two fields within this: a convention."""
_SPACING = 0.15
"""Row spacings that differ by more are of two drills. Seen in 20 rendered photos of known spacing
it was off by -12 to +2 %; drills in use are 6, 7.5 and 10 in, a quarter and more apart."""
_FEWEST_SPACINGS = 2
_STAND_FOLD, _TILLER_FOLD = 2.0, 1.5
"""Ratio of the means of two batches, of plants or shoots and of shoots per plant, that is named:
conventions. A field's shoots per plant differ less from spot to spot than its density."""
_CHANCE = 0.05
"""Two batches of one field, drawn at random, lie on either side of a value by chance with twice one
over the number of ways to draw the one from both (Wilcoxon 1945, Biometrics Bulletin 1:80-83: the
extreme of the rank sum). Above this nothing is said."""


def strangers(act: Act, visit: int) -> list[str]:
    """What speaks against photos without a position that this act has just put into a visit."""
    query = _with_signs().where(placements.c.visit_id == visit).order_by(placements.c.id)
    mine = query.where(placements.c.act_id == act.id, photos.c.lat.is_(None))
    new = act.connection.execute(mine.limit(_MOST)).all()
    if not new:
        return []
    field = act.connection.scalar(select(visits.c.field_id).where(visits.c.id == visit))
    before = query.where(placements.c.act_id != act.id).limit(_MOST)
    others = act.connection.execute(before).all()
    of_field = _with_signs().join(visits, visits.c.id == placements.c.visit_id)
    of_field = of_field.where(visits.c.field_id == field, placements.c.act_id != act.id)
    known = act.connection.execute(of_field.order_by(placements.c.id).limit(_MOST)).all()
    said = [
        _folders(act.connection, new, others, int(field or 0)),
        _days(new, others),
        _minutes(act.connection, new, int(field or 0)),
        _spacing(new, known),
        _stand(new, others),
    ]
    found = [line for line in said if line]
    if not found:
        return []
    whose = f"{len(new)} photos have" if len(new) > 1 else f"{new[0].photo} has"
    return [
        f"{whose} no position, so only your word says that this is their field, and "
        f"{'something speaks' if len(found) == 1 else f'{len(found)} things speak'} against it:",
        *(f"- {line}" for line in found),
        "if they are of another field: tillercount season remove --photo NAME, or --visit where "
        "all of it is, then add them to theirs",
    ]


def _with_signs() -> Any:
    spacing = predictions.c.record[("rows", "spacing_mm")].as_float()
    return latest_of_photos().add_columns(
        photos.c.path, photos.c.taken_at, spacing.label("spacing_mm")
    )


def _folders(connection: Connection, new: Sequence[Any], others: Sequence[Any], field: int) -> str:
    """A folder or file that is called like another field; else several folders."""
    rows = connection.execute(select(fields.c.id, fields.c.name)).all()
    own = {_plain(row.name) for row in rows if row.id == field}
    other = {_plain(row.name): row.name for row in rows if row.id != field}
    called: dict[str, list[str]] = {}
    for one in new:
        path = PurePosixPath(one.path)
        for part in (*path.parent.parts, path.stem):
            if (name := other.get(_plain(part))) and _plain(part) not in own:
                called.setdefault(name, []).append(one.path)
                break
    if called:
        return "; ".join(
            f"{first_few(paths, 3)}: called like {name}, another field of the season"
            for name, paths in called.items()
        )
    without = [one.path for one in (*new, *others) if one.lat is None]
    return several_folders(without)


def _plain(name: str) -> str:
    words = name.replace("_", " ").replace("-", " ").strip()
    return key_of(words) if words else ""


def _days(new: Sequence[Any], others: Sequence[Any]) -> str:
    """Days between the new photos and the visit's others, or among the new ones."""
    mine, theirs = (sorted(one.taken_at[:10] for one in some if one.taken_at)
                    for some in (new, others))  # fmt: skip
    if not mine:
        return ""
    if theirs:
        gap = max(_apart(mine[0], theirs[-1]), _apart(theirs[0], mine[-1]))
        if gap > _DAYS:
            return (
                f"taken {_span(mine)}, and the visit's other photos {_span(theirs)}: another field "
                "or another visit (--visit NAME)?"
            )
    elif _apart(mine[0], mine[-1]) > _DAYS:
        return f"taken {_span(mine)}, which is long for one visit: are there two among them?"
    return ""


def _apart(first: str, last: str) -> int:
    try:
        return (dt.date.fromisoformat(last) - dt.date.fromisoformat(first)).days
    except ValueError:
        return 0


def _span(days: Sequence[str]) -> str:
    return days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"


def _minutes(connection: Connection, new: Sequence[Any], field: int) -> str:
    """Photos of other fields at the same minute."""
    times = {one.photo: at for one in new if (at := _seconds(one.taken_at)) is not None}
    if not times:
        return ""
    days = sorted({one.taken_at[:10] for one in new if one.taken_at})
    query = (
        select(photos.c.name, photos.c.taken_at, fields.c.name.label("field"))
        .join_from(placements, photos, photos.c.id == placements.c.photo_id)
        .join(visits, visits.c.id == placements.c.visit_id)
        .join(fields, fields.c.id == visits.c.field_id)
        .where(fields.c.id != field, placements.c.ended_id.is_(None))
        .where(func.substr(photos.c.taken_at, 1, 10).between(days[0], days[-1]))
        .order_by(photos.c.taken_at)
        .limit(10 * _MOST)
    )
    for row in connection.execute(query):
        at = _seconds(row.taken_at)
        for name, mine in times.items():
            if at is not None and abs(at - mine) <= _SAME_MINUTE_S:
                return (
                    f"{name} was taken within a minute of {row.name} of {row.field}: one person "
                    "can't have been in both fields"
                )
    return ""


def _seconds(text: str | None) -> float | None:
    """By the photo's own clock, as it stands."""
    try:
        time = dt.datetime.fromisoformat(text or "")
    except ValueError:
        return None
    return (time.replace(tzinfo=None) - dt.datetime(1970, 1, 1)).total_seconds()


def _spacing(new: Sequence[Any], known: Sequence[Any]) -> str:
    """Rows of another drill than in the field's other photos."""
    mine, theirs = ([one.spacing_mm for one in some if one.spacing_mm] for some in (new, known))
    if min(len(mine), len(theirs)) < _FEWEST_SPACINGS:
        return ""
    a, b = statistics.median(mine), statistics.median(theirs)
    if abs(math.log(a / b)) <= math.log1p(_SPACING):
        return ""
    return (
        f"rows {spacing_text(a)} apart are seen in {len(mine)} of them, and {spacing_text(b)} in "
        f"{len(theirs)} of the field's other photos: another drill, or another size of frame"
    )


def _stand(new: Sequence[Any], others: Sequence[Any]) -> str:
    """A batch that lies wholly apart from the visit's other photos."""
    for what, value, fold in (
        ("shoots per plant", _tillering, _TILLER_FOLD),
        ("plants per ft²", lambda one: one.plants_per_m2, _STAND_FOLD),
        ("shoots per ft²", lambda one: one.shoots_per_m2, _STAND_FOLD),
    ):
        mine, theirs = _values(new, value), _values(others, value)
        if not mine or not theirs or not _one_side(mine, theirs):
            continue
        a, b = statistics.fmean(mine), statistics.fmean(theirs)
        if max(a, b) < fold * min(a, b):
            continue
        if what != "shoots per plant":
            a, b = per_ft2(a), per_ft2(b)
        return (
            f"{figure(a)} {what} in the mean of these {len(mine)}, and {figure(b)} in the visit's "
            f"other {len(theirs)} photos, none of which comes near"
        )
    return ""


def _values(rows: Sequence[Any], value: Callable[[Any], float | None]) -> list[float]:
    return [v for one in rows if one.status == "counted" and (v := value(one)) is not None]


def _tillering(one: Any) -> float | None:
    plants, shoots = one.plants_per_m2, one.shoots_per_m2
    return shoots / plants if plants and shoots else None


def _one_side(mine: Sequence[float], theirs: Sequence[float]) -> bool:
    """Whether all of one batch lie above all of the other, more than by chance."""
    if max(mine) >= min(theirs) and max(theirs) >= min(mine):
        return False
    return 2 / math.comb(len(mine) + len(theirs), len(mine)) <= _CHANCE
