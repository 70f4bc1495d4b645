"""Options that the commands of ``tillercount season`` share."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["EveryVisit", "Farm", "Field", "Store", "Visit", "Who"]

Store = Annotated[
    str,
    typer.Argument(
        metavar="SEASON",
        help="The season's file, or the URL of a server: postgresql://user@host/db.",
    ),
]
Farm = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="[default: the only farm, or the only one with this field]"),
]
Field = Annotated[
    str | None, typer.Option(metavar="NAME", help="[default: the only field of the farm]")
]
Visit = Annotated[
    str | None,
    typer.Option(
        metavar="NAME",
        help="[default: to add, the field's last visit; else the last that has counts]",
    ),
]
EveryVisit = Annotated[
    str | None, typer.Option("--visit", metavar="NAME", help="[default: all visits of the field]")
]
Who = Annotated[
    str | None, typer.Option(metavar="NAME", help="Who does it. [default: this computer's user]")
]
