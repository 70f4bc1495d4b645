"""A season kept: farms, fields, visits, spots, photos, counts, corrections, who and when."""

from tillercount.store.added import Added, Placed
from tillercount.store.check import Finding
from tillercount.store.history import Change, History, Visited
from tillercount.store.placing import WITHIN_M
from tillercount.store.planfile import PlanFile, PlannedSpot, read_plan
from tillercount.store.read import FieldSummary
from tillercount.store.season import Season
from tillercount.store.tables import SCHEMA
from tillercount.store.visits import Where

__all__ = [
    "SCHEMA",
    "WITHIN_M",
    "Added",
    "Change",
    "FieldSummary",
    "Finding",
    "History",
    "Placed",
    "PlanFile",
    "PlannedSpot",
    "Season",
    "Visited",
    "Where",
    "read_plan",
]
