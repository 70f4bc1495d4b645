"""From spots to a field: common records, means with intervals, how many spots are enough."""

from tillercount.field.estimate import DensityEstimate, FieldEstimate, estimate_field
from tillercount.field.samplesize import sample_size, spots_to_clear
from tillercount.field.sources import Collected, collect
from tillercount.field.spots import PairedDifference, SpotDensity

__all__ = [
    "Collected",
    "DensityEstimate",
    "FieldEstimate",
    "PairedDifference",
    "SpotDensity",
    "collect",
    "estimate_field",
    "sample_size",
    "spots_to_clear",
]
