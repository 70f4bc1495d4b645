"""``tillercount assess``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from tillercount.cli.fieldoptions import GivenOption, JudgeOptions, UnitsOption
from tillercount.cli.given import count_given, field_name, need_area, sorted_out
from tillercount.cli.guard import EXIT_REFUSED, guarded, say
from tillercount.cli.optiongroups import grouped
from tillercount.cli.weeds import WeedOption, weeds_of

__all__ = ["assess"]


@guarded
@grouped
def assess(
    judge: JudgeOptions,
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, mixed as you like: photos, folders of them, counts files made by "
            "count --json, CSVs of hand counts.",
        ),
    ],
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write the assessment.")
    ] = None,
    html_file: Annotated[
        Path | None, typer.Option("--html", metavar="F", help="Write the page to hand over.")
    ] = None,
    field: Annotated[
        str | None, typer.Option(
            metavar="NAME",
            help="Name of the field, for the page's title; of a sheet of hand counts whose column "
            "field names several its rows alone are read.",
        ),
    ] = None,
    zones: Annotated[
        Path | None,
        typer.Option(
            metavar="F",
            help="Weigh zones by their area: the plan's GeoJSON, or a file of the zones' outlines. "
            "Spots name their zone in the CSV's column zone, or have the number of a plan's spot.",
        ),
    ] = None,
    given: GivenOption = None,
    weeds: WeedOption = None,
    units: UnitsOption = "us",
    explain: Annotated[
        bool,
        typer.Option("--explain", help="Show every step, with its source."),
    ] = False,
) -> None:
    """Judge the stand of one field from photos, counts and hand counts.

    CSV columns: spot,observer,plants,shoots,area (plants or shoots may be missing) and, where
    wanted, row_length,row_spacing,definition,zone,lat,lon,note,field. The area is written like
    square:12in or 1 ft2, never as a bare number.
    """
    import contextlib
    import tempfile
    from dataclasses import replace

    from tillercount.area import parse_area
    from tillercount.cli.files import say_written, write_json, write_text
    from tillercount.cli.held import held
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.targets import check_targets
    from tillercount.cli.verdict import show_assessment
    from tillercount.cli.wanted import in_metric_units, rate_typed
    from tillercount.field import collect
    from tillercount.field.apart import several_fields
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.stand import assess as assess_field
    from tillercount.stand import load_rules
    from tillercount.stand.assessment import SCHEMA
    from tillercount.stand.given import with_given
    from tillercount.stand.library import DEFAULT_RULES
    from tillercount.store.zonefile import in_planned_zones, read_zone_areas
    from tillercount.units import bu_per_ac

    rules = judge.rules or DEFAULT_RULES
    photos, files = sorted_out(sources)
    marked = parse_area(judge.area) if judge.area is not None else None
    need_area(photos, marked)
    # What can be wrong without counting is found before minutes of it.
    check_targets(
        {"--json": json_file, "--html": html_file},
        [*sources, *photos, zones, rules, rules.rpartition("@")[0]],
        own={"--json": SCHEMA},
    )
    load_rules(rules)
    drill = drill_typed(judge.row_spacing)
    named = weeds_of(weeds, sources)
    goal = None if judge.yield_goal is None else bu_per_ac(judge.yield_goal, crop=judge.crop)
    given_lb_ac = rate_typed(given, "--given") or 0.0
    metric = in_metric_units(units)
    zone_areas = None if zones is None else read_zone_areas(zones)
    with contextlib.ExitStack() as stack:
        stack.enter_context(held(json_file, html_file))
        pictures = None
        if html_file is not None and photos:
            pictures = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        counts: list[Any] = list(files)
        overlays: list[tuple[Path, str]] = []
        refused = 0
        if photos and marked is not None:
            target = json_file or html_file
            counted, overlays, refused = count_given(photos, marked, pictures, target)
            counts.insert(0, counted)
        name = field if field is not None else field_name(sources)
        collected = collect(counts, field=name)
        if zones is not None:
            collected = replace(collected, spots=in_planned_zones(collected.spots, zones))
        result = assess_field(
            collected,
            rules,
            yield_goal=goal,
            crop=judge.crop,
            stage=judge.stage,
            name=name,
            insist=judge.insist,
            zone_areas=zone_areas,
            by_default=judge.rules is None,
            weeds=named,
            row_spacing=drill,
        )
        result = with_given(result, given_lb_ac, goal)
        if json_file is not None:
            write_json(json_file, result.to_json())
        if html_file is not None:
            from tillercount.report.page import named_field, page_html

            if not named_field(result):
                say(f"{html_file} doesn't say which field it is of: give --field NAME")
            write_text(html_file, page_html(result, overlays=overlays))
        forget_partial(json_file or html_file, photos)
    for note in collected.notes:
        say(note)
    for caution in several_fields(result.field.listed):
        say(f"caution: {caution}")
    show_assessment(result, explain=explain, metric=metric)
    say_written(json_file, html_file)
    if refused:
        raise typer.Exit(EXIT_REFUSED)
