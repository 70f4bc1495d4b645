"""Mean densities of a field, with intervals that carry every error known.

**The interval.** With spot values y₁…yₙ, mean m and standard deviation s between spots, the
half-width at level L is

    half = sqrt( (t · s/√n)²  +  (z · B)² )

- t: Student's quantile at (1+L)/2 with n-1 degrees of freedom. s/√n already holds the random error
  of each photo's own count, because that error is part of what differs between spots.
- B = Σ bᵢ·yᵢ / n: the shared error. bᵢ is the relative standard error that all photos of one model
  have in common (0 for hand counts); more photos don't average it out. z is the normal quantile.

Without photos B is 0 and this is the plain t interval of the spot means. The low end stops at 0.

**One spot** says nothing about the rest of the field. Its interval is then
m ± z·sqrt(se² + (CV·m)² + B²), with its own standard error and a spot-to-spot CV of 45 %, the
published example of a poor, uneven stand (SDSU, Graham & Fanning: counts 10, 16, 8, 6, 18 have a
CV of 44.6 %). The result says so in its flags.

**All spots alike** (s = 0, zero counts above all) doesn't mean certainty. For s the estimate then
takes the scatter that plants placed at random along the row would give, √(m/a) for spots of area
a (gaps between plants in a row are close to random: Liu et al. 2017, Plant Methods 13:38). Where
nothing at all was counted, the upper end is the exact Poisson limit for 0 in the whole area seen,
-ln((1-L)/2)/Σa.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field.spots import PairedDifference, SpotDensity

__all__ = ["ASSUMED_CV", "DensityEstimate", "FieldEstimate", "estimate_field"]

ASSUMED_CV = 0.45
"""Spot-to-spot CV assumed where one spot is all there is (SDSU, Graham & Fanning: 44.6 %)."""


@dataclass(frozen=True)
class DensityEstimate:
    """Mean density of a field, per m², with its interval.

    Attributes
    ----------
    mean, low, high : float
        Per m², at ``level``.
    level : float
        The share of such intervals that hold the field's true mean.
    n : int
        Spots.
    cv : float or None
        Standard deviation between spots over the mean; None for one spot or a mean of 0.
    scale, df : float
        Spread of a Student's t around ``mean`` with ``df`` degrees of freedom (infinite: normal)
        whose two-sided interval at ``level`` has the half-width above.
    shared_rel : float
        Shared relative standard error carried, B/m.
    """

    mean: float
    low: float
    high: float
    level: float
    n: int
    cv: float | None
    scale: float
    df: float
    shared_rel: float = 0.0
    flags: tuple[str, ...] = ()


@dataclass(frozen=True)
class FieldEstimate:
    """What the spots say about the field.

    Attributes
    ----------
    plants, shoots : DensityEstimate or None
        None where no spot has it.
    used : tuple of SpotDensity
        One record per spot, the values that entered.
    listed : tuple of SpotDensity
        Everything given, photos and hand counts of the same spot side by side.
    paired : tuple of PairedDifference
        Photo minus hand at spots that have both.
    definition : Definition
        What "shoots" counts.
    """

    plants: DensityEstimate | None
    shoots: DensityEstimate | None
    used: tuple[SpotDensity, ...]
    listed: tuple[SpotDensity, ...]
    paired: tuple[PairedDifference, ...]
    definition: Definition
    level: float
    flags: tuple[str, ...] = ()

    @property
    def spots(self) -> int:
        """How many spots."""
        return len(self.used)

    def role(self, spot: SpotDensity) -> str:
        """What became of a listed record: "used", "averaged", or "hand count taken"."""
        same = [s for s in self.listed if s.spot.casefold() == spot.spot.casefold()]
        if spot.source == "photo" and any(s.source == "hand" for s in same):
            return "hand count taken"
        alike = sum(s.source == spot.source for s in same)
        return "averaged" if alike > 1 else "used"


def estimate_field(spots: Sequence[SpotDensity], *, level: float = 0.9) -> FieldEstimate:
    """Mean densities of a field from its spots.

    Where a spot has a hand count and a photo, the hand count is its value and the pair's
    difference is reported. Several hand counts of one spot are averaged into one value, so that
    a spot never counts twice. Every spot has the same weight.

    Parameters
    ----------
    spots : sequence of SpotDensity
    level : float
        Level of the interval, between 0 and 1.

    Raises
    ------
    InputError
        No spots, a level outside (0, 1), or shoots counted by different definitions.
    """
    if not spots:
        raise InputError("no spots to assess; give photos, a counts file or a CSV of hand counts")
    if not 0.0 < level < 1.0:
        raise InputError(f"interval level {level!r} must lie between 0 and 1, like 0.9")
    definition = _one_definition(spots)
    groups: dict[str, list[SpotDensity]] = {}
    for spot in spots:
        groups.setdefault(spot.spot.casefold(), []).append(spot)
    used: list[SpotDensity] = []
    paired: list[PairedDifference] = []
    flags: list[str] = []
    for group in groups.values():
        hands = [spot for spot in group if spot.source == "hand"]
        photos = [spot for spot in group if spot.source == "photo"]
        for several in (hands, photos):
            if len(several) > 1:
                flags.append(
                    f"spot {several[0].spot}: {len(several)} "
                    f"{several[0].source} counts averaged into one value"
                )
        used.append(_merge(hands, photos, definition))
        if hands and photos:
            paired.append(_difference(hands, photos))
    if paired:
        flags.append(
            f"{len(paired)} spot{'s have' if len(paired) > 1 else ' has'} both a photo and a hand "
            "count; the hand count was taken"
        )
    zones = sorted({spot.zone for spot in used if spot.zone})
    if len(zones) > 1:
        flags.append(
            f"spots from {len(zones)} zones ({', '.join(zones)}) averaged by number of spots; "
            "assess a zone by itself where it is managed by itself"
        )
    plants = _estimate(used, "plants", level)
    shoots = _estimate(used, "shoots", level)
    for flag in (*(plants.flags if plants else ()), *(shoots.flags if shoots else ())):
        if flag not in flags:
            flags.append(flag)
    return FieldEstimate(
        plants, shoots, tuple(used), tuple(spots), tuple(paired), definition, level, tuple(flags)
    )


def _one_definition(spots: Sequence[SpotDensity]) -> Definition:
    by: dict[Definition, str] = {}
    for spot in spots:
        if spot.shoots_per_m2 is not None:
            by.setdefault(spot.definition, spot.spot)
    if len(by) > 1:
        named = "; ".join(f"spot {name}: {definition.value}" for definition, name in by.items())
        raise InputError(
            f"shoots were counted by different definitions ({named}), which can't be mixed; "
            "leave one kind out, or count again by one definition"
        )
    return next(iter(by), Definition.STEMS)


def _mean(values: Sequence[float | None]) -> float | None:
    present = [value for value in values if value is not None]
    return float(np.mean(present)) if present else None


def _merge(
    hands: Sequence[SpotDensity], photos: Sequence[SpotDensity], definition: Definition
) -> SpotDensity:
    """One record for a spot: by hand where that was counted, else by photo."""
    first = (*hands, *photos)[0]
    if len(hands) + len(photos) == 1:
        return first
    values: dict[str, float | None] = {}
    spread: dict[str, float] = {}
    for what in ("plants", "shoots"):
        by_hand = [s for s in hands if getattr(s, f"{what}_per_m2") is not None]
        chosen = by_hand or [s for s in photos if getattr(s, f"{what}_per_m2") is not None]
        values[what] = _mean([getattr(s, f"{what}_per_m2") for s in chosen])
        errors = [getattr(s, f"{what}_se") for s in chosen]
        spread[f"{what}_se"] = math.sqrt(sum(e * e for e in errors)) / max(len(errors), 1)
        spread[f"{what}_bias_rel"] = _mean([getattr(s, f"{what}_bias_rel") for s in chosen]) or 0.0
    return SpotDensity(
        spot=first.spot,
        source=first.source,
        plants_per_m2=values["plants"],
        shoots_per_m2=values["shoots"],
        plants_se=spread["plants_se"],
        shoots_se=spread["shoots_se"],
        plants_bias_rel=spread["plants_bias_rel"],
        shoots_bias_rel=spread["shoots_bias_rel"],
        area_m2=first.area_m2,
        definition=definition,
        zone=next((s.zone for s in (*hands, *photos) if s.zone), ""),
        flags=tuple(dict.fromkeys(flag for s in (*hands, *photos) for flag in s.flags)),
        photo=photos[0].photo if photos else "",
        observer=", ".join(dict.fromkeys(s.observer for s in hands if s.observer)),
        lat=first.lat,
        lon=first.lon,
    )


def _difference(hands: Sequence[SpotDensity], photos: Sequence[SpotDensity]) -> PairedDifference:
    gaps: dict[str, float | None] = {}
    for what in ("plants_per_m2", "shoots_per_m2"):
        hand = _mean([getattr(s, what) for s in hands])
        photo = _mean([getattr(s, what) for s in photos])
        gaps[what] = None if hand is None or photo is None else photo - hand
    return PairedDifference(hands[0].spot, gaps["plants_per_m2"], gaps["shoots_per_m2"])


def _estimate(used: Sequence[SpotDensity], what: str, level: float) -> DensityEstimate | None:
    have = [spot for spot in used if getattr(spot, f"{what}_per_m2") is not None]
    if not have:
        return None
    from scipy import stats

    values = np.array([getattr(spot, f"{what}_per_m2") for spot in have], dtype=float)
    areas = np.array([spot.area_m2 for spot in have])
    n, mean = len(values), float(values.mean())
    shared = float(
        np.mean([getattr(spot, f"{what}_bias_rel") for spot in have] * values)
    )  # B, fully correlated between photos
    upper = (1 + level) / 2
    z = float(stats.norm.ppf(upper))
    flags: list[str] = []
    if mean == 0.0:
        high = -math.log((1 - level) / 2) / float(areas.sum())
        flags.append(f"no {what} found at any spot; the upper end is what could have been missed")
        return DensityEstimate(
            0.0, 0.0, high, level, n, None, high / z, math.inf, flags=tuple(flags)
        )
    if n == 1:
        own = float(getattr(have[0], f"{what}_se"))
        scale = math.sqrt(own**2 + (ASSUMED_CV * mean) ** 2 + shared**2)
        half, df, cv = z * scale, math.inf, None
        flags.append(
            f"one spot only: the interval assumes that spots differ by {ASSUMED_CV:.0%} (a "
            "published poor stand); count more spots"
        )
    else:
        spread, df = float(values.std(ddof=1)), float(n - 1)
        cv = spread / mean
        if spread <= 1e-9 * mean:
            spread = math.sqrt(mean / float(areas.mean()))
            flags.append(
                f"all spots have the same {what}; the interval takes the scatter of plants placed "
                "at random instead of none"
            )
        t = float(stats.t.ppf(upper, df))
        half = math.hypot(t * spread / math.sqrt(n), z * shared)
        scale = half / t
        if n < 5:
            flags.append(f"{n} spots are few; published advice is 5 to 15 per field")
    return DensityEstimate(
        mean=mean,
        low=max(0.0, mean - half),
        high=mean + half,
        level=level,
        n=n,
        cv=cv,
        scale=scale,
        df=df,
        shared_rel=shared / mean,
        flags=tuple(flags),
    )
