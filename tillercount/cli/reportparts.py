"""What ``tillercount report`` is made from: files of counts, photos, or a season."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.report.photos import Picture
    from tillercount.report.whichphotos import CountedPhotos
    from tillercount.stand import Assessment, RuleSet
    from tillercount.store import Season, Where

__all__ = ["Taken", "from_files", "from_season", "names_before", "store_of"]


@dataclass(frozen=True)
class Taken:
    """The field judged, pictures of its spots, its names, and what became of the photos.

    ``visit`` is the name of a season's visit, which one it is and of how many, ``visited`` its day
    where that is known, and ``since`` what changed since the one before; None for files.
    """

    assessment: Assessment
    pictures: list[Picture]
    refused: int
    field: str
    farm: str
    counted: list[Path]
    visit: dict[str, Any] | None = None
    visited: dt.date | None = None
    since: dict[str, Any] | None = None


def store_of(sources: Sequence[str]) -> str | None:
    """The season, where the sources are one."""
    from tillercount.cli.given import is_season
    from tillercount.errors import InputError

    stores = [
        one
        for one in sources
        if "://" in one
        or one.lower().endswith((".sqlite", ".db", ".sqlite3"))
        or is_season(Path(one))
    ]
    if stores and len(sources) > 1:
        raise InputError(f"{stores[0]} is a season; give it alone, with --field NAME")
    return stores[0] if stores else None


def from_files(
    sources: Sequence[Path],
    area: Any,
    rules: RuleSet,
    options: dict[str, Any],
    folders: Sequence[Path],
    target: Path | None,
    field: str | None,
) -> Taken:
    """Counts are kept beside ``target`` as they come; the caller forgets them once it is there."""
    from tillercount.cli.given import count_given, field_name, need_area, sorted_out
    from tillercount.report.photos import counted_in
    from tillercount.stand import assess

    photos, files = sorted_out(sources)
    need_area(photos, area)
    counts: list[Any] = list(files)
    refused = 0
    if photos:
        counted, _, refused = count_given(photos, area, None, target)
        counts.insert(0, counted)
    name = field or field_name(sources)
    result = assess(counts, rules, name=name, **options)
    look_in = [*photos, *_photos_in(folders)]
    pictures = _pictures(result, look_in, counted_in(files), area) if look_in else []
    return Taken(result, pictures, refused, name, "", photos)


def names_before(store: str, place: tuple[str | None, str | None, str | None]) -> list[str]:
    """What the season's field was called before; its --boundary file may call it so still."""
    from tillercount.cli.seasonplace import opened, where_of

    with opened(store) as kept:
        return kept.field_names_before(where_of(kept, *place))


def from_season(
    store: str,
    place: tuple[str | None, str | None, str | None],
    rules: str,
    options: dict[str, Any],
    folders: Sequence[Path],
    area: Any,
) -> Taken:
    from tillercount.cli.seasonplace import opened, where_of
    from tillercount.errors import InputError
    from tillercount.names import in_command
    from tillercount.report.since import day_of_visit, since_record
    from tillercount.report.whichphotos import CountedPhotos

    with opened(store) as kept:
        where = where_of(kept, *place)
        past = kept.history(where)
        day = day_of_visit(past)
        visited = None if day is None else dt.date.fromisoformat(day)
        asked = options.get("seen")
        if asked is not None and visited is not None and asked != visited:
            raise InputError(
                f"--visited says {asked}, but {where.field}, {past.here.name} was seen on "
                f"{visited} by the season: leave --visited out; if the season is wrong, add the "
                f"counts again with --visit {in_command(past.here.name)} --date {asked}"
            )
        # Kept in the season, so that what was handed over can be looked up later.
        seen = asked or visited
        result = kept.assess(where, rules, **{**options, "seen": seen})
        known = _counted_in(kept, where) if folders else CountedPhotos()
    visit = {"name": past.here.name, "number": past.at + 1, "of": len(past.visits)}
    pictures = _pictures(result, _photos_in(folders), known, area) if folders else []
    since = since_record(past)
    return Taken(result, pictures, 0, where.field, where.farm, [], visit, visited, since)


def _photos_in(folders: Sequence[Path]) -> list[Path]:
    """Photos of these folders, without pictures that the program drew."""
    from tillercount.cli.photolist import without_own_pictures
    from tillercount.photofiles import list_photos

    return without_own_pictures(list_photos(list(folders))) if folders else []


def _pictures(
    a: Assessment, photos: Sequence[Path], known: CountedPhotos, area: Area | None
) -> list[Picture]:
    """See `tillercount.report.photos.pictures_of`; says which photos can't be shown."""
    from tillercount.cli.guard import say
    from tillercount.report.photos import pictures_of

    pictures, note = pictures_of(a, photos, known, area)
    if note:
        say(note)
    return pictures


def _counted_in(kept: Season, where: Where) -> CountedPhotos:
    """What the season keeps of a visit's photos: their fingerprints, what was marked on each."""
    from tillercount.names import spot_key
    from tillercount.report.whichphotos import CountedPhotos, named
    from tillercount.store.engine import reading
    from tillercount.store.rows import count_rows
    from tillercount.store.visits import visit_of

    with reading(kept.engine) as connection:
        rows = [
            row for row in count_rows(connection, visit_of(connection, where)[0]) if row["sha256"]
        ]
    prints: dict[tuple[str, str], frozenset[str]] = {}
    for row in rows:
        if not row["spot"]:
            continue  # at no spot, so not in the mean and nothing to show
        at = (spot_key(row["spot"]), named(row["photo"]))
        prints[at] = prints.get(at, frozenset()) | {row["sha256"]}
    return CountedPhotos({row["sha256"]: row["area"] for row in rows if row["area"]}, prints)
