"""What is asked of a field's nitrogen: read and checked before any counting, put together after."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tillercount.cli.fieldoptions import (
        BoomOptions,
        DayOptions,
        JudgeOptions,
        KernelOptions,
        NeedOptions,
        ProductOptions,
        WorkOptions,
    )
    from tillercount.plan.boundary import Field
    from tillercount.stand import Assessment, RuleSet
    from tillercount.stand.already import AlreadyThere
    from tillercount.stand.otherplants import Weeds
    from tillercount.stand.overlap import Overlap
    from tillercount.stand.potential import Kernels
    from tillercount.stand.products import Price, Product
    from tillercount.stand.spreading import Conditions
    from tillercount.stand.stage import Stage
    from tillercount.stand.topdress import Topdress

__all__ = ["Wanted", "in_metric_units", "rate_typed", "wanted"]


@dataclass(frozen=True)
class Wanted:
    """Everything that was typed, in its own units; areas in m²."""

    crop: str
    stage: Stage | None
    goal_bu_ac: float | None
    whole_by: str | None
    case: str
    there: AlreadyThere
    given_lb_ac: float
    tissue_percent: float | None
    products: tuple[Product, ...]
    prices: dict[str, Price]
    conditions: Conditions
    area_m2: float | None
    overlap: Overlap | None
    places: list[tuple[float, float]]
    """The middle of the field's outline, (lat, lon)."""
    outline: Field | None
    visited: dt.date | None
    weather: Path | None
    sown: dt.date | None
    kernels: Kernels

    def topdress(self, rules: RuleSet, assessment: Assessment | None, named: Weeds) -> Topdress:
        """The field's nitrogen; ``named`` are the weeds that were typed."""
        from tillercount.cli.nitrogenparts import season_of
        from tillercount.stand.otherplants import weeds_in
        from tillercount.stand.topdress import topdress

        return topdress(
            rules,
            assessment=assessment,
            whole_by=self.whole_by,
            goal_bu_ac=self.goal_bu_ac,
            crop=self.crop,
            stage=self.stage,
            case=self.case,
            there=self.there,
            given_lb_ac=self.given_lb_ac,
            tissue_percent=self.tissue_percent,
            products=self.products,
            prices=self.prices,
            area_m2=self.area_m2,
            overlap=self.overlap,
            conditions=self.conditions,
            season=season_of(self.weather, self.sown, assessment),
            weeds=weeds_in(named, None) if assessment is None else assessment.weeds,
            kernels=self.kernels,
            visited=self.visited,
            today=dt.date.today(),
            name=assessment.name if assessment is not None else "",
        )


def in_metric_units(units: str) -> bool:
    """Whether metric units are asked for.

    Raises
    ------
    InputError
        Neither us nor metric.
    """
    from tillercount.errors import InputError

    if units not in ("us", "metric"):
        raise InputError(f"units {units!r} aren't known; use us or metric")
    return units == "metric"


def rate_typed(text: str | None, what: str) -> float | None:
    """Pounds of nitrogen per acre as typed; of a rate without an area, how it is taken is said.

    Raises
    ------
    InputError
        No rate, or no unit.
    """
    from tillercount.cli.guard import say
    from tillercount.stand.rates import names_no_area, rate_lb_ac

    if text is None:
        return None
    value = rate_lb_ac(text, what=what)
    if value and names_no_area(text):
        taken = f"{what} {text!r} is taken for {value:g} lb N/ac"
        say(f"{taken}; if it was a total, divide it by the acres first")
    return value


def wanted(
    judge: JudgeOptions,
    need: NeedOptions,
    product: ProductOptions,
    ground: BoomOptions,
    days: DayOptions,
    work: WorkOptions,
    field: str | None,
    own: KernelOptions | None = None,
    sources: Sequence[str | Path] = (),
    before: Sequence[str] = (),
) -> Wanted:
    """Read what was typed; ``sources`` are looked into where a day has no year, and ``before`` is
    what the field was called, which a file with its outline may call it still.

    Raises
    ------
    InputError
        Anything that can't be used, before minutes of counting.
    """
    from tillercount.cli.daysgiven import day_of, days_taken
    from tillercount.cli.given import middle_of, read_outline
    from tillercount.cli.nitrogenparts import on_the_ground
    from tillercount.days import has_year
    from tillercount.stand import parse_stage
    from tillercount.stand.already import AlreadyThere
    from tillercount.stand.inputs import air_f, conditions, dear, which_product
    from tillercount.stand.potential import Kernels, parse_kernels
    from tillercount.typed import number
    from tillercount.units import bu_per_ac

    products = [which_product(one) for one in product.products or ()]
    outline = None if ground.boundary is None else read_outline(ground.boundary, field, before)
    area_m2, overlap = on_the_ground(ground, outline)
    today, visited, sown = dt.date.today(), None, None
    if days.visited is not None:
        taken = days_taken(sources) if not has_year(days.visited) else []
        visited = day_of(days.visited, "--visited", today, taken)
    if days.sown is not None:
        sown = day_of(days.sown, "--sown", visited or today)
    soil, tissue = need.organic_matter, need.tissue
    goal, kernels, weight = judge.yield_goal, own and own.kernels, own and own.kernel_mg
    return Wanted(
        crop=judge.crop,
        stage=None if judge.stage is None else parse_stage(judge.stage),
        goal_bu_ac=None if goal is None else bu_per_ac(goal, crop=judge.crop),
        whole_by=need.whole_by,
        case=need.case,
        there=AlreadyThere(
            rate_typed(need.fall_n, "--fall-n"),
            rate_typed(need.nitrate, "--nitrate"),
            rate_typed(need.manure, "--manure"),
            organic_matter_percent=None if soil is None else number(soil, what="--organic-matter"),
            previous_crop=need.after,
        ),
        given_lb_ac=rate_typed(need.given, "--given") or 0.0,
        tissue_percent=None if tissue is None else number(tissue, what="--tissue"),
        products=tuple(products),
        prices=dear(product.prices or (), products),
        conditions=conditions(
            work.nozzle,
            None if work.air is None else air_f(work.air),
            work.wet,
            work.windy,
            work.herbicide,
            work.ground,
        ),
        area_m2=area_m2,
        overlap=overlap,
        places=[] if outline is None else [middle_of(outline)],
        outline=outline,
        visited=visited,
        weather=days.weather,
        sown=sown,
        kernels=Kernels(
            parse_kernels(kernels, what="--kernels") if kernels else None,
            parse_kernels(weight, what="--kernel-mg") if weight else None,
        ),
    )
