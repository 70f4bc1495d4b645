"""``tillercount report``."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Annotated, Any

import typer

from tillercount.cli.fieldoptions import (
    BoomOptions,
    DayOptions,
    JudgeOptions,
    NeedOptions,
    PageOptions,
    ProductOptions,
    WorkOptions,
)
from tillercount.cli.guard import EXIT_REFUSED, guarded
from tillercount.cli.optiongroups import grouped
from tillercount.cli.reportparts import from_files, from_season, names_before, store_of
from tillercount.cli.weeds import WeedOption, weeds_of

__all__ = ["report"]


@guarded
@grouped
def report(
    sources: Annotated[
        list[str],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, as for assess; or one season (file or URL), with --field.",
        ),
    ],
    page: PageOptions,
    judge: JudgeOptions,
    need: NeedOptions,
    product: ProductOptions,
    boom: BoomOptions,
    days: DayOptions,
    work: WorkOptions,
    farm: Annotated[str | None, typer.Option(metavar="NAME", help="Named on the page.")] = None,
    field: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Which one of the season or the --boundary file."),
    ] = None,
    visit: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Of a season. [default: the last with counts]"),
    ] = None,
    weeds: WeedOption = None,
) -> None:
    """One field as a report to hand over: verdict, evidence, map, nitrogen plan, cautions.

    Give at least one of --html, --pdf and --json.
    """
    from tillercount.area import parse_area
    from tillercount.cli.files import say_written, write_bytes, write_json, write_text
    from tillercount.cli.held import held
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.show import bullet, console
    from tillercount.cli.targets import check_targets
    from tillercount.cli.wanted import in_metric_units, wanted
    from tillercount.errors import InputError
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.plan.mapsheet import PAPERS
    from tillercount.report.fieldmap import map_record
    from tillercount.report.language import load_words, plain
    from tillercount.report.record import SCHEMA, build_record
    from tillercount.report.sheet import make_sheet
    from tillercount.stand import load_rules
    from tillercount.stand.library import DEFAULT_RULES

    rules = judge.rules or DEFAULT_RULES
    targets = {"--html": page.html_file, "--pdf": page.pdf_file, "--json": page.json_file}
    if not any(targets.values()):
        raise InputError("say what to write: --html F, --pdf F or --json F, or several of them")
    in_metric_units(page.units)
    if page.paper.lower() not in PAPERS:
        raise InputError(f"paper {page.paper!r} isn't known; use {' or '.join(PAPERS)}")
    folders = page.photos or []
    ends = (page.words, days.weather, boom.boundary, rules, rules.rpartition("@")[0], need.whole_by)
    check_targets(targets, [*sources, *folders, *ends], own={"--json": SCHEMA})
    # What can be wrong is found before minutes of counting.
    language = load_words(page.words)
    chosen = load_rules(rules)
    marked = parse_area(judge.area) if judge.area is not None else None
    store = store_of(sources)
    place = (farm, field, visit)
    outlined = store is not None and field is not None and boom.boundary is not None
    before = names_before(store, place) if store is not None and outlined else []
    asked = wanted(judge, need, product, boom, days, work, field, sources=sources, before=before)
    drill = drill_typed(judge.row_spacing)
    named = weeds_of(weeds, () if store is not None else [Path(one) for one in sources])
    options: dict[str, Any] = {
        "crop": asked.crop,
        "stage": asked.stage,
        "yield_goal": asked.goal_bu_ac,
        "insist": judge.insist,
        "places": asked.places,
        "outline": asked.outline,
        "seen": asked.visited,
        "by_default": judge.rules is None,
        "weeds": named,
        "row_spacing": drill,
    }
    beside = page.json_file or page.html_file or page.pdf_file
    with held(*targets.values()):
        if store is not None:
            taken = from_season(store, place, rules, options, folders, marked)
        else:
            files = [Path(one) for one in sources]
            taken = from_files(files, marked, chosen, options, folders, beside, field)
        asked = dataclasses.replace(asked, visited=asked.visited or taken.visited)
        made = asked.topdress(chosen, taken.assessment, named)
        record = build_record(
            taken.assessment,
            made,
            farm=farm or taken.farm,
            name=field or taken.field,
            visit=taken.visit,
            since=taken.since,
            visited=asked.visited,
            ground=map_record(taken.assessment, asked.outline, made.overlap),
            photos=[one.record for one in taken.pictures],
            units=page.units,
        )
        sheet = make_sheet(record, language, [one.jpeg for one in taken.pictures])
        if page.html_file is not None:
            from tillercount.report.webpage import report_html

            write_text(page.html_file, report_html(sheet))
        if page.pdf_file is not None:
            from tillercount.report.pdf import report_pdf

            write_bytes(page.pdf_file, report_pdf(sheet, paper=page.paper))
        if page.json_file is not None:
            write_json(page.json_file, record)
        forget_partial(beside, taken.counted)
    typer.echo(plain(sheet.verdict))
    for line in taken.assessment.verdict.warnings:
        bullet(console(), f"{line[0].upper()}{line[1:]}", "!")
    say_written(*targets.values())
    if taken.refused:
        raise typer.Exit(EXIT_REFUSED)
