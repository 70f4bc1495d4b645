"""``tillercount season assign`` and ``season correct``: what a person sets by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tillercount.cli.guard import guarded
from tillercount.cli.seasonoptions import Farm, Field, Store, Visit, Who
from tillercount.cli.seasonplace import opened, where_given

if TYPE_CHECKING:
    from tillercount.store import Season, Where

__all__ = ["assign", "correct"]


@guarded
def assign(
    store: Store,
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="File name, or start of its hash.")],
    spot: Annotated[str, typer.Argument(metavar="SPOT", help="Name or number; none for no spot.")],
    new_spot: Annotated[bool, typer.Option("--new", help="Make the spot.")] = False,
    move: Annotated[
        bool,
        typer.Option("--move", help="Bring a photo of another visit or field to the one given."),
    ] = False,
    farm: Farm = None,
    field: Field = None,
    visit: Visit = None,
    who: Who = None,
) -> None:
    """Put a photo to another spot, by hand."""
    from tillercount.cli.keeping import placed_line

    with opened(store, who) as kept:
        where = _moved_to(kept, photo, farm, field, visit) if move else None
        where = where or where_given(kept, farm, field, visit)
        to = None if spot == "none" else spot
        done = kept.assign(photo, to, where, new=new_spot, move=move)
        typer.echo(placed_line(done))


def _moved_to(
    kept: Season, photo: str, farm: str | None, field: str | None, visit: str | None
) -> Where | None:
    """Where a photo is to be moved; of a visit that isn't there, how it is made."""
    from tillercount.errors import InputError

    try:
        return where_given(kept, farm, field, visit)
    except InputError as error:
        if visit is None:
            raise
        where_given(kept, farm, field, None)  # says what else is wrong
        raise InputError(
            f"{error}. Photos are moved only to a visit that is there; adding makes a new one: "
            f"{kept.to_other_visit(visit, [photo])}. Nothing was changed"
        ) from None


@guarded
def correct(
    store: Store,
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="File name, or start of its hash.")],
    plants: Annotated[str | None, typer.Option(metavar="N", help="In the marked area.")] = None,
    shoots: Annotated[
        str | None, typer.Option(metavar="N", help="Main stems and tillers in the marked area.")
    ] = None,
    withdraw: Annotated[
        bool, typer.Option("--withdraw", help="Back to what the model counted.")
    ] = False,
    note: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
    farm: Farm = None,
    field: Field = None,
    visit: Visit = None,
    who: Who = None,
) -> None:
    """Set a photo's counts by hand; the model's own are kept beside them."""
    from tillercount.cli.keeping import show_effect
    from tillercount.typed import counted

    apart = "give each its own option, like --plants 12 --shoots 32"
    by_hand = [
        None if text is None else counted(text, what=what, apart=apart)
        for text, what in ((plants, "--plants"), (shoots, "--shoots"))
    ]
    with opened(store, who) as kept:
        where = where_given(kept, farm, field, visit)
        done = kept.correct(photo, *by_hand, where=where, note=note, withdraw=withdraw)
        for line in _holding(done):
            typer.echo(f"{done['photo']}: {line}")
        if done["area"] and not withdraw:
            typer.echo(f"  in {done['area']}, as the photo was given; densities go by that size")
        if done["doubt"]:
            typer.echo(f"MIND: {done['doubt']}")
        show_effect(done)


def _holding(done: Mapping[str, Any]) -> list[str]:
    """Which counts of a photo hold, and what the model said; see `Season.correct`."""
    lines = []
    for what, value in done["holds"].items():
        model = done["predicted"][what]
        if value is None:
            continue
        if done["person"][what] is None:
            by = "as the model"
        elif model is None:
            by = "the model refused it" if done["refused"] else "the model has none"
        else:
            by = f"the model: {model:g}"
        lines.append(f"{what} {value:g} ({by})")
    return lines or ["no count, as the model refused it"]
