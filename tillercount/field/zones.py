"""Zones: a mean for each, weighted by area where areas are known, and how patchy the field is.

**Weighted mean.** With area shares W and zone means m, mean = ΣW·m and its variance ΣW²·se²
(Cochran, Sampling Techniques, 3rd ed. 1977, ch. 5), with Satterthwaite's degrees of freedom. Where
photos stand uncorrected, their shared error adds up over zones, ΣW·B, since it is the same error
everywhere. A zone with one spot has no scatter of its own: it takes the CV of the other zones.

**Patchiness.** Analysis of variance between zones: the F test asks whether zones differ by more
than their spots do; the share between zones is the intraclass correlation,
(MSB - MSW)/(MSB + (n₀-1)·MSW), n₀ = (N - Σn²/N)/(zones-1), not below 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.errors import InputError
from tillercount.field.density import (
    ASSUMED_CV,
    ASSUMED_DF,
    DensityEstimate,
    mean_of_spots,
    normal,
    pooled_df,
    student,
)
from tillercount.field.double import double_sample
from tillercount.field.merge import by_spot, merge, one_definition
from tillercount.field.scatter import Scatter
from tillercount.field.spots import SpotDensity

__all__ = ["ZoneMean", "ZoneSplit", "patchiness", "split_by_zone"]

PATCHY = 0.05
"""Zones are said to differ below this probability of so much difference by chance."""


@dataclass(frozen=True)
class ZoneMean:
    """One zone. ``area_share`` is None where areas aren't known."""

    zone: str
    estimate: DensityEstimate
    area_share: float | None = None


@dataclass(frozen=True)
class ZoneSplit:
    """A field by zones.

    Attributes
    ----------
    what : {"plants", "shoots"}
    zones : tuple of ZoneMean
        By name.
    weighted : DensityEstimate or None
        Of the whole field, by area; None where areas aren't known.
    between_share : float or None
        Share of the spot-to-spot variance that lies between zones, 0 to 1; None without two spots
        in any zone.
    p : float or None
        Probability of so much difference between zones if they were alike.
    """

    what: str
    zones: tuple[ZoneMean, ...]
    weighted: DensityEstimate | None
    between_share: float | None
    p: float | None
    flags: tuple[str, ...] = ()


def patchiness(groups: Sequence[Sequence[float]]) -> tuple[float | None, float | None]:
    """Share of the variance between groups, and the F test's probability.

    Returns
    -------
    share, p : float or None
        None where there is no group with two values, fewer than two groups, or no scatter at all.
    """
    arrays = [np.asarray(group, float) for group in groups if len(group)]
    total, count = sum(len(a) for a in arrays), len(arrays)
    if count < 2 or total <= count:
        return None, None
    grand = float(np.concatenate(arrays).mean())
    between = sum(len(a) * (float(a.mean()) - grand) ** 2 for a in arrays) / (count - 1)
    within = sum(float(((a - a.mean()) ** 2).sum()) for a in arrays) / (total - count)
    if between <= 0 and within <= 0:
        return None, None
    if within <= 0:
        return 1.0, 0.0
    from scipy import special

    size = (total - sum(len(a) ** 2 for a in arrays) / total) / (count - 1)
    share = (between - within) / (between + (size - 1) * within)
    p = float(special.fdtrc(count - 1, total - count, between / within))
    return min(1.0, max(0.0, share)), p


def split_by_zone(
    spots: Sequence[SpotDensity],
    entered: Sequence[SpotDensity],
    what: str,
    level: float,
    areas: Mapping[str, float] | None = None,
) -> ZoneSplit | None:
    """Means by zone.

    Parameters
    ----------
    spots : sequence of SpotDensity
        Everything that was counted.
    entered : sequence of SpotDensity
        One record per spot, with the value that entered the field's mean; for the patchiness.
    what : {"plants", "shoots"}
    level : float
    areas : mapping, optional
        Area of each zone, in any one unit.

    Returns
    -------
    ZoneSplit or None
        None where fewer than two zones have ``what``.

    Raises
    ------
    InputError
        Areas are given, but a spot has no zone, a zone has no area or no spot, or an area isn't
        above zero.
    """
    if not areas and not any(spot.zone for spot in spots):
        return None
    have = [s for s in spots if getattr(s, f"{what}_per_m2") is not None]
    groups: dict[str, list[SpotDensity]] = {}
    for hands, photos in by_spot(have):
        # a photo has no zone of its own where only the hand count's file names one
        zone = next((s.zone for s in (*hands, *photos) if s.zone), "")
        groups.setdefault(zone, []).extend([*hands, *photos])
    shares = _shares(groups, areas) if areas and have else None
    groups.pop("", None)  # spots without a zone stand in the field's mean, not in a zone's
    if len(groups) < 2:
        return None
    zones: list[ZoneMean] = []
    for zone in sorted(groups):
        listed = groups[zone]
        definition = one_definition(listed)
        used = [merge(hands, photos, definition) for hands, photos in by_spot(listed)]
        both = double_sample(listed, what, level)
        estimate = (both.answer if both else None) or mean_of_spots(used, what, level)
        assert estimate is not None  # only spots that have it are in the group
        zones.append(ZoneMean(zone, estimate, shares[zone] if shares else None))
    name = f"{what}_per_m2"
    between, p = patchiness(
        [
            [v for s in entered if s.zone == zone and (v := getattr(s, name)) is not None]
            for zone in groups
        ]
    )
    flags: list[str] = []
    if p is not None and between is not None and p < PATCHY:
        flags.append(
            f"{what} differ between zones by more than chance ({between:.0%} of the variance lies "
            "between zones); one decision for the whole field may be wrong for some of it"
        )
    weighted = _weighted(zones, level) if shares else None
    return ZoneSplit(what, tuple(zones), weighted, between, p, tuple(flags))


def _shares(groups: Mapping[str, object], areas: Mapping[str, float]) -> dict[str, float]:
    for zone, area in areas.items():
        if not (math.isfinite(area) and area > 0):
            raise InputError(f"zone {zone!r}: area {area!r} must be above zero")
        if zone not in groups:
            raise InputError(
                f"zone {zone!r} has an area but no counted spot; count there, name each spot's "
                "zone in the CSV's column zone or give spots the numbers of the plan, or assess "
                "the other zones by themselves"
            )
    for zone in groups:
        if zone not in areas:
            name = f"zone {zone!r} has" if zone else "some spots have no zone, so they have"
            raise InputError(f"{name} no area to weigh by; give one for every zone")
    total = sum(areas.values())
    return {zone: areas[zone] / total for zone in groups}


def _weighted(zones: Sequence[ZoneMean], level: float) -> DensityEstimate:
    cvs = [z.estimate.cv for z in zones if z.estimate.cv is not None]
    pooled_cv = math.sqrt(sum(cv * cv for cv in cvs) / len(cvs)) if cvs else ASSUMED_CV
    borrowed = float(sum(z.estimate.n - 1 for z in zones)) if cvs else ASSUMED_DF
    mean = shared = spread = 0.0
    parts: list[tuple[float, float]] = []
    flags: list[str] = []
    for zone in zones:
        estimate, weight = zone.estimate, zone.area_share or 0.0
        mean += weight * estimate.mean
        shared += weight * estimate.shared_rel * estimate.mean
        scatter = estimate.scatter
        if scatter is None or scatter.pairs:
            se, df = estimate.scale, estimate.df
        elif estimate.n == 1:
            se, df = pooled_cv * estimate.mean, borrowed
            flags.append(
                f"zone {zone.zone}: one spot only; its scatter is taken from "
                + ("the other zones" if cvs else "a published poor stand")
            )
        else:
            se, df = scatter.spot_sd / math.sqrt(estimate.n), float(estimate.n - scatter.fitted)
        parts.append(((weight * se) ** 2, df))
        spread += weight * (scatter.spot_sd if scatter else 0.0)
        flags.extend(estimate.flags if estimate.n > 1 and estimate.mean == 0 else ())
    free = math.sqrt(sum(part for part, _ in parts))
    df = pooled_df(*parts)
    upper = (1 + level) / 2
    t = student(upper, df)
    half = math.hypot(t * free, normal(upper) * shared)
    n = sum(z.estimate.n for z in zones)
    photos = sum(z.estimate.scatter.photos for z in zones if z.estimate.scatter)
    return DensityEstimate(
        mean=mean,
        low=max(0.0, mean - half),
        high=mean + half,
        level=level,
        n=n,
        cv=spread / mean if mean > 0 else None,
        scale=half / t,
        df=df,
        shared_rel=shared / mean if mean > 0 else 0.0,
        flags=tuple(flags),
        how=f"{len(zones)} zones weighted by their area, {n} spots",
        scatter=Scatter(
            n,
            photos=photos,
            spot_sd=free * math.sqrt(n),
            shared=shared * n / photos if photos else 0.0,
        ),
    )
