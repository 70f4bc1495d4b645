"""Behind ``tillercount season add``: sources told apart, photos counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from tillercount.cli.keeping import photos_text

if TYPE_CHECKING:
    import datetime as dt

    from tillercount.area import Area
    from tillercount.photo import Glance
    from tillercount.store import Added, Season, Where
    from tillercount.store.known import Known

__all__ = ["add_photos", "sorted_out"]

_MOST_COPIES = 12
"""Copies named one by one."""


def sorted_out(sources: Sequence[Path]) -> tuple[list[Path], list[Path], list[Path], list[Path]]:
    """Plans, counts files, hand counts, photos."""
    from tillercount.cli.given import as_csv, is_season
    from tillercount.cli.photolist import without_own_pictures
    from tillercount.errors import InputError
    from tillercount.photofiles import SUFFIXES, list_photos

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
        elif is_season(source):
            raise InputError(
                f"{source} is a season: name the season first, then what goes into it. To bring in "
                f"the hand counts of another season: tillercount season export {source} F.csv, "
                "then add F.csv"
            )
        else:
            raise InputError(
                f"{source} is neither a plan (.geojson), a counts file (.json), hand counts (.csv) "
                f"nor a photo; {as_csv(source) or 'give one of these'}"
            )
    return plans, counts, hands, without_own_pictures(list_photos(pictures)) if pictures else []


def _is_geojson(path: Path) -> bool:
    with path.open("rb") as file:
        return b'"FeatureCollection"' in file.read(1000)


def add_photos(
    kept: Season,
    photos: Mapping[Path, Glance],
    area: Area,
    where: Where,
    within_m: float,
    again: bool,
    day: dt.date | None = None,
    told: set[str] | None = None,
    replace: bool = False,
    row_spacing: str | None = None,
) -> tuple[int, Added | None]:
    """Count photos, looked at before, and keep the counts; how many were refused, and what was
    added. ``told``: see `show_added`; ``row_spacing``: see `with_row_flags`.

    Beside a season's file the counts are kept as they come, so that a run that was interrupted
    goes on where it stopped. What would be refused afterwards is refused before.
    """
    from tillercount.cli.counting import count_photos, counts_file, with_row_flags
    from tillercount.cli.held import held
    from tillercount.cli.keeping import show_added
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.show import stick_doubts
    from tillercount.store.engine import sqlite_file

    todo: dict[str, Path] = {}
    there: dict[str, tuple[str, Known]] = {}
    copies: list[tuple[Path, Path]] = []
    first: dict[str, Path] = {}
    for path, seen in photos.items():
        sha256 = seen.sha256 or str(path)  # one that can't be read is refused by counting
        if first.setdefault(sha256, path) is not path:
            copies.append((path, first[sha256]))
            continue
        at = None if again else kept.counted(sha256, area.text)
        if at is None:
            todo[sha256] = path
        else:
            there[sha256] = path.name, at
    if copies:
        typer.echo(_copies(copies))
    if there:
        typer.echo(_counted_already(list(there.values()), where, kept))
        if row_spacing is not None and any(_in_field(at, where) for _, at in there.values()):
            typer.echo(
                f"--row-spacing {row_spacing} goes with photos that are counted now; for those "
                "counted already, give --again too"
            )
    if not todo:
        if line := _nothing_added([at for _, at in there.values()], where, kept):
            typer.echo(line)
        if day is not None:
            known = [(at.field, at.visit) for _, at in there.values()]
            typer.echo(f"  {kept.date_visit(where, day, known)}")
        return 0, None
    names = {sha256: path.name for sha256, path in todo.items()}
    clocks = any(one.day for one in photos.values())
    kept.check_photos(names, area, where, day, replace, clocks=clocks)
    beside = sqlite_file(kept.engine.url)
    paths = list(todo.values())
    with held(beside):
        counted = count_photos(paths, area, keep_beside=beside, seen=photos)
        run = with_row_flags(counted, row_spacing)
        added = kept.add_counts(
            counts_file(run), where, within_m=within_m, day=day, replace_sizes=replace
        )
        forget_partial(beside, paths)
    show_added(added, photos_text(len(paths)), kept.place, told)
    for line in stick_doubts(run):
        typer.echo(line)
    return run.refused, added


def _in_field(at: Known, where: Where) -> bool:
    from tillercount.names import key_of

    return key_of(at.field) == key_of(where.field)


def _nothing_added(there: Sequence[Known], where: Where, kept: Season) -> str:
    """What to say where photos of other fields alone were given, and what to do then."""
    from tillercount.names import first_few, key_of

    others = list(dict.fromkeys(at.field for at in there))
    if not there or any(_in_field(at, where) for at in there):
        return ""
    place = (key_of(where.farm), key_of(where.field))
    known = any((key_of(row["farm"]), key_of(row["field"])) == place for row in kept.overview())
    made = "" if known else f"; field {where.field} was not made"
    lie = f"{photos_text(len(there))} {'lies' if len(there) == 1 else 'lie'} in {first_few(others)}"
    return (
        f"Nothing was added{made}: {lie}. If that is right, all is done; if what was given is of "
        f"{where.field}, take it out there as said above and give this command again; if other "
        "photos were meant, check the folder"
    )


def _copies(copies: Sequence[tuple[Path, Path]]) -> str:
    """Which files were left out, being the same photo as one given before."""
    from tillercount.names import first_few

    pairs = [
        f"{copy.name} of {one.name}" if copy.name != one.name else f"{copy} of {one}"
        for copy, one in copies
    ]
    are = "is a copy" if len(copies) == 1 else "are copies"
    return (
        f"{photos_text(len(copies))} left out that {are}, byte for byte: "
        f"{first_few(pairs, _MOST_COPIES)}; if another spot's photo was meant, give that one"
    )


def _counted_already(
    there: Sequence[tuple[str, Known]], where: Where, kept: Season
) -> str:
    """Photos that aren't counted again: where they are, and what to do if that isn't what was
    meant. Of each its name and what is known of it."""
    from tillercount.names import first_few, in_command, key_of
    from tillercount.store.tally import left_there, under_other_names

    store = kept.place
    own: list[Known] = []
    others: dict[str, list[str]] = {}
    for _, at in there:
        if not _in_field(at, where):
            others.setdefault(at.field, []).append(at.name)
        else:
            own.append(at)
    lines = []
    if own:
        places = first_few(
            dict.fromkeys(f"{at.field}, {at.visit}" for at in own),
            all_by=f"tillercount season show {in_command(store)}",
        )
        refused = sum(at.refused for at in own)
        counted = len(own) - refused
        said = [f"{photos_text(counted)} with a count of this area already"] if counted else []
        if refused:
            said.append(f"{refused if said else photos_text(refused)} refused with it already")
        again = "; --again counts anew" if refused else ""
        lines.append(f"{' and '.join(said)} in {places}: nothing changed there{again}")
    visit = where.visit
    if visit and (astray := [at for at in own if key_of(at.visit) != key_of(visit)]):
        lines.append(f"MIND: {kept.to_other_visit(visit, [at.id for at in astray])}")
    lines += under_other_names(
        [(name, at.name, at.field) for name, at in there if key_of(name) != key_of(at.name)]
    )
    lines += [f"MIND: {left_there(*one, store)}" for one in others.items()]
    return "\n".join(lines)
