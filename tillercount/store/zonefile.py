"""Areas of a field's zones from a file: a plan, or a drawing of the zones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tillercount.errors import InputError

if TYPE_CHECKING:
    from tillercount.field import SpotDensity

__all__ = ["in_planned_zones", "read_zone_areas"]


def in_planned_zones(spots: Sequence[SpotDensity], path: str | Path) -> tuple[SpotDensity, ...]:
    """Spots without a zone in that of the plan's spot of the same number, as in a season.

    Spots that name their zone keep it; a file that is no plan leaves all as they are.

    Raises
    ------
    InputError
        Not readable; a spot called by a date that a spreadsheet may have made of a planned one.
    """
    from tillercount.names import spot_key
    from tillercount.plan.shapes import read_drawing
    from tillercount.spotdates import date_question
    from tillercount.store.planfile import read_plan

    if not any(thing.kind == "corners" for thing in read_drawing(path).things):
        return tuple(spots)
    planned = read_plan(path).spots
    zones = {spot_key(one.name): one.zone for one in planned}
    for spot in spots:
        if asked := date_question(spot.spot, [one.name for one in planned], f"{path} has"):
            raise InputError(f"{asked}; if it is another place, give that another name")
    return tuple(
        spot if spot.zone else replace(spot, zone=zones.get(spot.key, "")) for spot in spots
    )


def read_zone_areas(path: str | Path) -> dict[str, float]:
    """Square metres of each zone, by name.

    A plan's own zones are taken as it states them, the rest of the field among them. In any other
    file (GeoJSON, KML) each named area is a zone; areas of one name add up.

    Raises
    ------
    InputError
        Not readable, no areas, or an area without a name.
    """
    import numpy as np

    from tillercount.plan.boundary import areas_in_m
    from tillercount.plan.ground import Ground
    from tillercount.plan.shapes import read_drawing
    from tillercount.store.planfile import read_plan

    drawing = read_drawing(path)
    if any(thing.kind == "corners" for thing in drawing.things):  # spots: a plan
        stated = {z.name: z.area_m2 for z in read_plan(path).zones if z.area_m2}
        if not stated:
            raise InputError(
                f"{path}: this plan was made without zones; make it with plan --zones, or give a "
                "file with the zones' outlines"
            )
        return stated
    things = [thing for thing in drawing.things if thing.kind == "area"]
    if not things:
        raise InputError(f"{path}: no areas in it; give the outlines of the zones")
    ground = Ground.around(np.concatenate([ring for thing in things for ring in thing.rings]))
    areas: dict[str, float] = {}
    for number, thing in enumerate(things, start=1):
        if not thing.name:
            raise InputError(
                f"{path}: area {number} has no name; name each zone as the spots' file does"
            )
        made = areas_in_m([thing], ground, drawing.source, [])
        areas[thing.name] = areas.get(thing.name, 0.0) + sum(float(part.area) for part in made)
    return areas
