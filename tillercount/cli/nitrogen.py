"""``tillercount nitrogen``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tillercount.cli.fieldoptions import (
    BoomOptions,
    DayOptions,
    JudgeOptions,
    KernelOptions,
    NeedOptions,
    ProductOptions,
    UnitsOption,
    WorkOptions,
)
from tillercount.cli.guard import EXIT_REFUSED, guarded
from tillercount.cli.optiongroups import grouped
from tillercount.cli.weeds import WeedOption, weeds_of

__all__ = ["nitrogen"]


@guarded
@grouped
def nitrogen(
    judge: JudgeOptions,
    need: NeedOptions,
    product: ProductOptions,
    boom: BoomOptions,
    days: DayOptions,
    work: WorkOptions,
    own: KernelOptions,
    sources: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="SOURCE",
            help="Of one field, as for assess; without any only the whole is told.",
        ),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="F", help="Write everything, map included.")
    ] = None,
    field: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Which one of the --boundary file, or of a sheet of hand counts."
        ),
    ] = None,
    weeds: WeedOption = None,
    units: UnitsOption = "us",
    explain: Annotated[
        bool, typer.Option("--explain", help="Show every section in full, with its sources.")
    ] = False,
) -> None:
    """Spring nitrogen for one field: pounds, dates, product, overlap, cautions."""
    from tillercount.cli.files import say_written, write_json
    from tillercount.cli.held import held
    from tillercount.cli.nitrogenparts import judged
    from tillercount.cli.nitrogenscreen import show_nitrogen
    from tillercount.cli.partial import forget_partial
    from tillercount.cli.targets import check_targets
    from tillercount.cli.wanted import in_metric_units, wanted
    from tillercount.field.rowdoubt import drill_typed
    from tillercount.stand import load_rules
    from tillercount.stand.dressing import SCHEMA, headline, record, with_nitrogen
    from tillercount.stand.library import DEFAULT_RULES
    from tillercount.stand.warn import rule_warnings

    rules = judge.rules or DEFAULT_RULES
    chosen = load_rules(rules)
    ends = (rules, rules.rpartition("@")[0], need.whole_by)
    read = [*(sources or ()), days.weather, boom.boundary, *ends]
    check_targets({"--json": json_file}, read, own={"--json": SCHEMA})
    asked = wanted(judge, need, product, boom, days, work, field, own, sources or ())
    drill = drill_typed(judge.row_spacing)
    named = weeds_of(weeds, sources or ())
    metric = in_metric_units(units)
    with held(json_file):
        assessment, refused, counted = judged(
            sources or (),
            judge.area,
            chosen,
            asked,
            json_file,
            field,
            insist=judge.insist,
            by_default=judge.rules is None,
            weeds=named,
            row_spacing=drill,
        )
        made = asked.topdress(chosen, assessment, named)
        if json_file is not None:
            write_json(json_file, record(made))
        forget_partial(json_file, counted)
    if assessment is not None:
        first = assessment.verdict.warnings
    else:
        first = tuple(rule_warnings(chosen, asked.places, stage=asked.stage, seen=asked.visited))
    verdict = "" if assessment is None else with_nitrogen(assessment, made).verdict.headline
    if made.nothing:  # that stands in its own line
        verdict = verdict.removesuffix(headline(made)).strip()
    show_nitrogen(
        made, explain=explain, first=first, verdict=verdict, assessment=assessment, metric=metric
    )
    say_written(json_file)
    if refused:
        raise typer.Exit(EXIT_REFUSED)
