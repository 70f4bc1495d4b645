"""Invented fields for the report's tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from tillercount.field import SpotDensity
from tillercount.plan import read_field
from tillercount.report.fieldmap import map_record
from tillercount.report.record import build_record
from tillercount.stand import Assessment, assess, load_rules, parse_stage
from tillercount.stand.overlap import Boom, overlap
from tillercount.stand.products import parse_price, product
from tillercount.stand.topdress import Topdress, topdress
from tillercount.units import per_m2

SQUARE = "39.100,-97.200 39.100,-97.195 39.097,-97.195 39.097,-97.200"
THIN, PUSH = (12, 14, 11, 13, 12, 15), (22, 23, 21, 24, 22, 23)
TARGET = (31, 30, 32, 31, 29, 31)
CLOSE = (27, 22, 31, 26, 29, 25)


def spots(plants: Sequence[float], *, placed: bool = True) -> list[SpotDensity]:
    """One spot for each number of plants per square foot; every third by photo."""
    return [
        SpotDensity(
            str(i),
            "photo" if i % 3 == 2 else "hand",
            per_m2(p),
            per_m2(3 * p),
            photo=f"IMG_{i}.jpg" if i % 3 == 2 else "",
            lat=39.0975 + 0.0004 * i if placed else None,
            lon=-97.1990 + 0.0006 * i if placed else None,
        )
        for i, p in enumerate(plants)
    ]


def field(
    plants: Sequence[float], rules: str = "common-practice", placed: bool = True,
    stage: str = "Feekes 3",
) -> Assessment:  # fmt: skip
    """An invented field held against rules."""
    return assess(
        spots(plants, placed=placed),
        rules,
        crop="wheat",
        stage=stage,
        yield_goal=80.0,
        name="Far field",
        model={"name": "cereal", "sha256": "ab" * 32},
    )


def topdressed(
    plants: Sequence[float], rules: str = "common-practice", placed: bool = True,
    stage: str = "Feekes 3",
) -> Topdress:  # fmt: skip
    """Its nitrogen for 80 bu/ac, with UAN 28."""
    outline = read_field(SQUARE)
    uan = product("uan28")
    return topdress(
        load_rules(rules),
        assessment=field(plants, rules, placed, stage),
        goal_bu_ac=80.0,
        stage=parse_stage(stage),
        products=[uan],
        prices={uan.key: parse_price("320/ton")},
        area_m2=outline.area_m2,
        overlap=overlap(outline.shape, Boom(27.432), ground=outline.ground),
        visited=dt.date(2027, 3, 6),
    )


def record(
    plants: Sequence[float] = PUSH, *, rules: str = "common-practice", units: str = "us",
    placed: bool = True, stage: str = "Feekes 3",
) -> dict[str, Any]:  # fmt: skip
    """The record of an invented field with everything in it."""
    a, made = field(plants, rules, placed, stage), topdressed(plants, rules, placed, stage)
    outline = read_field(SQUARE)
    return build_record(
        a,
        made,
        farm="Elm Hill",
        visited=dt.date(2027, 3, 6),
        made=dt.date(2027, 3, 7),
        ground=map_record(a, outline, made.overlap) if placed else map_record(a),
        units=units,
    )
