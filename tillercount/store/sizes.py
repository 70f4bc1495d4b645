"""Counts of another marked area than the one that a photo's count holds for.

A mistyped size changes every density of a field, so it takes the place of a size that is there only
where somebody says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, select

from tillercount.errors import InputError
from tillercount.names import first_few
from tillercount.store.acts import find
from tillercount.store.holding import held_counts
from tillercount.store.tables import corrections, farms, fields, photos
from tillercount.store.tally import Resized
from tillercount.store.visits import Where

__all__ = ["check_sizes", "refuse_other_sizes"]


def check_sizes(
    connection: Connection, given: Mapping[str, str], area: tuple[str, str], where: Where
) -> None:
    """Before photos are counted: that their counts in the field aren't of another area.

    Parameters
    ----------
    connection : Connection
    given : mapping of SHA-256 to file name
    area : (str, str)
        As compared, and as typed.
    where : Where

    Raises
    ------
    InputError
        See `refuse_other_sizes`.
    """
    farm = find(connection, farms, where.farm)
    field = None if farm is None else find(connection, fields, where.field, farm_id=farm)
    if field is None:
        return
    found: list[Resized] = []
    hashes = list(given)
    for start in range(0, len(hashes), 500):  # a database takes only so many values at once
        query = select(photos.c.id, photos.c.sha256).where(
            photos.c.sha256.in_(hashes[start : start + 500])
        )
        ids = {row.id: row.sha256 for row in connection.execute(query)}
        for photo, held in held_counts(connection, list(ids)).items():
            if held.counts_in(field) and held.area != area[0]:
                name = given[ids[photo]]
                found.append(Resized(name, photo, held.label, area[1], held.area))
    refuse_other_sizes(connection, found, where.text)


def refuse_other_sizes(connection: Connection, found: Sequence[Resized], place: str) -> None:
    """Refuse counts that would take the place of those of another area.

    Raises
    ------
    InputError
        There are such; the message has both areas, how many photos, and which corrections would
        not be used any more, and what to give.
    """
    if not found:
        return
    groups: dict[tuple[str, str], dict[int, Resized]] = {}
    for one in found:  # a file may have a photo twice
        groups.setdefault((one.was, one.now), {})[one.id] = one
    said = []
    for (was, now), photos_of in groups.items():
        group = list(photos_of.values())
        many, names = len(group), first_few(one.photo for one in group)
        fixed = _corrected(connection, group)
        lost = ""
        if fixed:
            which = "the correction" if len(fixed) == 1 else f"the {len(fixed)} corrections"
            lost = f", and {which} of {first_few(fixed)} would not be used any more"
        said.append(
            f"{many} photo{'s have counts' if many > 1 else ' has a count'} with {was} in {place} "
            f"already ({names}), and now {now or 'another area'} is given{lost}"
        )
    raise InputError(
        f"{'; '.join(said)}. A slip? Give the size that was laid on the ground. If the size before "
        "was the wrong one, add --replace: the counts with it are kept, and come back with it. "
        "Nothing was changed"
    )


def _corrected(connection: Connection, group: Sequence[Resized]) -> list[str]:
    """Names of photos for whose count a person's stands."""
    held: dict[int, bool] = {}
    for start in range(0, len(group), 500):
        some = {one.id: one for one in group[start : start + 500]}
        query = select(corrections).where(corrections.c.photo_id.in_(some))
        for row in connection.execute(query.order_by(corrections.c.id)):  # the last one holds
            set_ = row.plants is not None or row.shoots is not None
            held[row.photo_id] = set_ and row.area == some[row.photo_id].area
    return [one.photo for one in group if held.get(one.id)]
