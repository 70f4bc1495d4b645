"""What a season holds, read: spots as the field's estimate takes them, summaries, lists."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, func, select

from tillercount.area import StatedArea
from tillercount.definition import Definition
from tillercount.field import FieldEstimate, SpotDensity, collect, estimate_field
from tillercount.field.spots import SeenRows
from tillercount.hand import HandCount
from tillercount.names import spot_key
from tillercount.store.added import Placed
from tillercount.store.astray import astray
from tillercount.store.photoquery import photos_of, rows_in
from tillercount.store.strangers import rows_elsewhere
from tillercount.store.tables import hand_counts, spots, zones
from tillercount.store.visits import Where, visit_of
from tillercount.store.zoneareas import zone_areas

__all__ = [
    "FieldSummary",
    "densities",
    "is_fixed",
    "summary",
]


_BATCH = 1000


@dataclass(frozen=True)
class FieldSummary:
    """One visit to a field.

    Attributes
    ----------
    estimate : FieldEstimate or None
        None where nothing was counted yet.
    planned, to_visit : int
        Spots planned, and those of them without a count.
    left : mapping of zone to (int, int)
        The same by zone: without a count, and planned.
    hand_to_do : tuple of str
        Spots to be counted by hand too that weren't yet.
    unplaced : tuple of Placed
        Photos without a spot; they aren't in the mean.
    unlocated : tuple of str
        Photos in the mean without a position: only whoever added them says that they are of this
        field.
    rows_elsewhere : tuple of SeenRows
        Of photos of the field's other visits.
    refused : tuple of (photo, reason)
    corrected : int
        Photos with a person's count in place of the model's.
    """

    farm: str
    field: str
    visit: str
    estimate: FieldEstimate | None
    planned: int
    to_visit: int
    hand_to_do: tuple[str, ...]
    unplaced: tuple[Placed, ...]
    refused: tuple[tuple[str, str], ...]
    corrected: int
    notes: tuple[str, ...]
    zone_areas: Mapping[str, float] | None = None
    left: Mapping[str, tuple[int, int]] = dataclasses.field(default_factory=dict)
    unlocated: tuple[str, ...] = ()
    rows_elsewhere: tuple[SeenRows, ...] = ()


def is_fixed(row: Any) -> bool:
    """Whether a person's count holds for a photo."""
    return row.fixed_plants is not None or row.fixed_shoots is not None


def densities_of(
    row: Any, by_hand: Collection[tuple[str, str]] = frozenset()
) -> Iterator[SpotDensity]:
    """A photo's count as it holds, what a person corrected and what stands as two records.

    A correction is a hand count: no error of the model's is in it, and no difference of photos
    from hand counts belongs to it. Nor is it a pair with the count it replaces: who corrects looks
    for the worst counts, and pairs have to be drawn by chance (`tillercount.field.double`).

    Parameters
    ----------
    row
        From `photos_of`.
    by_hand : collection of (spot's key, "plants" or "shoots")
        What was counted by hand there besides. That count holds, and its pair is what the model
        said, not what a person put in its place.
    """
    if row.spot is None:
        return
    flags = tuple(row.flags or ())
    by_model: dict[str, float | None] = {"plants": row.plants_per_m2, "shoots": row.shoots_per_m2}
    by_person: dict[str, float] = {}
    said: tuple[str, ...] = ()
    if is_fixed(row):
        for what in ("plants", "shoots"):
            right, before = getattr(row, f"fixed_{what}"), getattr(row, what)
            if right is None or (spot_key(row.spot), what) in by_hand:
                continue
            by_person[what], by_model[what] = right / row.area_m2, None
            was = "" if before is None else f" from {before:g}"
            said += (f"{what} corrected by {row.fixed_by}{was} to {right:g}",)
    if by_person:
        yield replace(
            _density(row, {"plants": None, "shoots": None, **by_person}, rows_in(row)),
            source="hand",
            plants_se=0.0,
            shoots_se=0.0,
            plants_bias_rel=0.0,
            shoots_bias_rel=0.0,
            flags=flags + said,
            observer=row.fixed_by or "",
        )
    if row.status == "counted" and any(value is not None for value in by_model.values()):
        # of one photo one record alone shows its rows and looks like other photos
        rest = _density(row, by_model, None if by_person else rows_in(row))
        yield replace(rest, look="") if by_person else rest


def _density(
    row: Any, per_m2: Mapping[str, float | None], seen: SeenRows | None
) -> SpotDensity:
    return SpotDensity(
        spot=row.spot,
        source="photo",
        plants_per_m2=per_m2["plants"],
        shoots_per_m2=per_m2["shoots"],
        plants_se=row.plants_se or 0.0,
        shoots_se=row.shoots_se or 0.0,
        area_m2=row.area_m2,
        definition=Definition.STEMS,
        zone=row.zone or "",
        seen_rows=seen,
        flags=tuple(row.flags or ()),
        plants_bias_rel=row.plants_bias_rel or 0.0,
        shoots_bias_rel=row.shoots_bias_rel or 0.0,
        photo=row.photo,
        placed=True,
        named=row.how in ("name", "hand"),
        lat=row.lat,
        lon=row.lon,
        other_cover=row.other_cover,
        other_per_m2=None if row.other_count is None else row.other_count / row.area_m2,
        taken=(row.taken_at or "")[:10],
        look=row.look or "",
    )


def _hand_counts(connection: Connection, visit: int) -> list[SpotDensity]:
    query = (
        select(hand_counts, spots.c.name.label("spot"), zones.c.name.label("zone"))
        .join_from(hand_counts, spots)
        .outerjoin(zones, zones.c.id == spots.c.zone_id)
        .where(spots.c.visit_id == visit, hand_counts.c.ended_id.is_(None))
        .order_by(hand_counts.c.id)
    )
    counts = [
        HandCount(
            spot=row.spot,
            observer=row.observer,
            plants=row.plants,
            shoots=row.shoots,
            area=StatedArea(row.area_m2),
            definition=Definition(row.definition),
            zone=row.zone or "",
            lat=row.lat,
            lon=row.lon,
            note=row.note,
        )
        for row in connection.execute(query)
    ]
    return list(collect(counts).spots) if counts else []


def densities(connection: Connection, visit: int) -> list[SpotDensity]:
    """Everything counted in a visit, photos first, as `estimate_field` and ``assess`` take it."""
    hands = _hand_counts(connection, visit)
    counted = _what_by_hand(hands)
    rows = connection.execute(photos_of(visit))
    return [*(one for row in rows for one in densities_of(row, counted)), *hands]


def _what_by_hand(hands: Iterable[SpotDensity]) -> set[tuple[str, str]]:
    return {
        (spot.key, what)
        for spot in hands
        for what in ("plants", "shoots")
        if getattr(spot, f"{what}_per_m2") is not None
    }


def summary(connection: Connection, where: Where, *, level: float = 0.9) -> FieldSummary:
    """What a visit says about its field.

    Raises
    ------
    InputError
        No such field or visit, or counts that can't be put together.
    """
    visit, name = visit_of(connection, where)
    by_photo: list[SpotDensity] = []
    unplaced: list[Placed] = []
    refused: list[tuple[str, str]] = []
    unlocated: list[str] = []
    counters: set[int] = set()
    stale: list[str] = []
    corrected = 0
    hands = _hand_counts(connection, visit)
    counted_by_hand = _what_by_hand(hands)
    # One pass, a batch at a time: of a large field's rows only the densities are kept.
    for row in connection.execute(photos_of(visit), execution_options={"yield_per": _BATCH}):
        own = list(densities_of(row, counted_by_hand))
        by_photo += own
        if own and row.lat is None:
            unlocated.append(row.photo)
        if row.spot is None:
            unplaced.append(_placed(row))
        if is_fixed(row):
            corrected += 1
        elif row.status == "refused":
            refused.append((row.photo, row.reason or "no reason given"))
        elif row.status == "counted":
            counters.add(row.model_id)
        if row.fix_id is None and row.last_fix_id is not None:
            stale.append(row.photo)
    everything = [*by_photo, *hands]
    planned = connection.execute(
        select(
            spots.c.name,
            spots.c.name_key,
            spots.c.by_hand,
            spots.c.lat,
            spots.c.lon,
            func.coalesce(zones.c.name, "").label("zone"),
        )
        .outerjoin_from(spots, zones, zones.c.id == spots.c.zone_id)
        .where(spots.c.visit_id == visit, spots.c.planned)
    ).all()
    counted = {spot.key for spot in everything}
    by_hand = {spot.key for spot in hands}
    left: dict[str, tuple[int, int]] = {}
    for one in planned:
        without, of = left.get(one.zone, (0, 0))
        left[one.zone] = (without + (spot_key(one.name) not in counted), of + 1)
    areas, notes = zone_areas(connection, visit, everything)
    notes += astray(
        everything, {r.name_key: (r.lat, r.lon) for r in planned if None not in (r.lat, r.lon)}
    )
    if len(counters) > 1:
        notes.append(
            "the photos were counted by more than one model; count them all with one "
            "(season add with --again)"
        )
    notes.extend(
        f"{photo}: its correction was made for another marked area and isn't used; correct it again"
        for photo in stale
    )
    apart = rows_elsewhere(connection, visit)
    return FieldSummary(
        farm=where.farm,
        field=where.field,
        visit=name,
        estimate=estimate_field(everything, level=level, zone_areas=areas, rows_elsewhere=apart)
        if everything
        else None,
        planned=len(planned),
        to_visit=sum(without for without, _ in left.values()),
        hand_to_do=tuple(r.name for r in planned if r.by_hand and spot_key(r.name) not in by_hand),
        unplaced=tuple(unplaced),
        refused=tuple(refused),
        corrected=corrected,
        notes=tuple(notes),
        zone_areas=areas,
        left=left,
        unlocated=tuple(unlocated),
        rows_elsewhere=apart,
    )


def _placed(row: Any) -> Placed:
    return Placed(row.photo, row.spot or "", row.how, row.distance_m, row.note)
