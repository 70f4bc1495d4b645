"""What an estimate of a field says of how it was put together: pairs, and zones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tillercount.field.density import DensityEstimate
from tillercount.field.double import DoubleSample, in_words
from tillercount.field.spots import PairedDifference, SpotDensity
from tillercount.field.zones import ZoneSplit
from tillercount.rounding import figure
from tillercount.units import per_ft2

__all__ = ["pair_flags", "zone_flags"]


def pair_flags(paired: Sequence[PairedDifference], double: Sequence[DoubleSample]) -> list[str]:
    """What pairs of photo and hand count do to the means."""
    if not paired:
        return []
    have = f"{len(paired)} spot{'s have' if len(paired) > 1 else ' has'}"
    start = f"{have} both a photo and a hand count"
    with_pairs = [found for found in double if found.pairs]
    if all(found.method == "as counted" for found in with_pairs):
        return [f"{start}; the hand count was taken"]
    parts = [start, *(in_words(found) for found in with_pairs)]
    if any(found.combined for found in with_pairs):
        parts.append(
            "photos corrected by hand counts hold only if the spots to count by hand were drawn "
            "at random before any result was seen, not chosen for their looks"
        )
    return ["; ".join(parts)]


def zone_flags(
    used: Sequence[SpotDensity],
    zones: Sequence[ZoneSplit],
    alike: Mapping[str, DensityEstimate | None],
) -> list[str]:
    """What zones do to the means; ``alike``: the means with every spot alike."""
    names = sorted({spot.zone for spot in used if spot.zone})
    if len(names) < 2:
        return []
    if any(split.weighted for split in zones):
        means = [
            f"{figure(per_ft2(mean.mean), what)} {what} per ft²"
            for what, mean in alike.items()
            if mean is not None
        ]
        return [
            f"{len(names)} zones weighted by their area; spot for spot, as without the zones' "
            f"areas, the mean would be {' and '.join(means)}",
            *(flag for split in zones for flag in split.flags),
        ]
    return [
        f"spots from {len(names)} zones ({', '.join(names)}) averaged by number of spots, "
        "not by area: with the zones' areas (a season with its plan has them) the mean and the "
        "chances may differ; assess a zone by itself where it is managed by itself",
        *(flag for split in zones for flag in split.flags),
    ]
