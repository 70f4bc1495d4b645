"""Lists of what a season holds: photos with their spots, visits, the journal, the model."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, distinct, false, func, or_, select

from tillercount.store.added import Placed
from tillercount.store.dates import VisitDate, in_order, visit_dates
from tillercount.store.inuse import in_use
from tillercount.store.photoquery import latest_of_photos
from tillercount.store.tables import (
    acts,
    farms,
    fields,
    hand_counts,
    models,
    photos,
    placements,
    predictions,
    spots,
    visits,
)
from tillercount.store.visits import Where, visit_of

__all__ = ["journal", "last_model", "overview", "placed_photos"]


def last_model(connection: Connection, visit: int) -> dict[str, Any]:
    """What is known of the model that counted the visit's photos last; empty without photos."""
    query = (
        select(models.c.record)
        .join_from(models, predictions, predictions.c.model_id == models.c.id)
        .join(placements, placements.c.photo_id == predictions.c.photo_id)
        .where(placements.c.visit_id == visit, placements.c.ended_id.is_(None))
        .order_by(predictions.c.id.desc())
    )
    return dict(connection.scalar(query.limit(1)) or {})


def placed_photos(connection: Connection, where: Where) -> list[Placed]:
    """Every photo of a visit with its spot and how it came there."""
    visit, _ = visit_of(connection, where)
    query = (
        select(
            photos.c.name.label("photo"),
            spots.c.name.label("spot"),
            placements.c.how,
            placements.c.distance_m,
            placements.c.note,
            photos.c.lat,
        )
        .select_from(placements)
        .join(photos, photos.c.id == placements.c.photo_id)
        .outerjoin(spots, spots.c.id == placements.c.spot_id)
        .where(placements.c.visit_id == visit, placements.c.ended_id.is_(None))
        .order_by(spots.c.number, spots.c.id, placements.c.id)
    )
    return [
        Placed(
            row.photo, row.spot or "", row.how, row.distance_m, row.note,
            located=row.lat is not None,
        )
        for row in connection.execute(query)
    ]  # fmt: skip


def overview(connection: Connection) -> list[dict[str, Any]]:
    """One row per visit: farm, field, visit, date, and how many spots, photos, hand counts; spots
    ``counted`` and photos ``refused`` (those with no count, nor a person's) are some of them."""
    at = placements.c.ended_id.is_(None)
    by_visit = (
        select(
            placements.c.visit_id,
            func.count().label("photos"),
            (func.count() - func.count(placements.c.spot_id)).label("unplaced"),
        )
        .where(at)
        .group_by(placements.c.visit_id)
        .subquery()
    )
    spots_in = (
        select(spots.c.visit_id, func.count().label("spots"))
        .where(in_use())
        .group_by(spots.c.visit_id)
        .subquery()
    )
    hands = (
        select(spots.c.visit_id, func.count(distinct(hand_counts.c.id)).label("hand_counts"))
        .join_from(hand_counts, spots)
        .where(hand_counts.c.ended_id.is_(None))
        .group_by(spots.c.visit_id)
        .subquery()
    )
    of_photos = latest_of_photos().subquery()
    has_count = or_(
        of_photos.c.status == "counted",
        of_photos.c.fixed_plants.is_not(None),
        of_photos.c.fixed_shoots.is_not(None),
    )
    by_photo = select(of_photos.c.visit_id, of_photos.c.spot_id).where(
        has_count, of_photos.c.spot_id.is_not(None)
    )
    by_hand = (
        select(spots.c.visit_id, spots.c.id)
        .join_from(hand_counts, spots)
        .where(hand_counts.c.ended_id.is_(None))
    )
    either = by_photo.union(by_hand).subquery()
    with_count = (
        select(either.c.visit_id, func.count().label("counted"))
        .group_by(either.c.visit_id)
        .subquery()
    )
    refusals = (
        select(of_photos.c.visit_id, func.count().label("refused"))
        .where(~func.coalesce(has_count, false()))
        .group_by(of_photos.c.visit_id)
        .subquery()
    )
    query = (
        select(
            visits.c.id,
            farms.c.name.label("farm"),
            fields.c.name.label("field"),
            visits.c.name.label("visit"),
            func.coalesce(spots_in.c.spots, 0).label("spots"),
            func.coalesce(by_visit.c.photos, 0).label("photos"),
            func.coalesce(by_visit.c.unplaced, 0).label("unplaced"),
            func.coalesce(hands.c.hand_counts, 0).label("hand_counts"),
            func.coalesce(with_count.c.counted, 0).label("counted"),
            func.coalesce(refusals.c.refused, 0).label("refused"),
        )
        .select_from(visits)
        .join(fields)
        .join(farms, farms.c.id == fields.c.farm_id)
        .outerjoin(spots_in, spots_in.c.visit_id == visits.c.id)
        .outerjoin(by_visit, by_visit.c.visit_id == visits.c.id)
        .outerjoin(hands, hands.c.visit_id == visits.c.id)
        .outerjoin(with_count, with_count.c.visit_id == visits.c.id)
        .outerjoin(refusals, refusals.c.visit_id == visits.c.id)
        .order_by(farms.c.name, fields.c.name, visits.c.id)
    )
    dates = visit_dates(connection)
    rows: list[dict[str, Any]] = []
    by_field: dict[tuple[str, str], dict[int, Any]] = {}
    for row in connection.execute(query):  # by farm and field
        by_field.setdefault((row.farm, row.field), {})[row.id] = row
    for of_field in by_field.values():
        ordered = in_order({visit: dates[visit] for visit in of_field})
        rows += [_overview_row(of_field[visit], dates[visit]) for visit in ordered]
    return rows


def _overview_row(row: Any, date: VisitDate) -> dict[str, Any]:
    known = row._mapping
    first = {name: known[name] for name in ("farm", "field", "visit")} | {"date": date.text}
    return first | {name: value for name, value in known.items() if name != "id"}


def journal(connection: Connection, limit: int = 50) -> list[dict[str, Any]]:
    """Who did what and when, the latest first."""
    query = select(acts).order_by(acts.c.id.desc()).limit(limit)
    return [dict(row._mapping) for row in connection.execute(query)]
