"""What ``tillercount nitrogen`` is given, put together: ground, judged field, season."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tillercount.cli.fieldoptions import BoomOptions
    from tillercount.cli.wanted import Wanted
    from tillercount.plan.boundary import Field
    from tillercount.stand import Assessment
    from tillercount.stand.overlap import Overlap
    from tillercount.stand.season import Season

__all__ = ["judged", "on_the_ground", "season_of"]


def on_the_ground(
    ground: BoomOptions, outline: Field | None
) -> tuple[float | None, Overlap | None]:
    """The field's area (m²), and what a boom doses twice; None where neither was asked for."""
    from tillercount.errors import InputError
    from tillercount.stand.overlap import Boom, overlap
    from tillercount.typed import number
    from tillercount.units import length_mm

    if outline is None:
        if ground.boom is not None:
            raise InputError("--boom needs the field's outline; give --boundary F")
        return None, None
    if ground.boom is None:
        return outline.area_m2, None
    machine = Boom(
        length_mm(ground.boom, what="--boom", over_ground=True) / 1000,
        None
        if ground.swath is None
        else length_mm(ground.swath, what="--swath", over_ground=True) / 1000,
        ground.headlands,
        ground.boom_sections,
        None if ground.heading is None else number(ground.heading, what="--heading"),
    )
    return outline.area_m2, overlap(outline.shape, machine, ground=outline.ground)


def judged(
    sources: Sequence[Path],
    area: str | None,
    rules: Any,
    asked: Wanted,
    target: Path | None,
    field: str | None,
    **more: Any,
) -> tuple[Assessment | None, int, list[Path]]:
    """The field under the rules; None where nothing was counted or they judge no density.

    With it how many photos were refused, and the photos that were counted: what is kept of them
    beside the target is the caller's to forget, once that is written. ``more`` goes to ``assess``.
    """
    from tillercount.area import parse_area
    from tillercount.cli.given import count_given, field_name, need_area, sorted_out
    from tillercount.cli.guard import say
    from tillercount.stand import assess

    if not sources:
        return None, 0, []
    photos, files = sorted_out(sources)
    marked = parse_area(area) if area is not None else None
    need_area(photos, marked)
    if not rules.rules:
        say(
            f"rules {rules.name!r} judge no density, so the counts aren't used; to split by "
            "them, give other --rules and this set as --whole-by"
        )
        return None, 0, []
    counts: list[Any] = list(files)
    refused = 0
    if photos and marked is not None:
        counted, _, refused = count_given(photos, marked, None, target)
        counts.insert(0, counted)
    result = assess(
        counts,
        rules,
        yield_goal=asked.goal_bu_ac,
        crop=asked.crop,
        stage=asked.stage,
        places=asked.places,
        outline=asked.outline,
        seen=asked.visited,
        name=field or field_name(sources),
        **more,
    )
    return result, refused, photos


def season_of(weather: Path | None, sown: Any, assessment: Assessment | None) -> Season | None:
    """This spring by a file of days; None without one."""
    from tillercount.definition import Definition
    from tillercount.errors import InputError
    from tillercount.stand.season import look_at_season
    from tillercount.stand.weather import read_weather

    if weather is None:
        if sown is not None:
            raise InputError("--sown needs the days since; give --weather F")
        return None
    each = None
    if assessment is not None:
        counted = assessment.field
        if counted.plants and counted.shoots and counted.definition is Definition.STEMS:
            each = counted.shoots.mean / counted.plants.mean if counted.plants.mean else None
    return look_at_season(read_weather(weather), sown=sown, shoots_per_plant=each)
