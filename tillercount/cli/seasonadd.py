"""Behind ``tillercount season add``: sources told apart, photos counted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from tillercount.cli.keeping import photos_text

if TYPE_CHECKING:
    import datetime as dt

    from tillercount.area import Area
    from tillercount.store import Season, Where

__all__ = ["add_photos", "sorted_out"]


def sorted_out(sources: Sequence[Path]) -> tuple[list[Path], list[Path], list[Path], list[Path]]:
    """Plans, counts files, hand counts, photos."""
    from tillercount.cli.photolist import without_own_pictures
    from tillercount.errors import InputError
    from tillercount.photo import SUFFIXES, list_photos

    plans: list[Path] = []
    counts: list[Path] = []
    hands: list[Path] = []
    pictures: list[Path] = []
    for source in sources:
        ending = source.suffix.lower()
        if not source.exists():
            raise InputError(f"{source} doesn't exist; check the name and the folder")
        if source.is_dir() or ending in SUFFIXES:
            pictures.append(source)
        elif ending == ".geojson":
            plans.append(source)
        elif ending == ".json":
            (plans if _is_geojson(source) else counts).append(source)
        elif ending in (".csv", ".tsv", ".txt"):
            hands.append(source)
        else:
            raise InputError(
                f"{source} is neither a plan (.geojson), a counts file (.json), hand counts (.csv) "
                "nor a photo; give one of these"
            )
    return plans, counts, hands, without_own_pictures(list_photos(pictures)) if pictures else []


def _is_geojson(path: Path) -> bool:
    with path.open("rb") as file:
        return b'"FeatureCollection"' in file.read(1000)


def add_photos(
    kept: Season,
    photos: Sequence[Path],
    area: Area,
    where: Where,
    within_m: float,
    again: bool,
    day: dt.date | None = None,
    told: set[str] | None = None,
) -> int:
    """Count photos and keep the counts; how many were refused. ``told``: see `show_added`.

    Beside a season's file the counts are kept as they come, so that a run that was interrupted
    goes on where it stopped.
    """
    from tillercount.cli.counting import count_photos, counts_file, with_row_flags
    from tillercount.cli.held import held
    from tillercount.cli.keeping import show_added
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.show import stick_doubts
    from tillercount.fingerprint import file_sha256
    from tillercount.store.engine import sqlite_file

    todo, there = [], []
    for path in photos:
        at = None if again else kept.counted(file_sha256(path), area.text)
        if at is None:
            todo.append(path)
        else:
            there.append((path.name, *at))
    if there:
        typer.echo(_counted_already(there, where.field, kept.place))
    if not todo:
        if day is not None:
            typer.echo(f"  {kept.date_visit(where, day, [one[1:] for one in there])}")
        return 0
    beside = sqlite_file(kept.engine.url)
    with held(beside):
        run = with_row_flags(count_photos(todo, area, keep_beside=beside))
        added = kept.add_counts(counts_file(run), where, within_m=within_m, day=day)
        forget_partial(beside, todo)
    show_added(added, photos_text(len(todo)), kept.place, told)
    for line in stick_doubts(run):
        typer.echo(line)
    return run.refused


def _counted_already(there: Sequence[tuple[str, str, str]], field: str | None, store: str) -> str:
    """Photos that aren't counted again: where they are, and what to do if that isn't what was
    meant. Of each its name, its field and its visit."""
    from tillercount.names import first_few, key_of
    from tillercount.store.tally import left_there

    own: list[tuple[str, str]] = []
    others: dict[str, list[str]] = {}
    for name, in_field, in_visit in there:
        if field and key_of(in_field) != key_of(field):
            others.setdefault(in_field, []).append(name)
        else:
            own.append((in_field, in_visit))
    lines = []
    if own:
        places = first_few(dict.fromkeys(f"{a}, {b}" for a, b in own))
        lines.append(
            f"{photos_text(len(own))} with a count of this area already in {places}: nothing "
            "changed there"
        )
    lines += [f"MIND: {left_there(*one, store)}" for one in others.items()]
    return "\n".join(lines)
