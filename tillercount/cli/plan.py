"""``tillercount plan``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tillercount.cli.guard import guarded

if TYPE_CHECKING:
    from tillercount.plan import Need, VisitPlan

__all__ = ["plan"]


@guarded
def plan(
    boundary: Annotated[
        str,
        typer.Argument(
            metavar="BOUNDARY",
            help="The field's outline: a GeoJSON, KML, GPX or CSV file, or corners in walking "
            "order, latitude first: '39.10,-97.20 39.10,-97.19 39.09,-97.19' (-33.8 or 33.8S for "
            "south).",
        ),
    ],
    spots: Annotated[
        int | None,
        typer.Option(metavar="N", help="How many spots; or let --expect-cv work it out."),
    ] = None,
    hand: Annotated[
        int | None,
        typer.Option(
            metavar="K",
            help="How many of them to count by hand too, drawn at random. "
            "[default: a quarter, at least 4]",
        ),
    ] = None,
    design: Annotated[
        str | None,
        typer.Option(
            metavar="random|stratified|systematic|w-walk",
            help="How spots are drawn; w-walk is convenience sampling. [default: stratified, by "
            "zones or by blocks of equal area]",
        ),
    ] = None,
    keep_off: Annotated[
        str,
        typer.Option(metavar='"30 ft"', help="From the edge (headlands) and areas left out."),
    ] = "30 ft",
    zones: Annotated[
        Path | None, typer.Option(metavar="F", help="Zones of the field, named areas.")
    ] = None,
    exclude: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="F", help="Areas to leave out and lines (wheel tracks) to keep off; repeatable."
        ),
    ] = None,
    keep_off_lines: Annotated[
        str, typer.Option(metavar='"4 ft"', help="From such lines.")
    ] = "4 ft",
    start: Annotated[
        str | None,
        typer.Option(metavar="LAT,LON", help="Where the walk begins and ends, the gate say."),
    ] = None,
    field: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Which field, if the file holds several; its name, where it has none there.",
        ),
    ] = None,
    expect_cv: Annotated[
        str | None,
        typer.Option(
            metavar="CV",
            help="Expected spread between spots, 45% say, or by zone: 'hill=65%,flat=35%'.",
        ),
    ] = None,
    precision: Annotated[
        str | None,
        typer.Option(metavar="E", help="Wanted: the mean within ±20%, say (90 % interval)."),
    ] = None,
    limit: Annotated[
        str | None,
        typer.Option(metavar='"15/ft2"', help="Wanted: to tell the mean from this limit ..."),
    ] = None,
    expect_mean: Annotated[
        str | None, typer.Option(metavar='"21/ft2"', help="... if it is about this.")
    ] = None,
    seed: Annotated[
        int | None,
        typer.Option(
            metavar="S", help="The same seed gives the same plan. [default: drawn, shown]"
        ),
    ] = None,
    geojson: Annotated[
        Path | None, typer.Option(metavar="F", help="Write spots, walk and field as GeoJSON.")
    ] = None,
    gpx: Annotated[
        Path | None, typer.Option(metavar="F", help="Write spots and walk for a phone.")
    ] = None,
    map_file: Annotated[
        Path | None, typer.Option("--map", metavar="F", help="Write the page, .png or .pdf.")
    ] = None,
    hand_sheet: Annotated[
        Path | None,
        typer.Option(
            metavar="F",
            help="Write a blank sheet for hand counts, a CSV: fill in area, plants and shoots, and "
            "give it to assess or season add as it is.",
        ),
    ] = None,
    area: Annotated[
        str | None,
        typer.Option(
            metavar="AREA",
            help="What will be marked, square:12in say, for each row of --hand-sheet.",
        ),
    ] = None,
    decimal_commas: Annotated[
        bool,
        typer.Option(
            "--decimal-commas",
            help="In --hand-sheet: semicolons between cells, for spreadsheets with decimal commas.",
        ),
    ] = False,
    paper: Annotated[
        str | None,
        typer.Option(metavar="letter|a4", help="[default: letter; a4 with --metric]"),
    ] = None,
    metric: Annotated[bool, typer.Option("--metric", help="Metric beside US units.")] = False,
) -> None:
    """Plan a visit to a field: where to sample, which spots by hand too, in which order."""
    from tillercount.area import parse_counted_area
    from tillercount.cli.files import say_written, write_bytes, write_json, write_text
    from tillercount.cli.given import read_outline
    from tillercount.cli.targets import check_targets
    from tillercount.errors import InputError
    from tillercount.plan import plan_visit, to_geojson, to_gpx, to_hand_sheet
    from tillercount.plan.corners import read_position
    from tillercount.plan.export import SCHEMA
    from tillercount.plan.handsheet import check_hand_sheet, own_beginning
    from tillercount.plan.mapsheet import check_sheet, sheet_bytes
    from tillercount.plan.words import distance_m

    paper = paper or ("a4" if metric else "letter")
    if hand_sheet is None and (area is not None or decimal_commas):
        which = "--decimal-commas" if area is None else "--area"
        raise InputError(f"{which} is for the blank sheet; write one with --hand-sheet F")
    if area is not None:
        area = area.strip()
        parse_counted_area(area)
    if map_file is not None:
        check_sheet(map_file, paper)
    check_targets(
        {"--geojson": geojson, "--gpx": gpx, "--map": map_file, "--hand-sheet": hand_sheet},
        [boundary, zones, *(exclude or ())],
        own={
            "--geojson": SCHEMA,
            "--hand-sheet": "" if hand_sheet is None else own_beginning(hand_sheet),
        },
    )
    if hand_sheet is not None:
        check_hand_sheet(hand_sheet, area or "")
    outline = read_outline(boundary, field)
    made = plan_visit(
        outline,
        spots,
        hand=hand,
        design=design,
        keep_off_m=distance_m(keep_off, what="--keep-off"),
        keep_off_lines_m=distance_m(keep_off_lines, what="--keep-off-lines"),
        zones=zones,
        exclude=exclude or (),
        start=None if start is None else read_position(start, what="--start"),
        need=_need(expect_cv, precision, limit, expect_mean),
        rng=seed,
    )
    if geojson is not None:
        write_json(geojson, to_geojson(made))
    if gpx is not None:
        write_text(gpx, to_gpx(made))
    if map_file is not None:
        write_bytes(map_file, sheet_bytes(made, map_file, paper=paper, metric=metric))
    if hand_sheet is not None:
        # with a byte-order mark, without which spreadsheets misread names that aren't ASCII
        sheet = to_hand_sheet(made, area=area or "", decimal_commas=decimal_commas)
        write_bytes(hand_sheet, sheet.encode("utf-8-sig"))
    _show(made, metric)
    if hand_sheet is not None:
        _show_how_to_fill_in(sized=area is not None)
    say_written(geojson, gpx, map_file, hand_sheet)


def _need(
    cv: str | None, precision: str | None, limit: str | None, expect_mean: str | None
) -> Need:
    from tillercount.plan import Need
    from tillercount.plan.howmany import read_cv, read_share
    from tillercount.units import density_per_m2

    return Need(
        cv=None if cv is None else read_cv(cv),
        precision=None if precision is None else read_share(precision, what="--precision"),
        limit=None if limit is None else density_per_m2(limit, what="--limit"),
        mean=None if expect_mean is None else density_per_m2(expect_mean, what="--expect-mean"),
    )


def _show(made: VisitPlan, metric: bool) -> None:
    from rich import box
    from rich.table import Table

    from tillercount.cli.show import console
    from tillercount.plan import DESIGNS
    from tillercount.plan.degrees import place_words
    from tillercount.plan.words import acres, feet, spots_text

    out = console()
    out.print(
        f"{made.field.name}: {spots_text(len(made.spots))}, {len(made.by_hand)} of them by hand "
        f"too, on {acres(made.field.area_m2, metric=metric)}; "
        f"{feet(made.walk_m, metric=metric)} on foot.",
        style="bold",
        soft_wrap=True,
    )
    here = place_words(made.field.ground.lon, made.field.ground.lat)
    out.print(f"The field lies at {here}.", soft_wrap=True)
    out.print(
        f"Drawn {DESIGNS[made.design]}, seed {made.seed}, at least "
        f"{feet(made.room.keep_off_m, metric=metric)} from the edge.",
        soft_wrap=True,
    )
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("spot", justify="right")
    table.add_column("lat", justify="right", no_wrap=True)
    table.add_column("lon", justify="right", no_wrap=True)
    table.add_column("by hand too")
    if made.zones:
        table.add_column("zone", overflow="fold")
    table.add_column("stands for", justify="right", no_wrap=True)
    for spot in made.spots:
        cells = [str(spot.number), f"{spot.lat:.6f}", f"{spot.lon:.6f}"]
        cells.append("by hand" if spot.by_hand else "")
        cells += [spot.zone] if made.zones else []
        table.add_row(*cells, acres(spot.stands_for_m2, metric=metric))
    out.print(table)
    if made.why:
        out.print(made.why, soft_wrap=True)
    for note in made.notes:
        if note == made.field.doubt:
            continue  # said first
        out.print(f"Mind: {note}", soft_wrap=True)


def _show_how_to_fill_in(*, sized: bool) -> None:
    from tillercount.cli.show import console

    what = "plants and shoots" if sized else "area (like square:12in), plants and shoots"
    console().print(
        f"On the sheet for hand counts write {what} beside each spot counted, and 0 where nothing "
        "grows. assess and season add read it as it is; rows left blank are passed over, and those "
        "planned by hand named.",
        soft_wrap=True,
    )
