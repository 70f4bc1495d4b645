"""``tillercount season rename`` and ``season remove``: putting right what was added by mistake."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tillercount.cli.guard import guarded
from tillercount.cli.seasonoptions import Store, Who
from tillercount.cli.seasonplace import opened, where_given, where_of

if TYPE_CHECKING:
    from tillercount.store import Season, Where

__all__ = ["remove", "rename"]

_MANY_COPIES = 5
"""From one more on it is said how many lie there."""


@guarded
def rename(
    store: Store,
    to: Annotated[str, typer.Option("--to", metavar="NAME", help="The new name.")],
    farm: Annotated[
        str | None, typer.Option(metavar="NAME", help="Alone: the farm gets the new name.")
    ] = None,
    field: Annotated[
        str | None, typer.Option(metavar="NAME", help="Without --visit: the field gets it.")
    ] = None,
    visit: Annotated[
        str | None, typer.Option(metavar="NAME", help="Of the field: the visit gets it.")
    ] = None,
    who: Who = None,
) -> None:
    """Give a farm, a field or a visit another name; all that is in it stays."""
    from tillercount.errors import InputError
    from tillercount.store import Where

    if farm is None and field is None and visit is None:
        raise InputError("say what to rename: --farm NAME, --field NAME or --visit NAME")
    with opened(store, who) as kept:
        if field is None and visit is None:
            what = "farm"
            # any field leads to its farm
            fields = [row["field"] for row in kept.overview() if _same(row["farm"], farm or "")]
            where = where_of(kept, farm, fields[0] if fields else "", None)
        else:
            what = "field" if visit is None else "visit"
            where = where_of(kept, farm, field, visit)
        was = kept.rename(where, to, what)
        now = " ".join(to.split())
        names = {"farm": where.farm, "field": where.field, "visit": where.visit or ""}
        place = Where(**{**names, what: now})
        typer.echo(f"{what} {was!r} is now {now!r}: {place.text if what != 'farm' else now}")


@guarded
def remove(
    store: Store,
    farm: Annotated[str | None, typer.Option(metavar="NAME", help="Whose field it is.")] = None,
    field: Annotated[
        str | None, typer.Option(metavar="NAME", help="Alone: the field with all its visits.")
    ] = None,
    visit: Annotated[
        str | None, typer.Option(metavar="NAME", help="The visit with all that is in it.")
    ] = None,
    hand_count: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SPOT", help="Only the hand count of this spot; give it again for more."
        ),
    ] = None,
    observer: Annotated[
        str | None, typer.Option(metavar="NAME", help="With --hand-count: whose.")
    ] = None,
    photo: Annotated[
        list[str] | None,
        typer.Option(metavar="PHOTO", help="This photo, by name or hash; give it again for more."),
    ] = None,
    add: Annotated[
        list[int] | None,
        typer.Option(
            metavar="N",
            help="All that one `season add` brought, by its number in `season show --log`; what it "
            "took the place of holds again. Give it again for more.",
        ),
    ] = None,
    plan: Annotated[
        bool, typer.Option("--plan", help="Only the plan of the visit; what was counted stays.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Don't ask.")] = False,
    backed_up: Annotated[
        bool, typer.Option("--backed-up", help="A server's backup is made. Files are copied here.")
    ] = False,
    who: Who = None,
) -> None:
    """Take out a field, visit, plan, hand count or photo; the season's file is copied first.

    Photos on the disk are never touched.
    """
    from tillercount.errors import InputError
    from tillercount.names import spot_text, spots_once

    if bool(hand_count) + bool(photo) + bool(add) + plan > 1:
        raise InputError("give --hand-count, --photo, --add or --plan, one at a time")
    if add and (farm or field or visit):
        raise InputError("--add N says by itself what goes; leave out --farm, --field and --visit")
    if not hand_count and not photo and not add and field is None and visit is None and not plan:
        raise InputError(
            "say what to take out: --field NAME, --visit NAME, --plan, --hand-count SPOT, "
            "--photo NAME or --add N"
        )
    if observer is not None and not hand_count:
        raise InputError("--observer goes with --hand-count SPOT")
    with opened(store, who) as kept:
        if photo:
            given = where_given(kept, farm, field, visit)
            which = "the photo" if len(photo) == 1 else "the photos"
            _ask(f"{which} {'; '.join(kept.photos_at(photo, given))}", yes)
            gone_photos, copy = kept.remove_photos(photo, given)
            for name, at in gone_photos:
                typer.echo(f"photo {name} taken out of {at}; add it again to bring it back")
        elif hand_count:
            where = where_of(kept, farm, field, visit)
            which = f"hand count of {', '.join(map(spot_text, spots_once(hand_count)))}"
            there = kept.hand_count_at(where, hand_count, observer)
            _ask(f"the hand count{'s' * (len(there) > 1)} of {'; '.join(there)}", yes)
            at, copy = kept.remove_hand_counts(where, hand_count, observer)
            typer.echo(f"{which} taken out of {at}; add its file again to bring it back")
        elif add:
            _ask("; and ".join(kept.brought(add)), yes)
            done, copy = kept.remove_added(add)
            for text, said in done:
                typer.echo(f"taken out: {text}")
                for line in said:
                    typer.echo(f"  {line}")
            typer.echo("  add the files again to bring it back")
        elif plan:
            where = where_of(kept, farm, field, visit)
            _ask(f"the plan of {where.text}", yes)
            (at, gone), copy = kept.remove_plan(where)
            typer.echo(f"taken out of {at}: {'; '.join(gone)}")
            typer.echo("  add a plan again to bring spots back: tillercount season add")
        else:
            where = where_of(kept, farm, field, visit)
            _ask(_held(kept, where), yes)
            gone, copy = kept.remove(where, backed_up=backed_up)
            typer.echo(f"taken out: {', '.join(gone)} ({where.text})")
        _say_copy(copy, kept.place)


def _same(one: str, other: str) -> bool:
    from tillercount.names import key_of

    return key_of(one) == key_of(other)


def _held(kept: Season, where: Where) -> str:
    """What would go, with how much is in it."""
    held = kept.contents(where)
    parts = [
        f"{number} {what.removesuffix('s') if number == 1 else what}"
        for what, number in held.items()
        if number and not (what == "visits" and where.visit is not None)
    ]
    what = "the field" if where.visit is None else "the visit"
    return f"{what} {where.text} with {', '.join(parts) or 'nothing in it'}"


def _ask(what: str, yes: bool) -> None:
    """Go on only if somebody says so."""
    from tillercount.errors import InputError

    if yes:
        return
    try:
        sure = typer.confirm(f"Take out {what}?", default=False)
    except typer.Abort:
        typer.echo()
        raise InputError(
            "nobody answered, so nothing was taken out; give --yes to do it unasked"
        ) from None
    if not sure:
        raise InputError("nothing was taken out")


def _say_copy(copy: Path | None, store: str) -> None:
    if copy is not None:
        name = Path(store).name
        typer.echo(
            f"the season as it was before: {copy}\n  to go back, while nothing else uses the "
            f"season: delete {name} (and {name}-wal and {name}-shm, if they are there, or what "
            f"they hold comes back) and rename that copy to {name}"
        )
        _say_how_many(copy)


def _say_how_many(copy: Path) -> None:
    """That copies pile up; none is deleted, as each may hold what was taken out by mistake."""
    from tillercount.store.migrate import BEFORE_REMOVE

    what = f".{BEFORE_REMOVE}."
    stem = copy.name[: copy.name.rindex(what)]
    near = [one for one in copy.parent.iterdir() if one.name.startswith(f"{stem}{what}")]
    sizes = [one.stat().st_size for one in near]
    if len(sizes) > _MANY_COPIES:
        size = f"{sum(sizes) / 1e6:.1f} MB in all"
        typer.echo(
            f"  {len(sizes)} such copies lie in {copy.parent.resolve()} now, {size}; delete those "
            f"of {stem}{what}* that you don't need"
        )
