"""From spots to a field: common records, means with intervals, how many spots are enough."""

from tillercount.field.density import DensityEstimate
from tillercount.field.dispersion import Dispersion, dispersion, odd_one, share_under
from tillercount.field.double import DoubleSample, double_sample
from tillercount.field.estimate import FieldEstimate, estimate_field
from tillercount.field.samplesize import (
    run_precision,
    sample_size,
    spots_to_clear,
    stratified_size,
)
from tillercount.field.sources import Collected, collect
from tillercount.field.spots import PairedDifference, SpotDensity
from tillercount.field.stop import Minutes, further, peek_factor, stop_rule
from tillercount.field.twophase import TwoPhase, two_phase
from tillercount.field.zones import ZoneSplit, patchiness, split_by_zone

__all__ = [
    "Collected",
    "DensityEstimate",
    "Dispersion",
    "DoubleSample",
    "FieldEstimate",
    "Minutes",
    "PairedDifference",
    "SpotDensity",
    "TwoPhase",
    "ZoneSplit",
    "collect",
    "dispersion",
    "double_sample",
    "estimate_field",
    "further",
    "odd_one",
    "patchiness",
    "peek_factor",
    "run_precision",
    "sample_size",
    "share_under",
    "split_by_zone",
    "spots_to_clear",
    "stop_rule",
    "stratified_size",
    "two_phase",
]
