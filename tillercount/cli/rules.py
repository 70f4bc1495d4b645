"""``tillercount rules``: list, show, check."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.guard import guarded

__all__ = ["rules"]

rules = typer.Typer(
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Rule sets: list them, show one, check a file of your own.",
)


@rules.callback(invoke_without_command=True)
def _rules(context: typer.Context) -> None:
    """Rule sets: list them, show one, check a file of your own."""
    if context.invoked_subcommand is None:
        list_()


@rules.command("list")
@guarded
def list_() -> None:
    """The rule sets that come with the program."""
    from rich import box
    from rich.table import Table

    from tillercount.cli.show import console
    from tillercount.stand import list_rules

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for column in ("name", "publisher", "region", "crops", "judges"):
        table.add_column(column, overflow="fold")
    for one in list_rules():
        judged = ", ".join(rule.measures for rule in one.rules)
        table.add_row(one.name, one.publisher, one.region, ", ".join(one.crops), judged)
    console().print(table)


@rules.command("show")
@guarded
def show(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Of a rule set, or a rule file.")],
) -> None:
    """One rule set: what it counts, its thresholds, its sources, its cautions."""
    from tillercount.stand import load_rules

    _print(load_rules(name))


@rules.command("check")
@guarded
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A rule file of your own (TOML).")],
) -> None:
    """Check a rule file of your own and show what the program reads in it."""
    from tillercount.stand import check_rules

    found = check_rules(file)
    _print(found)
    typer.echo(f"{file} can be used: --rules {file}")


def _print(found: object) -> None:
    from rich.table import Table

    from tillercount.cli.show import console
    from tillercount.stand import describe

    table = Table(box=None, show_header=False, pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    before = ""
    for label, text in describe(found):  # type: ignore[arg-type]
        table.add_row(label if label != before else "", text)
        before = label
    console().print(table)
