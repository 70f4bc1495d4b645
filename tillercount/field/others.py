"""Plants that aren't the crop (weeds, volunteers), by all photos of a field.

Hand counts don't have them, so photos count here even where the hand count of their spot stands
for the crop. One value per spot, all with the same weight, zones or not: it is a first look at what
stands there, not a measurement.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.errors import InputError
from tillercount.field.density import student
from tillercount.field.merge import by_spot, mean_of
from tillercount.field.spots import SpotDensity
from tillercount.units import per_ft2

__all__ = ["OtherPlants", "SpotMean", "other_plants", "others_of", "others_record"]

HOW = (
    "t interval over spots, exact limits of a Poisson count where all have the same; the model's "
    "own error isn't in it, since it isn't calibrated"
)
ALIKE = 1e-9
"""Spots whose spread is below this share of their mean have the same: counts over areas come back
from another unit with the last digits changed."""


@dataclass(frozen=True)
class SpotMean:
    """Mean over spots, with the t interval that their differences give it.

    ``low`` and ``high`` are None with one spot, which says nothing of the rest of the field.
    ``alike`` is True where all of several spots have the same: their differences would make it
    certain. A density then has the limits of a count by chance alone, a cover has none.
    """

    mean: float
    low: float | None
    high: float | None
    level: float
    spots: int
    alike: bool = False

    def times(self, factor: float) -> dict[str, Any]:
        """Plain values in another unit."""
        low, high = (None if end is None else end * factor for end in (self.low, self.high))
        return {
            "mean": self.mean * factor,
            "low": low,
            "high": high,
            "level": self.level,
            "spots": self.spots,
            "alike": self.alike,
        }


@dataclass(frozen=True)
class OtherPlants:
    """Plants that aren't the crop, of a whole field.

    Attributes
    ----------
    cover : SpotMean
        Share of the ground, 0 to 1.
    per_m2 : SpotMean or None
        How many; None where no photo's model can tell.
    """

    cover: SpotMean
    per_m2: SpotMean | None


def other_plants(spots: Sequence[SpotDensity], level: float) -> OtherPlants | None:
    """What the photos among ``spots`` say; None where none says anything."""
    cover = _mean(spots, "other_cover", level, most=1.0)
    return None if cover is None else OtherPlants(cover, _mean(spots, "other_per_m2", level))


def _mean(
    spots: Sequence[SpotDensity], name: str, level: float, most: float = math.inf
) -> SpotMean | None:
    by_photo = [
        (mean_of(seen, name), seen)
        for hands, photos in by_spot(spots)
        # a photo whose counts a person corrected still shows what else grows there
        for seen in [photos if any(getattr(one, name) is not None for one in photos) else hands]
    ]
    values = [value for value, _ in by_photo if value is not None]
    if not values:
        return None
    n, mean = len(values), math.fsum(values) / len(values)
    spread = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)) if n > 1 else 0.0
    if n == 1:
        return SpotMean(mean, None, None, level, n)
    if spread <= ALIKE * max(mean, 1e-12):
        if name != "other_per_m2":
            return SpotMean(mean, None, None, level, n, alike=True)
        looked = [one for _, photos in by_photo for one in photos if one.other_per_m2 is not None]
        area = math.fsum(one.area_m2 for one in looked)
        low, high = _by_chance(mean * area, level)
        return SpotMean(mean, low / area, high / area, level, n, alike=True)
    half = student((1 + level) / 2, n - 1) * spread / math.sqrt(n)
    return SpotMean(mean, max(0.0, mean - half), min(most, mean + half), level, n)


def _by_chance(count: float, level: float) -> tuple[float, float]:
    """Exact limits of a Poisson count (Garwood 1936, Biometrika 28:437-442)."""
    from scipy import special

    upper = (1 + level) / 2
    low = float(special.gammaincinv(count, 1 - upper)) if count > 0 else 0.0
    return low, float(special.gammaincinv(count + 1, upper))


def others_of(
    record: Mapping[str, Any], area_m2: float, where: str
) -> tuple[float | None, float | None]:
    """Cover (0 to 1) and density (per m²) of other plants in one entry of a counts file.

    Raises
    ------
    InputError
        A value that can't be.
    """
    cover, count = (
        value.get(key) if isinstance(value := record.get(name), Mapping) else None
        for name, key in (("cover", "other_plants"), ("other_plants", "count"))
    )
    for value, name, most in (
        (cover, "cover.other_plants", 1.001),  # shares are rounded
        (count, "other_plants.count", math.inf),
    ):
        good = isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < most
        if value is not None and not good:
            raise InputError(f"{where}, {name}: {value!r} can't be; make the counts file again")
    return cover, None if count is None else count / area_m2


def others_record(found: OtherPlants | None) -> dict[str, Any] | None:
    """As plain values."""
    if found is None:
        return None
    return {
        "cover": found.cover.times(1.0),
        "per_ft2": None if found.per_m2 is None else found.per_m2.times(per_ft2(1.0)),
        "per_m2": None if found.per_m2 is None else found.per_m2.times(1.0),
        "how": HOW,
    }
