"""The tables of a season.

Rows are added and, where something newer takes their place, marked with the act that did so; none
is altered in what it says, so that a count can always be traced to its photo, person and day.
Every row points to the act (who, when, with which version) that brought it in.

Times are ISO 8601 text in UTC; positions are WGS 84 degrees; areas m², densities per m².
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    DDL,
    JSON,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    event,
)

__all__ = [
    "SCHEMA",
    "acts",
    "assessments",
    "corrections",
    "days",
    "farms",
    "fields",
    "former_names",
    "hand_counts",
    "metadata",
    "models",
    "photos",
    "placements",
    "predictions",
    "reference_to",
    "season",
    "spots",
    "visits",
    "zones",
]

SCHEMA = 4
"""Number of the layout below; `tillercount.store.migrate` has the steps between numbers."""

metadata = MetaData()


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _of(table: str, *, null: bool = False, index: bool = False) -> Column[int]:
    """A reference, named after the table it points to."""
    key = ForeignKey(f"{table}.id")
    return Column(reference_to(table), Integer, key, nullable=null, index=index)


def reference_to(table: str) -> str:
    """Name of a column that points to a table: ``farms`` gives ``farm_id``."""
    return f"{table.removesuffix('s')}_id"


def _name(name: str = "name") -> list[Column[Any]]:
    """A name as typed, and as compared."""
    return [Column(name, Text, nullable=False), Column(f"{name}_key", Text, nullable=False)]


def _floats(*names: str) -> list[Column[float]]:
    return [Column(name, Float) for name in names]


season = Table(
    "season",
    metadata,
    Column("key", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)
acts = Table(
    "acts",
    metadata,
    _id(),
    Column("verb", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("at", String(32), nullable=False),
    Column("source", Text, nullable=False),
    Column("detail", Text, nullable=False),
    Column("version", Text, nullable=False),
)
farms = Table("farms", metadata, _id(), *_name(), _of("acts"), UniqueConstraint("name_key"))
fields = Table(
    "fields",
    metadata,
    _id(),
    _of("farms"),
    *_name(),
    Column("area_m2", Float),
    Column("shape", JSON),
    _of("acts"),
    UniqueConstraint("farm_id", "name_key"),
)
zones = Table(
    "zones",
    metadata,
    _id(),
    _of("fields"),
    *_name(),
    Column("area_m2", Float),
    Column("shape", JSON),
    _of("acts"),
    UniqueConstraint("field_id", "name_key"),
)
visits = Table(
    "visits",
    metadata,
    _id(),
    _of("fields"),
    *_name(),
    Column("plan", JSON),
    Column("plan_digest", String(64)),
    Column("day", String(10)),  # ISO 8601, as somebody typed it; `tillercount.store.dates`
    _of("acts"),
    UniqueConstraint("field_id", "name_key"),
)
days = Table(  # that a visit was given, one after the other: the last one standing is its day
    "days",
    metadata,
    _id(),
    _of("visits", index=True),
    Column("day", String(10), nullable=False),
    _of("acts", null=True),  # none: given under an older layout, by nobody knows which act
    Column("ended_id", Integer, ForeignKey("acts.id")),
)
former_names = Table(  # that a farm, a field or a visit (one of them) had before a renaming
    "former_names",
    metadata,
    _id(),
    _of("farms", null=True, index=True),
    _of("fields", null=True, index=True),
    _of("visits", null=True, index=True),
    *_name(),
    _of("acts"),
)
spots = Table(
    "spots",
    metadata,
    _id(),
    _of("visits"),
    *_name(),
    _of("zones", null=True),
    Column("number", Integer),  # in walking order; none for a spot that wasn't planned
    Column("planned", Boolean, nullable=False),
    Column("by_hand", Boolean, nullable=False),
    *_floats("lat", "lon", "stands_for_m2"),
    _of("acts"),
    UniqueConstraint("visit_id", "name_key"),
)
photos = Table(
    "photos",
    metadata,
    _id(),
    Column("sha256", String(64), nullable=False, unique=True),
    *_name(),
    Column("path", Text, nullable=False),
    Column("taken_at", Text),
    *_floats("lat", "lon"),
    _of("acts"),
)
placements = Table(
    "placements",
    metadata,
    _id(),
    _of("photos"),
    _of("visits"),
    _of("spots", null=True),
    Column("how", Text, nullable=False),  # place, time, name, hand; nowhere without a spot
    *_floats("distance_m"),
    Column("note", Text, nullable=False),
    _of("acts"),
    Column("ended_id", Integer, ForeignKey("acts.id")),
)
models = Table(
    "models",
    metadata,
    _id(),
    Column("digest", String(64), nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("record", JSON, nullable=False),
)
_densities = _floats(
    "plants_per_m2",
    "shoots_per_m2",
    "plants_se",
    "shoots_se",
    "plants_bias_rel",
    "shoots_bias_rel",
)
predictions = Table(
    "predictions",
    metadata,
    _id(),
    _of("photos"),
    Column("digest", String(64), nullable=False),
    _of("models"),
    Column("status", Text, nullable=False),
    Column("reason", Text),
    Column("area", Text, nullable=False),
    *_floats("area_m2", "plants", "shoots"),
    *_densities,
    Column("flags", JSON, nullable=False),
    Column("record", JSON, nullable=False),  # the whole entry of the counts file
    _of("acts"),
    UniqueConstraint("photo_id", "digest"),
)
corrections = Table(
    "corrections",
    metadata,
    _id(),
    _of("photos", index=True),
    *_floats("plants", "shoots"),  # none: as the model says; the last row of a photo holds
    Column("area", Text, nullable=False),  # that it was made for; it holds for no other
    Column("note", Text, nullable=False),
    _of("acts"),
)
hand_counts = Table(
    "hand_counts",
    metadata,
    _id(),
    _of("spots"),
    *_name("observer"),
    *_floats("plants", "shoots"),
    Column("definition", Text, nullable=False),
    Column("area", Text, nullable=False),
    Column("area_m2", Float, nullable=False),
    *_floats("lat", "lon"),
    Column("note", Text, nullable=False),
    _of("acts"),
    Column("ended_id", Integer, ForeignKey("acts.id")),
)
assessments = Table(
    "assessments",
    metadata,
    _id(),
    _of("visits", index=True),
    Column("rules", Text, nullable=False),
    Column("headline", Text, nullable=False),
    Column("record", JSON, nullable=False),
    _of("acts"),
)


def _one_standing(name: str, table: Table, *columns: Column[Any]) -> None:
    """Unique among the rows that nothing has taken the place of."""
    standing = table.c.ended_id.is_(None)
    Index(name, *columns, unique=True, sqlite_where=standing, postgresql_where=standing)


_one_standing("placements_standing", placements, placements.c.photo_id)
_one_standing(
    "hand_counts_standing", hand_counts, hand_counts.c.spot_id, hand_counts.c.observer_key
)
Index("placements_by_visit", placements.c.visit_id, placements.c.spot_id)

# A photo's row is its fingerprint; the database itself refuses to change it.
for _dialect, _line in (
    (
        "sqlite",
        "CREATE TRIGGER photos_stay BEFORE UPDATE ON photos "
        "BEGIN SELECT RAISE(ABORT, 'a photo is never altered'); END",
    ),
    (
        "postgresql",
        "CREATE OR REPLACE FUNCTION photos_stay() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'a photo is never altered'; END $$",
    ),
    (
        "postgresql",
        "CREATE TRIGGER photos_stay BEFORE UPDATE ON photos "
        "FOR EACH ROW EXECUTE FUNCTION photos_stay()",
    ),
):
    _ddl = DDL(_line)  # type: ignore[no-untyped-call]
    event.listen(photos, "after_create", _ddl.execute_if(dialect=_dialect))
