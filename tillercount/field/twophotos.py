"""Two photos of one spot that can't both be right: their mean isn't silently taken for it.

Photos of the same ground share most of their error, so they differ by little. Where two of one spot
differ `FOLD` times, and their intervals don't meet either, one of them is of another place, or its
frame was found wrongly. Nothing says which, so both are named and the mean stays until somebody
looks; its error is what they differ by (`tillercount.field.merge`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.field.contradiction import FEWEST
from tillercount.field.density import normal
from tillercount.field.merge import by_spot
from tillercount.field.spots import SpotDensity
from tillercount.rounding import figure
from tillercount.twoforms import TAKE_OUT
from tillercount.units import per_ft2

__all__ = ["FOLD", "PhotosApart", "photos_apart"]

FOLD = 2.0
"""Ratio from which two photos of one spot aren't averaged without a word: the project's judgement,
between that for two people (1.5) and that for a photo and a hand count (3)."""
_UPPER = 0.95
"""Upper end of the intervals that mustn't meet: 90 % ones, as counts files have them."""


@dataclass(frozen=True)
class PhotosApart:
    """The two photos of a spot that differ most in ``what``, per m².

    ``by_hand``: the spot was counted by hand as well, and that count is taken.
    """

    what: str
    spot: str
    more: str
    fewer: str
    more_per_m2: float
    fewer_per_m2: float
    by_hand: bool = False

    @property
    def line(self) -> str:
        """Which photos, how many each, what became of them, and what to do."""
        high, low = (figure(per_ft2(v), self.what) for v in (self.more_per_m2, self.fewer_per_m2))
        taken = "the hand count is taken" if self.by_hand else "their mean is no count of it"
        return (
            f"spot {self.spot}: {high} {self.what} per ft² by {self.more} and {low} by "
            f"{self.fewer} can't both be of one place, so {taken}; {self.remedy}"
        )

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return f"look at both photos, {TAKE_OUT.screen}, or count the spot by hand"


def photos_apart(spots: Sequence[SpotDensity]) -> list[PhotosApart]:
    """The two photos of each spot that differ more than their intervals allow.

    One line a spot: by plants, or where these agree by shoots.
    """
    found = []
    for hands, photos in by_spot(spots):
        if len(photos) < 2:
            continue
        for what in ("plants", "shoots"):
            name = f"{what}_per_m2"
            have = sorted(
                (s for s in photos if getattr(s, name) is not None),
                key=lambda s: float(getattr(s, name)),
            )
            if len(have) > 1 and _apart(have[0], have[-1], what):
                low, high = have[0], have[-1]
                found.append(
                    PhotosApart(
                        what, low.spot, _name(high), _name(low),
                        float(getattr(high, name)), float(getattr(low, name)),
                        any(getattr(s, name) is not None for s in hands),
                    )
                )  # fmt: skip
                break
    return found


def _apart(fewer: SpotDensity, more: SpotDensity, what: str) -> bool:
    low, high = (float(getattr(s, f"{what}_per_m2")) for s in (fewer, more))
    # a few plants more or less are chance where the frame lay a hand's breadth beside
    if high * more.area_m2 < FEWEST or high < FOLD * low:
        return False
    z = normal(_UPPER)
    up, down = (z * float(getattr(s, f"{what}_se")) for s in (fewer, more))
    return low + up < high - down


def _name(spot: SpotDensity) -> str:
    return spot.photo.replace("\\", "/").rsplit("/", 1)[-1] or "a photo without a name"
