"""Two photos of one place that can't both be right: their mean isn't silently taken for it.

Photos of the same ground share most of their error, so they differ by little. Where two differ
twofold, and their intervals don't meet either, one of them is of another place, or its frame was
found wrongly. Nothing says which, so both are named and the mean stays until somebody looks; its
error is what they differ by (`tillercount.field.merge`). Photos that lie farther apart
(`tillercount.field.sameground`) may well differ twofold: that is mentioned and nothing more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.field.apart import widest_m
from tillercount.field.merge import by_spot
from tillercount.field.sameground import FEWEST, PHOTO_FOLD, fold_apart, pair_apart
from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.positions import far_text
from tillercount.rounding import figure
from tillercount.twoforms import TAKE_OUT
from tillercount.units import per_ft2

__all__ = ["PhotosApart", "apart_lines", "averaged_line", "photos_apart"]

_WHAT = ("plants", "shoots")


@dataclass(frozen=True)
class PhotosApart:
    """The two photos of one place that differ most in ``what``, per m².

    ``key`` is the spot's name as it is compared. ``by_hand``: so many were counted by hand as well,
    and that count is taken.
    """

    what: str
    spot: str
    key: str
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
            f"{spot_text(self.spot)}: {high} {self.what} per ft² by {self.more} and {low} by "
            f"{self.fewer} can hardly both be of one place, so {taken}; {self.remedy}"
        )

    @property
    def remedy(self) -> str:
        """What to do about it."""
        if self.by_hand:
            return f"look at both photos, and {TAKE_OUT.screen}"
        return f"look at both photos, {TAKE_OUT.screen}, or count the spot by hand"


def photos_apart(spots: Sequence[SpotDensity]) -> list[PhotosApart]:
    """For each spot, and plants and shoots each, the two photos that contradict each other most."""
    found = []
    for hands, photos in by_spot(spots):
        for what in _WHAT if len(photos) > 1 else ():
            pair = pair_apart(photos, what)
            if pair is not None:
                name = f"{what}_per_m2"
                low, high = pair
                found.append(
                    PhotosApart(
                        what, low.spot, low.key, _name(high), _name(low),
                        float(getattr(high, name)), float(getattr(low, name)), _has(hands, what),
                    )
                )  # fmt: skip
    return found


def apart_lines(spots: Sequence[SpotDensity]) -> list[str]:
    """One line a spot; two where only its plants or only its shoots were counted by hand."""
    found = {(one.key, one.by_hand): one for one in reversed(photos_apart(spots))}
    return [one.line for one in reversed(found.values())]


def averaged_line(
    hands: Sequence[SpotDensity], photos: Sequence[SpotDensity], reported: Sequence[str]
) -> str:
    """That photos of a spot were averaged, and where they differ twofold; "" where nothing is left.

    ``reported``: of plants and shoots what `photos_apart` says already.
    """
    left = [
        what for what in _WHAT
        if what not in reported and sum(_has([one], what) for one in photos) > 1
    ]  # fmt: skip
    if reported and not left:
        return ""
    of = f"{left[0]} of " if reported else ""
    line = f"{spot_text(photos[0].spot)}: {of}{len(photos)} photo counts averaged into one value"
    for what in left:
        values = [float(v) for s in photos if (v := getattr(s, f"{what}_per_m2")) is not None]
        low, high = min(values), max(values)
        few = high * min(s.area_m2 for s in photos) < FEWEST
        if few or not fold_apart(low, high, PHOTO_FOLD) or _has(hands, what):
            continue
        away = widest_m(photos)
        far = f", up to {far_text(away)} apart" if away >= 1 else ""
        ends = f"{figure(per_ft2(low), what)} to {figure(per_ft2(high), what)} {what} per ft²"
        return f"{line}; they differ twofold or more ({ends}{far})"
    return line


def _has(spots: Sequence[SpotDensity], what: str) -> bool:
    return any(getattr(one, f"{what}_per_m2") is not None for one in spots)


def _name(spot: SpotDensity) -> str:
    return spot.photo.replace("\\", "/").rsplit("/", 1)[-1] or "a photo without a name"
