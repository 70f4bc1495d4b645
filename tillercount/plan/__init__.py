"""Plan a visit: where to sample, how many spots, which by hand too, in which order."""

from tillercount.plan.boundary import Field, read_field
from tillercount.plan.design import DESIGNS
from tillercount.plan.export import to_geojson, to_gpx
from tillercount.plan.handsheet import to_hand_sheet
from tillercount.plan.howmany import (
    expected_precision,
    spots_for_precision,
    spots_for_zones,
    spots_to_decide,
)
from tillercount.plan.need import Need
from tillercount.plan.visit import Spot, VisitPlan, plan_visit

__all__ = [
    "DESIGNS",
    "Field",
    "Need",
    "Spot",
    "VisitPlan",
    "expected_precision",
    "plan_visit",
    "read_field",
    "spots_for_precision",
    "spots_for_zones",
    "spots_to_decide",
    "to_geojson",
    "to_gpx",
    "to_hand_sheet",
]
