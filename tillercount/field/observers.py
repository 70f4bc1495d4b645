"""Two people who counted the same spots: do they count the same things?

For every two observers the spots that both counted are held against each other, as the ratio of
their sums. The ground is the same, so only counting differs; sums of counts scatter by less than
Poisson then. Given both sums together, one of them is binomial with the share R/(1+R) for a true
ratio R, and the exact (Clopper-Pearson) interval of that share is one for R: too wide rather than
too narrow here. Observers are told to differ where the ratio is `FOLD` or more, and its 95 %
interval leaves 1 out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tillercount.field.spots import SpotDensity
from tillercount.names import person_key
from tillercount.rounding import figure
from tillercount.units import per_ft2

__all__ = ["FEWEST", "FOLD", "ObserverDifference", "observer_differences", "spots_by_observer"]

FOLD = 1.5
"""Ratio from which two people's counts aren't averaged without a word: the project's judgement.
Readers of the same photos by eye differ by about a tenth each."""
FEWEST = 2
"""Shared spots below which nothing is said: one may be a slip of the pen."""
_LEVEL = 0.95
_NAMED = 4


@dataclass(frozen=True)
class ObserverDifference:
    """Two people's counts of the same spots.

    Attributes
    ----------
    what : {"plants", "shoots"}
    more, fewer : str
        Who counts more, who fewer.
    spots : tuple of str
    more_per_m2, fewer_per_m2 : tuple of float
        Spot by spot.
    ratio, low, high : float
        Of the sums, with its 95 % interval.
    """

    what: str
    more: str
    fewer: str
    spots: tuple[str, ...]
    more_per_m2: tuple[float, ...]
    fewer_per_m2: tuple[float, ...]
    ratio: float
    low: float
    high: float

    @property
    def differ(self) -> bool:
        """Whether that is more than chance and more than can be averaged away."""
        return self.ratio >= FOLD and self.low > 1.0

    @property
    def line(self) -> str:
        """Who counts how much more, where."""
        pairs = [
            f"{figure(per_ft2(a), self.what)} and {figure(per_ft2(b), self.what)}"
            for a, b in zip(self.more_per_m2, self.fewer_per_m2, strict=True)
        ][:_NAMED]
        more = " and so on" if len(self.spots) > _NAMED else ""
        times = f"{self.ratio:.1f} times as many" if math.isfinite(self.ratio) else "many"
        against = "as" if math.isfinite(self.ratio) else "where there were none for"
        same = f"on the same {len(self.spots)} spots ({'; '.join(pairs)}{more} per ft²)"
        return (
            f"“{self.more}” counts {times} {self.what} {against} “{self.fewer}” {same}, so at "
            "least one of them counts wrong, and their mean is wrong too"
        )

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return (
            f"Have “{self.more}” and “{self.fewer}” count one spot together, agree on what a "
            "plant and a shoot is, then correct the counts that were wrong or leave them out, and "
            "assess again."
        )

    def to_json(self) -> dict[str, Any]:
        """As plain values; None for infinity, which JSON doesn't know."""
        return {
            "measures": self.what,
            "more": self.more,
            "fewer": self.fewer,
            "spots": list(self.spots),
            "ratio": self.ratio if math.isfinite(self.ratio) else None,
            "low": self.low,
            "high": self.high if math.isfinite(self.high) else None,
            "differ": self.differ,
        }


def spots_by_observer(spots: Sequence[SpotDensity]) -> dict[str, tuple[str, ...]]:
    """Which spots each person counted by hand, as they wrote their name first."""
    names: dict[str, str] = {}
    whose: dict[str, list[str]] = {}
    for spot in spots:
        if spot.source != "hand":
            continue
        key = _key(spot)
        names.setdefault(key, " ".join(spot.observer.split()))
        whose.setdefault(key, []).append(spot.spot)
    return {names[key]: tuple(dict.fromkeys(mine)) for key, mine in whose.items()}


def observer_differences(spots: Sequence[SpotDensity]) -> list[ObserverDifference]:
    """Every two people with `FEWEST` shared spots or more, for plants and for shoots."""
    found = []
    for what in ("plants", "shoots"):
        by: dict[str, dict[str, SpotDensity]] = {}
        names: dict[str, str] = {}
        for spot in spots:
            if spot.source == "hand" and getattr(spot, f"{what}_per_m2") is not None:
                by.setdefault(_key(spot), {}).setdefault(spot.key, spot)
                names.setdefault(_key(spot), " ".join(spot.observer.split()) or "nobody named")
        for a, b in itertools.combinations(by, 2):
            shared = [key for key in by[a] if key in by[b]]
            if len(shared) < FEWEST:
                continue
            pairs = [(by[a][key], by[b][key]) for key in shared]
            found.append(_difference(what, names[a], names[b], pairs))
    return found


def _key(spot: SpotDensity) -> str:
    return person_key(spot.observer)


def _difference(
    what: str, a: str, b: str, pairs: Sequence[tuple[SpotDensity, SpotDensity]]
) -> ObserverDifference:
    name = f"{what}_per_m2"
    ones = tuple(float(getattr(one, name)) for one, _ in pairs)
    others = tuple(float(getattr(other, name)) for _, other in pairs)
    if math.fsum(ones) < math.fsum(others):
        a, b, ones, others = b, a, others, ones
        pairs = [(other, one) for one, other in pairs]
    ratio = math.fsum(ones) / math.fsum(others) if math.fsum(others) else math.inf
    if not math.fsum(ones):
        ratio = 1.0
    # as if both had counted in the smaller of their two areas
    area = [min(one.area_m2, other.area_m2) for one, other in pairs]
    low, high = _interval(
        math.fsum(x * m2 for x, m2 in zip(ones, area, strict=True)),
        math.fsum(y * m2 for y, m2 in zip(others, area, strict=True)),
    )
    spots = tuple(one.spot for one, _ in pairs)
    return ObserverDifference(what, a, b, spots, ones, others, ratio, low, high)


def _interval(more: float, fewer: float) -> tuple[float, float]:
    """Of the ratio of two sums of counts (Clopper and Pearson 1934, Biometrika 26:404-413)."""
    from scipy import special

    tail = (1 - _LEVEL) / 2
    low = float(special.betaincinv(more, fewer + 1, tail)) if more > 0 else 0.0
    high = float(special.betaincinv(more + 1, fewer, 1 - tail)) if fewer > 0 else 1.0
    return low / (1 - low), high / (1 - high) if high < 1 else math.inf
