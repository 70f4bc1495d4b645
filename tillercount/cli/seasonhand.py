"""``tillercount season assign`` and ``season correct``: what a person sets by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

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
    from tillercount.store.tally import to_other_visit

    try:
        return where_given(kept, farm, field, visit)
    except InputError as error:
        if visit is None:
            raise
        where_given(kept, farm, field, None)  # says what else is wrong
        act = kept.brought_by(photo)
        raise InputError(
            f"{error}. Photos are moved only to a visit that is there; adding makes a new one: "
            f"{to_other_visit(visit, {act}, kept.place)}. Nothing was changed"
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
        for what, value in done["holds"].items():
            was = done["predicted"][what]
            shown, model = ("-" if v is None else f"{v:g}" for v in (value, was))
            by = "as the model" if done["person"][what] is None else f"the model: {model}"
            typer.echo(f"{done['photo']}: {what} {shown} ({by})")
        if done["area"] and not withdraw:
            typer.echo(f"  in {done['area']}, as the photo was given; densities go by that size")
        show_effect(done)
