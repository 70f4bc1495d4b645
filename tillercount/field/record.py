"""What is known of the sampling, as plain values for the assessment's JSON; densities per ft²."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tillercount.field.density import DensityEstimate
from tillercount.field.dispersion import Dispersion, share_under
from tillercount.field.double import DoubleSample
from tillercount.field.estimate import FieldEstimate
from tillercount.field.outside import why_outside
from tillercount.field.skips import RowSkips
from tillercount.field.stop import MINUTES, Further, StopRule
from tillercount.field.zones import ZoneSplit
from tillercount.units import MM_PER_FT, MM_PER_IN, per_ft2

__all__ = ["further_record", "sampling_record", "stop_record"]

STOP_METHOD = (
    "confidence sequence of the t-test, Gaussian mixture, g = 1 (Wang & Ramdas, arXiv 2310.03722)"
)


def sampling_record(
    field: FieldEstimate, borders: Sequence[tuple[str, float | None]] = ()
) -> dict[str, Any]:
    """How the field was sampled and what that says about its unevenness.

    Parameters
    ----------
    field : FieldEstimate
    borders : sequence of (what, per m²)
        Borders for which the share of spots below is wanted.
    """
    under = [
        {
            "measures": what,
            "below_per_ft2": per_ft2(border),
            "spots": found.spots,
            "of": found.n,
            "share": found.share,
            "low": found.low,
            "high": found.high,
            "level": field.level,
        }
        for what, border in borders
        if border is not None
        and (found := share_under(field.entered(what), what, border, field.level))
    ]
    return {
        "photo_and_hand": {found.what: _double(found) for found in field.double},
        "dispersion": {found.what: _dispersion(found) for found in field.dispersion},
        "zones": {split.what: _zones(split) for split in field.zones},
        "row_gaps": _skips(field.row_skips),
        "spots_below": under,
    }


def further_record(options: Sequence[Further]) -> list[dict[str, Any]]:
    """Further spots of each kind with their cost, and the minutes assumed."""
    return [
        {
            "kind": one.kind,
            "spots": one.spots,
            "minutes": one.minutes,
            "spots_looking_each_time": one.spots_peeking,
            "minutes_looking_each_time": one.minutes_peeking,
            "minutes_a_spot": MINUTES.photo if one.kind == "photo" else MINUTES.hand,
        }
        for one in options
    ]


def stop_record(stop: StopRule | None, factor: float = 1.0) -> dict[str, Any] | None:
    """The stop rule, its ends times ``factor`` (from per m² to the rule's unit)."""
    if stop is None:
        return None
    return {
        "may_stop": stop.settled,
        "low": stop.low * factor,
        "high": stop.high * factor if math.isfinite(stop.high) else None,
        "level": stop.level,
        "method": STOP_METHOD,
    }


def _density(estimate: DensityEstimate | None) -> dict[str, Any] | None:
    if estimate is None:
        return None
    return {
        "mean": per_ft2(estimate.mean),
        "low": per_ft2(estimate.low),
        "high": per_ft2(estimate.high),
        "level": estimate.level,
        "spots": estimate.n,
        "how": estimate.how,
    }


def _ft2(value: float | None) -> float | None:
    return None if value is None else per_ft2(value)


def _double(found: DoubleSample) -> dict[str, Any]:
    return {
        "method": found.method,
        "why": found.why,
        "pairs": found.pairs,
        "hand_per_ft2": _density(found.hand),
        "photo_per_ft2": _density(found.photo),
        "combined_per_ft2": _density(found.combined),
        "correlation": found.r,
        "correlation_needed": found.r_needed,
        "hand_minus_photo_per_ft2": _ft2(found.difference),
        "hand_minus_photo_sd_per_ft2": _ft2(found.difference_sd),
        "slope": found.slope,
        "intercept_per_ft2": _ft2(found.intercept),
        "pairs_hand_per_ft2": _ft2(found.pair_hand),
        "pairs_photo_per_ft2": _ft2(found.pair_photo),
        "why_outside": why_outside(found) or None,
    }


def _dispersion(found: Dispersion) -> dict[str, Any]:
    odd = found.odd
    return {
        "spots": found.n,
        "counted": found.counted,
        "index": found.index,
        "p_if_random_more": found.p_clumped,
        "p_if_random_less": found.p_even,
        "negative_binomial_k": found.k,
        "rough": found.rough,
        "by_photo": found.by_photo,
        "odd_spot": None
        if odd is None
        else {
            "spot": odd.spot,
            "per_ft2": per_ft2(odd.per_m2),
            "others_per_ft2": per_ft2(odd.others_per_m2),
            "p": odd.p,
        },
    }


def _skips(found: RowSkips | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "photos": found.photos,
        "photos_with_gaps": found.with_gaps,
        "row_length_ft": found.row_mm / MM_PER_FT,
        "gap_length_ft": found.gap_mm / MM_PER_FT,
        "gap_over_in": found.over_mm / MM_PER_IN,
        "share": found.share,
    }


def _zones(split: ZoneSplit) -> dict[str, Any]:
    return {
        "zones": [
            {"zone": z.zone, "area_share": z.area_share, "per_ft2": _density(z.estimate)}
            for z in split.zones
        ],
        "weighted_per_ft2": _density(split.weighted),
        "share_between_zones": split.between_share,
        "p_if_alike": split.p,
    }
