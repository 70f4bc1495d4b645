"""``tillercount nitrogen``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.count import AREA_HELP
from tillercount.cli.guard import EXIT_REFUSED, guarded

__all__ = ["nitrogen"]


@guarded
def nitrogen(
    sources: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, as for assess: photos, folders, counts files, CSVs of hand "
            "counts. Without any: the whole only, not split by the stand.",
        ),
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
        typer.Option(metavar="F", help="Outline of field or farm, as for plan; loads, overlap."),
    ] = None,
    field: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which field, if the file holds several.")
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
    kernels: Annotated[
        str | None, typer.Option(metavar="30-35", help="Kernels per head that you expect.")
    ] = None,
    kernel_mg: Annotated[
        str | None, typer.Option(metavar="28-35", help="Kernel weight, mg (g per 1,000).")
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
    weeds: Annotated[
        list[str] | None,
        typer.Option("--weed", metavar='"henbit=40/m2"', help="A weed you know; repeatable."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write everything, map included.")
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show every section in full, with its sources.")
    ] = False,
) -> None:
    """Spring nitrogen for one field: pounds, dates, product, overlap, cautions."""
    from tillercount.cli.files import write_json
    from tillercount.cli.given import place_of
    from tillercount.cli.held import held
    from tillercount.cli.nitrogenparts import judged, on_the_ground, season_of
    from tillercount.cli.nitrogenscreen import show_nitrogen
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.targets import check_targets
    from tillercount.stand import load_rules, parse_stage
    from tillercount.stand.already import AlreadyThere
    from tillercount.stand.dressing import SCHEMA, record
    from tillercount.stand.inputs import air_f, conditions, date_of, dear, weed_of, which_product
    from tillercount.stand.library import DEFAULT_RULES
    from tillercount.stand.potential import Kernels, parse_kernels
    from tillercount.stand.products import rate_lb_ac
    from tillercount.stand.topdress import topdress
    from tillercount.stand.warn import rule_warnings
    from tillercount.units import bu_per_ac

    by_default, rules = rules is None, rules or DEFAULT_RULES
    chosen = load_rules(rules)
    at = parse_stage(stage) if stage is not None else None
    goal = bu_per_ac(yield_goal, crop=crop) if yield_goal is not None else None
    wanted = [which_product(one) for one in products or ()]
    costs = dear(prices or (), wanted)
    at_work = conditions(nozzle, None if air is None else air_f(air), wet, windy, herbicide, ground)
    own = Kernels(
        parse_kernels(kernels, what="--kernels") if kernels else None,
        parse_kernels(kernel_mg, what="--kernel-mg") if kernel_mg else None,
    )
    seen = [weed_of(one) for one in weeds or ()]
    already = AlreadyThere(
        None if fall_n is None else rate_lb_ac(fall_n, what="--fall-n"),
        None if nitrate is None else rate_lb_ac(nitrate, what="--nitrate"),
        None if manure is None else rate_lb_ac(manure, what="--manure"),
        organic_matter_percent=organic_matter,
        previous_crop=after,
    )
    ends = (rules, rules.rpartition("@")[0], whole_by)
    read = [*(sources or ()), weather, boundary, *ends]
    check_targets({"--json": json_file}, read, own={"--json": SCHEMA})
    area_m2, found = on_the_ground(boundary, field, boom, swath, headlands, boom_sections, heading)
    at_place, seen_on = place_of(boundary, field), date_of(visited) if visited else None
    about = {"places": at_place, "seen": seen_on, "by_default": by_default}
    with held(json_file):
        assessment, refused, counted = judged(
            sources or (), area, chosen, goal, crop, at, insist, json_file, **about
        )
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
            weeds=seen,
            kernels=own,
            visited=None if visited is None else date_of(visited),
            today=dt.date.today(),
            name=assessment.name if assessment is not None else "",
        )
        if json_file is not None:
            write_json(json_file, record(made))
        forget_partial(json_file, counted)
    if assessment is not None:
        first = assessment.verdict.warnings
    else:
        first = tuple(rule_warnings(chosen, at_place, stage=at, seen=seen_on))
    show_nitrogen(made, explain=explain, first=first)
    if refused:
        raise typer.Exit(EXIT_REFUSED)
