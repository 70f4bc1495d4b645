"""``tillercount report``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Any

import typer

from tillercount.cli.count import AREA_HELP
from tillercount.cli.guard import EXIT_REFUSED, guarded
from tillercount.cli.reportparts import from_files, from_season, store_of

__all__ = ["report"]


@guarded
def report(
    sources: Annotated[
        list[str],
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, as for assess: photos, folders, counts files, CSVs of hand counts. "
            "Or one season (its file or URL), with --field.",
        ),
    ],
    html_file: Annotated[
        Path | None, typer.Option("--html", metavar="F", help="Write the page.")
    ] = None,
    pdf_file: Annotated[
        Path | None, typer.Option("--pdf", metavar="F", help="Write two sheets to print.")
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write the same as plain values.")
    ] = None,
    paper: Annotated[str, typer.Option(metavar="letter|a4", help="Of the PDF.")] = "letter",
    units: Annotated[
        str, typer.Option(metavar="us|metric", help="On page and PDF; the JSON has both.")
    ] = "us",
    words: Annotated[
        Path | None,
        typer.Option(metavar="F", help="Sentences in another language, laid out as en.toml."),
    ] = None,
    photos: Annotated[
        list[Path] | None,
        typer.Option(metavar="DIR", help="Where counted photos lie, to show the best and worst."),
    ] = None,
    farm: Annotated[
        str | None, typer.Option(metavar="NAME", help="For the page; or which farm of the season.")
    ] = None,
    field: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="The field: of the season, and of the --boundary file."),
    ] = None,
    visit: Annotated[
        str | None, typer.Option(metavar="NAME", help="Of a season. [default: the last one]")
    ] = None,
    area: Annotated[
        str | None, typer.Option(metavar="AREA", help=f"For photos only. {AREA_HELP}")
    ] = None,
    rules: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Rule set (see: tillercount rules), or a rule file. [default: common-practice]",
        ),
    ] = None,
    whole_by: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Take the whole from this publisher instead."),
    ] = None,
    case: Annotated[
        str, typer.Option(metavar="CASE", help="The publisher's case, such as tilled or no-till.")
    ] = "",
    yield_goal: Annotated[
        str | None, typer.Option(metavar='"80 bu/ac"', help="Yield to feed for.")
    ] = None,
    crop: Annotated[
        str, typer.Option(metavar="CROP", help="The crop that stands there.")
    ] = "wheat",
    insist: Annotated[
        bool,
        typer.Option("--insist", help="Use rules for a crop they aren't for; says not validated."),
    ] = False,
    stage: Annotated[
        str | None,
        typer.Option(metavar='"Feekes 3"', help="Growth stage, as Feekes or Zadoks (GS25)."),
    ] = None,
    fall_n: Annotated[
        str | None, typer.Option(metavar='"20 lb/ac"', help="Nitrogen put on in fall.")
    ] = None,
    nitrate: Annotated[
        str | None, typer.Option(metavar='"15 lb/ac"', help="Nitrate nitrogen in a soil sample.")
    ] = None,
    manure: Annotated[
        str | None,
        typer.Option(metavar='"30 lb/ac"', help="Nitrogen that manure makes available this year."),
    ] = None,
    organic_matter: Annotated[
        float | None, typer.Option(metavar="PERCENT", help="Organic matter of the soil.")
    ] = None,
    after: Annotated[str, typer.Option(metavar="CROP", help="The crop before.")] = "",
    given: Annotated[
        str | None, typer.Option(metavar='"30 lb/ac"', help="Already on this spring.")
    ] = None,
    tissue: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="Nitrogen in whole plants at Feekes 5."),
    ] = None,
    products: Annotated[
        list[str] | None,
        typer.Option("--product", metavar="NAME", help="urea, uan28/30/32, ams, ats; repeatable."),
    ] = None,
    prices: Annotated[
        list[str] | None,
        typer.Option(
            "--price", metavar="P", help="420/ton, 1.55/gal, 400/t; uan28=... for one of several."
        ),
    ] = None,
    boundary: Annotated[
        str | None,
        typer.Option(
            metavar="F", help="The field's or farm's outline, as for plan; for loads and overlap."
        ),
    ] = None,
    boom: Annotated[
        str | None, typer.Option(metavar='"90 ft"', help="Boom width; overlap needs --boundary.")
    ] = None,
    swath: Annotated[
        str | None, typer.Option(metavar='"88 ft"', help="From pass to pass. [default: the boom]")
    ] = None,
    headlands: Annotated[
        int, typer.Option(metavar="N", help="Rounds along the edge before the straight passes.")
    ] = 1,
    boom_sections: Annotated[
        int, typer.Option(metavar="N", help="Parts of the boom that switch by themselves.")
    ] = 1,
    heading: Annotated[
        float | None,
        typer.Option(metavar="DEG", help="Of the passes, from north. [default: the long side]"),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(metavar="F", help="CSV of days: date,tmax_f,tmin_f (or _c); past years too."),
    ] = None,
    sown: Annotated[
        str | None, typer.Option(metavar="2025-10-05", help="Date of sowing, with --weather.")
    ] = None,
    visited: Annotated[
        str | None, typer.Option(metavar="2026-03-05", help="Day the field was seen.")
    ] = None,
    nozzle: Annotated[
        str | None, typer.Option(metavar="stream|flat-fan", help="On the boom.")
    ] = None,
    air: Annotated[
        str | None, typer.Option(metavar='"55 F"', help="Air temperature at work.")
    ] = None,
    wet: Annotated[
        bool | None, typer.Option("--wet/--dry", help="Dew or white frost on the leaves, or none.")
    ] = None,
    windy: Annotated[bool | None, typer.Option("--windy/--calm", help="Wind at work.")] = None,
    herbicide: Annotated[
        bool | None, typer.Option("--herbicide/--no-herbicide", help="One in the tank.")
    ] = None,
    ground: Annotated[
        str | None, typer.Option(metavar="fit|frozen|snow|saturated", help="State of the ground.")
    ] = None,
) -> None:
    """One field as a report to hand over: verdict, evidence, map, nitrogen plan, what could change.

    Give at least one of --html, --pdf and --json.
    """
    from tillercount.area import parse_area
    from tillercount.cli.files import write_bytes, write_json, write_text
    from tillercount.cli.given import place_of
    from tillercount.cli.held import held
    from tillercount.cli.nitrogenparts import on_the_ground, season_of
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.targets import check_targets
    from tillercount.errors import InputError
    from tillercount.plan import read_field
    from tillercount.plan.mapsheet import PAPERS
    from tillercount.report.fieldmap import map_record
    from tillercount.report.language import load_words, plain
    from tillercount.report.record import SCHEMA, build_record
    from tillercount.report.sheet import make_sheet
    from tillercount.stand import load_rules, parse_stage
    from tillercount.stand.already import AlreadyThere
    from tillercount.stand.inputs import air_f, conditions, date_of, dear, which_product
    from tillercount.stand.library import DEFAULT_RULES
    from tillercount.stand.products import rate_lb_ac
    from tillercount.stand.topdress import topdress
    from tillercount.units import bu_per_ac

    by_default, rules = rules is None, rules or DEFAULT_RULES
    targets = {"--html": html_file, "--pdf": pdf_file, "--json": json_file}
    if not any(targets.values()):
        raise InputError("say what to write: --html F, --pdf F or --json F, or several of them")
    if units not in ("us", "metric"):
        raise InputError(f"units {units!r} aren't known; use us or metric")
    if paper.lower() not in PAPERS:
        raise InputError(f"paper {paper!r} isn't known; use {' or '.join(PAPERS)}")
    ends = (words, weather, boundary, rules, rules.rpartition("@")[0], whole_by)
    check_targets(targets, [*sources, *(photos or ()), *ends], own={"--json": SCHEMA})
    # What can be wrong is found before minutes of counting.
    language = load_words(words)
    chosen = load_rules(rules)
    marked = parse_area(area) if area is not None else None
    at = parse_stage(stage) if stage is not None else None
    goal = bu_per_ac(yield_goal, crop=crop) if yield_goal is not None else None
    wanted = [which_product(one) for one in products or ()]
    costs = dear(prices or (), wanted)
    at_work = conditions(nozzle, None if air is None else air_f(air), wet, windy, herbicide, ground)
    seen = None if visited is None else date_of(visited)
    already = AlreadyThere(
        None if fall_n is None else rate_lb_ac(fall_n, what="--fall-n"),
        None if nitrate is None else rate_lb_ac(nitrate, what="--nitrate"),
        None if manure is None else rate_lb_ac(manure, what="--manure"),
        organic_matter_percent=organic_matter,
        previous_crop=after,
    )
    area_m2, found = on_the_ground(boundary, field, boom, swath, headlands, boom_sections, heading)
    outline = read_field(boundary, field) if boundary is not None else None
    store = store_of(sources)
    options: dict[str, Any] = {"crop": crop, "stage": at, "yield_goal": goal, "insist": insist}
    options |= {"places": place_of(boundary, field), "seen": seen, "by_default": by_default}
    beside = json_file or html_file or pdf_file
    with held(*targets.values()):
        if store is not None:
            taken = from_season(store, (farm, field, visit), rules, options, photos or (), marked)
        else:
            files = [Path(one) for one in sources]
            taken = from_files(files, marked, chosen, options, photos or (), beside)
        assessment, pictures, refused, name, farm_name, counted = taken
        made = topdress(
            chosen,
            assessment=assessment,
            whole_by=whole_by,
            goal_bu_ac=goal,
            crop=crop,
            stage=at,
            case=case,
            there=already,
            given_lb_ac=rate_lb_ac(given) if given is not None else 0.0,
            tissue_percent=tissue,
            products=wanted,
            prices=costs,
            area_m2=area_m2,
            overlap=found,
            conditions=at_work,
            season=season_of(weather, None if sown is None else date_of(sown), assessment),
            visited=seen,
            today=dt.date.today(),
            name=assessment.name,
        )
        record = build_record(
            assessment,
            made,
            farm=farm or farm_name,
            name=field or name,
            visited=seen,
            ground=map_record(assessment, outline, found),
            photos=[one.record for one in pictures],
            units=units,
        )
        sheet = make_sheet(record, language, [one.jpeg for one in pictures])
        if html_file is not None:
            from tillercount.report.webpage import report_html

            write_text(html_file, report_html(sheet))
        if pdf_file is not None:
            from tillercount.report.pdf import report_pdf

            write_bytes(pdf_file, report_pdf(sheet, paper=paper))
        if json_file is not None:
            write_json(json_file, record)
        forget_partial(beside, counted)
    typer.echo(plain(sheet.verdict))
    for path in targets.values():
        if path is not None:
            typer.echo(f"written: {path}")
    if refused:
        raise typer.Exit(EXIT_REFUSED)
