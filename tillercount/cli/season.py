"""``tillercount season``: keep what was counted, photo by photo, person by person."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.count import AREA_HELP
from tillercount.cli.fieldoptions import GivenOption, RowSpacingOption, UnitsOption
from tillercount.cli.guard import EXIT_REFUSED, guarded
from tillercount.cli.seasonedit import remove, rename
from tillercount.cli.seasonhand import assign, correct
from tillercount.cli.seasonoptions import EveryVisit, Farm, Field, Store, Visit, Who
from tillercount.cli.seasonplace import opened, where_given, where_of
from tillercount.cli.weeds import WeedOption, weeds_of

__all__ = ["season"]

_HELP = (
    "Keep a season: plans, photo counts, hand counts, corrections, assessments, who and when. "
    "A photo belongs to the planned spot nearest to its position; one without a position to the "
    "spot that its file is named after (spot_07.jpg, 7.jpg), else to that of a photo taken within "
    "two minutes of it."
)

season = typer.Typer(
    rich_markup_mode=None, pretty_exceptions_enable=False, no_args_is_help=True, help=_HELP
)

_COLUMN = "predicted_plants"
"""A column that this program's exports have, and others' tables and maps have not."""

@season.command("new")
@guarded
def new(store: Store, who: Who = None) -> None:
    """Make a new season."""
    from tillercount.names import in_command
    from tillercount.store import Season

    with Season.create(store, who=who) as made:
        typer.echo(
            f"{made.place} made; next, with your own folder, size and names: tillercount season "
            f'add {in_command(made.place)} FOLDER --area square:12in --farm "MY FARM" '
            '--field "NORTH FIELD"'
        )


@season.command("add")
@guarded
def add(
    store: Store,
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field: a plan (GeoJSON), counts files of count --json, CSV files of hand "
            "counts, photos or folders of them. What is known already isn't added twice; counts "
            "that others of the same photos took the place of hold again.",
        ),
    ],
    farm: Farm = None,
    field: Field = None,
    visit: Visit = None,
    area: Annotated[
        str | None, typer.Option(metavar="AREA", help=f"For photos only. {AREA_HELP}")
    ] = None,
    row_spacing: RowSpacingOption = None,
    within: Annotated[
        str, typer.Option(metavar='"100 ft"', help="A photo farther from every spot isn't placed.")
    ] = "100 ft",
    again: Annotated[
        bool, typer.Option("--again", help="Count photos that have a count of this area anew.")
    ] = False,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Hand counts that differ, and photo counts with another --area, take the place of "
            "the earlier ones, which are kept.",
        ),
    ] = False,
    date: Annotated[
        str | None,
        typer.Option(
            metavar="2026-03-04",
            help="Day of the visit, also like \"4 March\". [default: by the photos' clocks, else "
            "from the visit's name where that is a day, else today]",
        ),
    ] = None,
    new: Annotated[
        bool,
        typer.Option("--new", help="The name is new, though one that is there looks much like it."),
    ] = False,
    who: Who = None,
) -> None:
    """Add a plan, counts, hand counts or photos of one field.

    A farm, field or visit of a new name is made, and said so.
    """
    from tillercount.area import parse_area
    from tillercount.cli.daysgiven import clocks_of, days_taken
    from tillercount.cli.keeping import show_added, show_way_back
    from tillercount.cli.seasonadd import add_photos, sorted_out
    from tillercount.days import has_year
    from tillercount.errors import InputError
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.photo import glance
    from tillercount.store import Added
    from tillercount.store.dating import day_given
    from tillercount.units import length_mm

    drill = drill_typed(row_spacing)
    within_m = length_mm(within, what="--within", over_ground=True) / 1000
    plans, counts, hands, photos = sorted_out(sources)
    if photos and area is None:
        raise InputError(f"{photos[0]} is a photo, so --area is needed, like --area square:12in")
    marked = parse_area(area) if area is not None else None
    refused, told, done = 0, set[str](), list[Added]()
    # each is read once: its day, and the bytes by which it is known
    seen = {photo: glance(photo) for photo in photos}
    near = list[dt.date]()
    if date is not None and not has_year(date):
        near = [*days_taken(counts), *(one.day for one in seen.values() if one.day)]
    day = day_given(date, planned=bool(plans) and not (counts or hands or photos), near=near)
    with opened(store, who) as kept:
        where = kept.where(farm, field, visit, adding=True, new=new)
        clocks = clocks_of(counts, seen) if visit is None and day is None else {}
        kept.check_clocks(where, clocks, alone=bool(plans))

        def show(added: Added, source: Path) -> None:
            show_added(added, source, kept.place, told)
            done.append(added)

        for plan in plans:
            show(kept.add_plan(plan, where, day=day), plan)
        if plans:
            kept.check_clocks(where, clocks)
        if drill is not None and not photos:
            typer.echo(
                f"--row-spacing {drill} isn't used: it goes with photos that are counted now; give "
                "it to count where a counts file is made, or to season assess"
            )
        for file in counts:
            added = kept.add_counts(file, where, within_m=within_m, day=day, replace_sizes=replace)
            show(added, file)
        if photos and marked is not None:
            refused, counted = add_photos(
                kept, seen, marked, where, within_m, again, day, told, replace, drill
            )
            done += [] if counted is None else [counted]
        for file in hands:
            show(kept.add_hand_counts(file, where, replace=replace, day=day), file)
        show_way_back(done, kept.place)
    if refused:
        raise typer.Exit(EXIT_REFUSED)


@season.command("show")
@guarded
def show(
    store: Store,
    farm: Farm = None,
    field: Field = None,
    visit: Visit = None,
    photos: Annotated[
        bool, typer.Option("--photos", help="Every photo with its spot and the distance to it.")
    ] = False,
    log: Annotated[bool, typer.Option("--log", help="Who did what and when, by number.")] = False,
    units: UnitsOption = "us",
) -> None:
    """All visits of the season; with --field, what one of them says."""
    from tillercount.cli.keeping import show_overview, show_placed, show_summary
    from tillercount.cli.seasonvisits import show_changes
    from tillercount.cli.wanted import in_metric_units

    metric = in_metric_units(units)
    with opened(store) as kept:
        if log:
            for act in kept.journal():
                said = " ".join(filter(None, (act["verb"], act["source"], act["detail"])))
                typer.echo(f"{act['id']:>4}  {act['at']}  {act['who']}: {said}")
            return
        rows = kept.overview()
        if field is None and farm is None and len(rows) != 1:
            show_overview(rows)
            return
        where = where_of(kept, farm, field, visit)
        past = kept.history(where)
        summary = kept.summary(where)
        show_summary(summary, past, kept.place, name_unplaced=not photos, metric=metric)
        show_changes(past, metric=metric)
        if photos:
            show_placed(kept.placed(where))


@season.command("assess")
@guarded
def assess(
    store: Store,
    farm: Farm = None,
    field: Field = None,
    visit: Visit = None,
    rules: Annotated[
        str | None, typer.Option(metavar="NAME", help="[default: common-practice]")
    ] = None,
    crop: Annotated[str, typer.Option(metavar="CROP")] = "wheat",
    stage: Annotated[str | None, typer.Option(metavar='"Feekes 3"')] = None,
    yield_goal: Annotated[str | None, typer.Option(metavar='"80 bu/ac"')] = None,
    row_spacing: RowSpacingOption = None,
    given: GivenOption = None,
    weeds: WeedOption = None,
    units: UnitsOption = "us",
    explain: Annotated[
        bool, typer.Option("--explain", help="Show every step, with its source.")
    ] = False,
    who: Who = None,
) -> None:
    """Judge one field as ``tillercount assess`` does, and keep the result."""
    from tillercount.cli.seasonvisits import left_line, show_changes, visit_line
    from tillercount.cli.verdict import show_assessment
    from tillercount.cli.wanted import in_metric_units, rate_typed
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.stand.library import DEFAULT_RULES
    from tillercount.units import bu_per_ac

    metric = in_metric_units(units)
    drill = drill_typed(row_spacing)
    named = weeds_of(weeds)
    goal = None if yield_goal is None else bu_per_ac(yield_goal, crop=crop)
    given_lb_ac = rate_typed(given, "--given") or 0.0
    with opened(store, who) as kept:
        where = where_of(kept, farm, field, visit)
        result = kept.assess(
            where,
            rules or DEFAULT_RULES,
            crop=crop,
            stage=stage,
            yield_goal=goal,
            given_lb_ac=given_lb_ac,
            by_default=rules is None,
            weeds=named,
            row_spacing=drill,
        )
        if unfinished := left_line(kept.summary(where)):
            typer.echo(f"{unfinished}\n")
        show_assessment(result, explain=explain, metric=metric)
        past = kept.history(where)
        typer.echo(f"\nOf {where.farm}, {where.field}, {visit_line(past, kept.place)}")
        show_changes(past, metric=metric)


@season.command("export")
@guarded
def export(
    store: Store,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="Ending in .csv, .geojson, .gpkg or .parquet.")
    ],
    farm: Farm = None,
    field: Field = None,
    visit: EveryVisit = None,
) -> None:
    """Write every count to a file, or those of one field or visit; one row per count."""
    from tillercount.cli.targets import check_targets

    check_targets({"FILE": file}, [store], own={"FILE": _COLUMN})
    with opened(store) as kept:
        where = where_given(kept, farm, field, visit)
        number = kept.export(file, where)
        typer.echo(f"{number} count{'s' * (number != 1)} written to {file}")


@season.command("check")
@guarded
def check(
    store: Store,
    photos: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Compare the photos with their hashes, from here."),
    ] = None,
    backed_up: Annotated[
        bool, typer.Option("--backed-up", help="A server's backup is made: bring it up to date.")
    ] = False,
) -> None:
    """Whether the season is whole; a season of an older program is brought up to date."""
    with opened(store, None, backed_up) as kept:
        found = kept.check(photos_in=photos)
        for one in found:
            typer.echo(f"{one.level:4s}  {one.text}")
    if any(one.level == "bad" for one in found):
        raise typer.Exit(EXIT_REFUSED)


season.command("assign")(assign)
season.command("correct")(correct)
season.command("rename")(rename)
season.command("remove")(remove)
