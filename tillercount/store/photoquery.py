"""The photos of a season with what holds for each: its last count, its correction, its spot."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, ColumnElement, Select, Table, and_, func, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement

from tillercount.field.rowdoubt import seen_rows
from tillercount.field.spots import SeenRows
from tillercount.store.tables import (
    acts,
    corrections,
    photos,
    placements,
    predictions,
    spots,
    zones,
)

__all__ = ["in_entry", "last_of", "latest_of_photos", "photos_of", "rows_in"]


class _Sound(FunctionElement[Any]):
    """An entry as it is kept, or nothing where it isn't JSON: SQLite takes NaN in, and a look into
    such an entry ends in "malformed JSON". Servers never took one.
    """

    type = JSON()
    name = "sound_json"
    inherit_cache = True


@compiles(_Sound)
def _as_it_is(element: _Sound, compiler: Any, **more: Any) -> str:
    return str(compiler.process(element.clauses, **more))


@compiles(_Sound, "sqlite")
def _if_valid(element: _Sound, compiler: Any, **more: Any) -> str:
    entry = compiler.process(element.clauses, **more)
    return f"CASE WHEN json_valid({entry}) THEN {entry} END"


def in_entry(path: tuple[str, ...]) -> Any:
    """What stands at a place in a photo's entry of its counts file, for ``as_float()`` and such."""
    return _Sound(predictions.c.record)[path]


def last_of(table: Table, photo: int, *columns: ColumnElement[Any]) -> Select[Any]:
    """The last row of a photo in a table that has many for it; all its columns unless some are
    named."""
    rows = select(*columns) if columns else select(table)
    return rows.where(table.c.photo_id == photo).order_by(table.c.id.desc()).limit(1)


def latest_of_photos() -> Select[Any]:
    """Each placed photo with its last prediction, the correction that holds, and its spot."""
    # The + 0 keeps a server that has no statistics of the tables yet from looking for the highest
    # number from the end of all numbers, photo by photo: it has an index by photo.
    last = (
        select(func.max(predictions.c.id + 0))
        .where(predictions.c.photo_id == placements.c.photo_id)
        .correlate(placements)
        .scalar_subquery()
    )
    fix = (
        select(func.max(corrections.c.id + 0))
        .where(corrections.c.photo_id == placements.c.photo_id)
        .correlate(placements)
        .scalar_subquery()
    )
    by = acts.alias("corrected")
    return (
        select(
            placements.c.id.label("placement_id"),
            placements.c.visit_id,
            placements.c.how,
            placements.c.distance_m,
            placements.c.note,
            spots.c.id.label("spot_id"),
            spots.c.name.label("spot"),
            zones.c.name.label("zone"),
            photos.c.id.label("photo_id"),
            photos.c.name.label("photo"),
            photos.c.lat,
            photos.c.lon,
            photos.c.taken_at,
            predictions.c.id.label("prediction_id"),
            predictions.c.status,
            predictions.c.reason,
            predictions.c.area,
            predictions.c.area_m2,
            predictions.c.plants,
            predictions.c.shoots,
            predictions.c.plants_per_m2,
            predictions.c.shoots_per_m2,
            predictions.c.plants_se,
            predictions.c.shoots_se,
            predictions.c.plants_bias_rel,
            predictions.c.shoots_bias_rel,
            predictions.c.model_id,
            predictions.c.flags,
            corrections.c.id.label("fix_id"),
            fix.label("last_fix_id"),
            corrections.c.plants.label("fixed_plants"),
            corrections.c.shoots.label("fixed_shoots"),
            by.c.who.label("fixed_by"),
            by.c.at.label("fixed_at"),
        )
        .select_from(placements)
        .join(photos, photos.c.id == placements.c.photo_id)
        .join(predictions, predictions.c.id == last)
        .outerjoin(spots, spots.c.id == placements.c.spot_id)
        .outerjoin(zones, zones.c.id == spots.c.zone_id)
        .outerjoin(
            corrections,
            and_(corrections.c.id == fix, corrections.c.area == predictions.c.area),
        )
        .outerjoin(by, by.c.id == corrections.c.act_id)
        .where(placements.c.ended_id.is_(None))
    )


def photos_of(visit: int) -> Select[Any]:
    """With what each photo's record alone says: of other plants, of rows, of how it looks."""
    query = latest_of_photos().add_columns(
        in_entry(("cover", "other_plants")).as_float().label("other_cover"),
        in_entry(("other_plants", "count")).as_float().label("other_count"),
        in_entry(("rows", "spacing_mm")).label("rows_mm"),
        in_entry(("stick_rows", "spacing_mm")).label("stick_rows_mm"),
        in_entry(("drill_rows",)).label("drill_rows"),
        in_entry(("look",)).as_string().label("look"),
    )
    return query.where(placements.c.visit_id == visit).order_by(placements.c.id)


def rows_in(row: Any) -> SeenRows | None:
    """Rows that a photo shows, from what `photos_of` takes out of its entry."""
    area = row.area or ""
    return seen_rows(
        {
            "status": row.status,
            "area": {"kind": area.partition(":")[0], "text": area},
            "rows": {"spacing_mm": row.rows_mm},
            "stick_rows": {"spacing_mm": row.stick_rows_mm},
            "drill_rows": row.drill_rows,
        }
    )
