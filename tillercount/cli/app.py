"""The commands put together."""

from __future__ import annotations

from typing import Annotated

import typer

from tillercount.cli.assess import assess
from tillercount.cli.corners import CornersCommand
from tillercount.cli.count import count
from tillercount.cli.doctor import doctor
from tillercount.cli.hiding import HidingGroup
from tillercount.cli.nitrogen import nitrogen
from tillercount.cli.optiongroups import GroupedCommand
from tillercount.cli.plan import plan
from tillercount.cli.report import report
from tillercount.cli.rules import rules
from tillercount.cli.season import season

__all__ = ["app"]

app = typer.Typer(
    cls=HidingGroup,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    # Plain help: drawn boxes would cost a third of the time that --help may take.
    rich_markup_mode=None,
    help="Count plants and shoots in overhead photos of a small-grain stand, and judge the stand.",
    epilog=(
        "Exit codes: 0 all went well, 1 some photos were refused (the rest is counted and "
        "written), 2 a usage error, 3 an error inside the program."
    ),
)
app.command(cls=CornersCommand)(plan)
app.command()(count)
app.command(cls=GroupedCommand)(assess)
app.command(cls=GroupedCommand)(nitrogen)
app.command(cls=GroupedCommand)(report)
app.add_typer(rules, name="rules")
app.add_typer(season, name="season")
app.command()(doctor)


def _print_version(wanted: bool) -> None:
    if wanted:
        import tillercount

        typer.echo(f"tillercount {tillercount.__version__}")
        raise typer.Exit


@app.callback()
def _top(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print the version."
        ),
    ] = False,
) -> None:
    """Count plants and shoots in overhead photos of a small-grain stand, and judge the stand."""
