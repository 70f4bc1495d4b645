"""Every count of a season as a plain row, for other programs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, select

from tillercount.store.dates import visit_dates
from tillercount.store.photoquery import in_entry, latest_of_photos
from tillercount.store.read import is_fixed
from tillercount.store.tables import (
    acts,
    farms,
    fields,
    hand_counts,
    models,
    photos,
    predictions,
    spots,
    visits,
    zones,
)
from tillercount.units import M2_PER_FT2

__all__ = ["COLUMNS", "count_rows"]

COLUMNS: Mapping[str, type] = {
    "farm": str,
    "field": str,
    "visit": str,
    "zone": str,
    "spot": str,
    "source": str,
    "plants": float,
    "shoots": float,
    "plants_per_ft2": float,
    "shoots_per_ft2": float,
    "area": str,
    "area_m2": float,
    "definition": str,
    "status": str,
    "reason": str,
    "predicted_plants": float,
    "predicted_shoots": float,
    "corrected_by": str,
    "corrected_at": str,
    "observer": str,
    "photo": str,
    "sha256": str,
    "model": str,
    "taken_at": str,
    "placed": str,
    "distance_m": float,
    "added_by": str,
    "added_at": str,
    "lat": float,
    "lon": float,
    "note": str,
    "visit_date": str,  # the first day; see `tillercount.store.dates`
    "visit_date_by": str,  # typed, photos, name, or added: the day it was put in
    "plants_by": str,  # hand or photo
    "shoots_by": str,
}
"""Columns in order, with their kind."""

_BATCH = 1000


def count_rows(connection: Connection, visit: int | None = None) -> Iterator[dict[str, Any]]:
    """Every count, photos and then hand counts, as plain rows with `COLUMNS`.

    ``plants`` and ``shoots`` are what holds: a person's correction before the prediction.
    """
    last = latest_of_photos().subquery()
    dates = visit_dates(connection)
    where = (
        select(
            visits.c.id,
            visits.c.name.label("visit"),
            fields.c.name.label("field"),
            farms.c.name.label("farm"),
        )
        .select_from(visits)
        .join(fields, fields.c.id == visits.c.field_id)
        .join(farms, farms.c.id == fields.c.farm_id)
        .subquery()
    )
    one = (
        select(
            last,
            where.c.farm,
            where.c.field,
            where.c.visit,
            where.c.id.label("visit_number"),
            photos.c.sha256,
            photos.c.taken_at,
            predictions.c.area,
            in_entry(("area", "typed")).as_string().label("typed"),
            models.c.name.label("model"),
            spots.c.lat.label("spot_lat"),
            spots.c.lon.label("spot_lon"),
            acts.c.who,
            acts.c.at,
        )
        .select_from(last)
        .join(where, where.c.id == last.c.visit_id)
        .join(photos, photos.c.id == last.c.photo_id)
        .join(predictions, predictions.c.id == last.c.prediction_id)
        .join(models, models.c.id == predictions.c.model_id)
        .join(acts, acts.c.id == predictions.c.act_id)
        .outerjoin(spots, spots.c.id == last.c.spot_id)
        .order_by(last.c.placement_id)
    )
    two = (
        select(
            hand_counts,
            where.c.farm,
            where.c.field,
            where.c.visit,
            where.c.id.label("visit_number"),
            spots.c.name.label("spot"),
            zones.c.name.label("zone"),
            spots.c.lat.label("spot_lat"),
            spots.c.lon.label("spot_lon"),
            acts.c.who,
            acts.c.at,
        )
        .select_from(hand_counts)
        .join(spots, spots.c.id == hand_counts.c.spot_id)
        .join(where, where.c.id == spots.c.visit_id)
        .join(acts, acts.c.id == hand_counts.c.act_id)
        .outerjoin(zones, zones.c.id == spots.c.zone_id)
        .where(hand_counts.c.ended_id.is_(None))
        .order_by(hand_counts.c.id)
    )
    if visit is not None:
        one, two = one.where(last.c.visit_id == visit), two.where(spots.c.visit_id == visit)
    for query, made in ((one, _photo_row), (two, _hand_row)):
        found = connection.execute(query, execution_options={"yield_per": _BATCH})
        for row in found:
            values = made(row)
            date = dates[row.visit_number]
            values |= {"visit_date": date.first, "visit_date_by": date.how}
            yield {name: values.get(name) for name in COLUMNS}


def _photo_row(row: Any) -> dict[str, Any]:
    fixed = is_fixed(row)
    plants = row.plants if row.fixed_plants is None else row.fixed_plants
    shoots = row.shoots if row.fixed_shoots is None else row.fixed_shoots
    known = row._mapping
    same = ("farm", "field", "visit", "zone", "spot", "photo", "sha256", "model")
    return {
        **{name: known[name] for name in same},
        **_densities(plants, shoots, row.area_m2),
        **_place(row),
        **_ways(row.fixed_plants, row.fixed_shoots, plants, shoots),
        "source": "photo",
        "area": row.typed or row.area,
        "definition": "stems",
        # what was refused and counted by hand counts; why it was refused stays beside it
        "status": "counted" if fixed else row.status,
        "reason": row.reason,
        "predicted_plants": row.plants,
        "predicted_shoots": row.shoots,
        "corrected_by": row.fixed_by if fixed else None,
        "corrected_at": row.fixed_at if fixed else None,
        "taken_at": row.taken_at,
        "placed": row.how,
        "distance_m": row.distance_m,
        "note": row.note or None,
    }


def _hand_row(row: Any) -> dict[str, Any]:
    known = row._mapping
    return {
        **{name: known[name] for name in ("farm", "field", "visit", "zone", "spot", "area")},
        **_densities(row.plants, row.shoots, row.area_m2),
        **_place(row),
        **_ways(row.plants, row.shoots, row.plants, row.shoots),
        "source": "hand",
        "definition": row.definition,
        "status": "counted",
        "observer": row.observer,
        "note": row.note or None,
    }


def _ways(
    plants_by_hand: float | None,
    shoots_by_hand: float | None,
    plants: float | None,
    shoots: float | None,
) -> dict[str, str | None]:
    """How each count came about, of those that there are."""
    counts = {"plants": (plants_by_hand, plants), "shoots": (shoots_by_hand, shoots)}
    return {
        f"{what}_by": None if holds is None else "photo" if by_hand is None else "hand"
        for what, (by_hand, holds) in counts.items()
    }


def _densities(
    plants: float | None, shoots: float | None, area_m2: float | None
) -> dict[str, float | None]:
    ft2 = None if area_m2 is None else area_m2 / M2_PER_FT2
    return {
        "plants": plants,
        "shoots": shoots,
        "area_m2": area_m2,
        "plants_per_ft2": None if plants is None or not ft2 else round(plants / ft2, 3),
        "shoots_per_ft2": None if shoots is None or not ft2 else round(shoots / ft2, 3),
    }


def _place(row: Any) -> dict[str, Any]:
    """Its own position, else the spot's."""
    own = row.lat is not None and row.lon is not None
    lat, lon = (row.lat, row.lon) if own else (row.spot_lat, row.spot_lon)
    return {"lat": lat, "lon": lon, "added_by": row.who, "added_at": row.at}
