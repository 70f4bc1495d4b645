"""``tillercount rules``: list, show, check, compare."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from tillercount.cli.guard import EXIT_REFUSED, guarded

__all__ = ["rules"]

WIDE = 110
"""Columns of a terminal from which the list of rule sets can be read as a table."""

rules = typer.Typer(
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Rule sets: list them, show one, check a file of your own, compare all that fit a field.",
)


@rules.callback(invoke_without_command=True)
def _rules(context: typer.Context) -> None:
    """Rule sets: list them, show one, check a file of your own, compare all that fit a field."""
    if context.invoked_subcommand is None:
        list_()


@rules.command("list")
@guarded
def list_() -> None:
    """The rule sets that come with the program."""
    from rich import box
    from rich.table import Table

    from tillercount.cli.show import bullet, console
    from tillercount.stand import list_rules
    from tillercount.stand.convert import counts_by

    out = console()
    wide = out.width >= WIDE
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("name", no_wrap=True)
    for column in ("publisher", "region", "crops", "judges", "counts by"):
        table.add_column(column, overflow="fold")
    for one in list_rules():
        judged = ", ".join(rule.measures for rule in one.rules) or "nitrogen by yield goal"
        by, crops = "; ".join(counts_by(one)), ", ".join(one.crops)
        table.add_row(one.name, one.publisher, one.region, crops, judged, by or "–")
        if not wide:
            # the name on a line of its own, the rest below it
            out.print(one.name, style="bold")
            counted = f" (counts by {by})" if by else ""
            bullet(out, f"{one.publisher}; {one.region}; {crops}; {judged}{counted}", " ")
    if wide:
        out.print(table)
    out.print(
        "Counts by: photo, or by hand as well; hand, where photos can't be used, since they count "
        "every shoot and these rules only those with three leaves or more.",
        soft_wrap=True,
    )


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


@rules.command("compare")
@guarded
def compare(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field: counts files, CSV files of hand counts, photos or folders of them.",
        ),
    ],
    area: Annotated[
        str | None,
        typer.Option(metavar="AREA", help="What lay on the ground, such as square:12in."),
    ] = None,
    crop: Annotated[
        str, typer.Option(metavar="CROP", help="The crop that stands there.")
    ] = "wheat",
    region: Annotated[
        str, typer.Option(metavar="R", help="Only sets that hold there, such as Virginia or VA.")
    ] = "",
    stage: Annotated[
        str | None, typer.Option(metavar='"Feekes 3"', help="Only sets made for this stage.")
    ] = None,
    own: Annotated[
        list[str] | None,
        typer.Option("--rules", metavar="FILE", help="A rule file of your own too; repeatable."),
    ] = None,
    row_spacing: Annotated[
        str | None, typer.Option(metavar="7.5in", help="For sets that are per foot of row.")
    ] = None,
    normal_stand: Annotated[
        str | None,
        typer.Option(metavar="25/ft2", help="For sets in percent of a normal stand."),
    ] = None,
    insist: Annotated[
        bool, typer.Option("--insist", help="Sets for other crops too; they say: not validated.")
    ] = False,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write the comparison.")
    ] = None,
    png_file: Annotated[
        Path | None, typer.Option("--png", metavar="F", help="Draw the comparison.")
    ] = None,
) -> None:
    """One field under every rule set that fits it, side by side; never averaged."""
    from tillercount.area import parse_area
    from tillercount.cli.comparisonscreen import show_comparison
    from tillercount.cli.files import write_bytes, write_json
    from tillercount.cli.given import need_area, sorted_out
    from tillercount.cli.held import held
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.targets import check_targets
    from tillercount.stand.compare import compare as compare_field
    from tillercount.stand.comparison import SCHEMA
    from tillercount.stand.library import load_rules
    from tillercount.stand.local import Local
    from tillercount.stand.picture import comparison_png
    from tillercount.units import density_per_m2, length_mm

    photos, files = sorted_out(sources)
    marked = parse_area(area) if area is not None else None
    need_area(photos, marked)
    local = Local(
        length_mm(row_spacing, what="row spacing") if row_spacing else None,
        density_per_m2(normal_stand, what="normal stand") if normal_stand else None,
    )
    check_targets(
        {"--json": json_file, "--png": png_file},
        [*sources, *photos, *(own or ()), *(each.rpartition("@")[0] for each in own or ())],
        own={"--json": SCHEMA},
    )
    sets = [load_rules(each) for each in own or ()]
    with held(json_file, png_file):
        counts: list[Any] = list(files)
        refused = 0
        if photos and marked is not None:
            from tillercount.cli.counting import count_photos, counts_file

            run = count_photos(photos, marked, keep_beside=json_file)
            refused = run.refused
            counts.insert(0, counts_file(run))
        only = sources[0] if len(sources) == 1 else None
        result = compare_field(
            counts,
            crop=crop,
            region=region,
            stage=stage,
            rules=sets,
            insist=insist,
            local=local,
            area=marked,
            name="" if only is None else only.resolve().stem,
        )
        picture = comparison_png(result) if png_file is not None else None
        if json_file is not None:
            write_json(json_file, result.to_json())
        if png_file is not None and picture is not None:
            write_bytes(png_file, picture)
        forget_partial(json_file, photos)
    show_comparison(result, sources, area)
    if refused:
        raise typer.Exit(EXIT_REFUSED)


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
