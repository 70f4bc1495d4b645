"""Photos that are all off from hand counts of the same spots by about the same factor.

A photo errs by about 30 % (``models/card.md``), and now one way, now the other. Where every pair
lies below 0.6, or every one above 1.7, something common to all is wrong, mostly the size that was
typed: a 12-in frame given as 18 in shows 0.44 of what stands there. One pair says little: by a
normal error of 30 % one of about twenty lies so far off; two on the same side are rare.
Threefold stops the assessment (`tillercount.field.contradiction`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.field.merge import pairs_of
from tillercount.field.sameground import FEWEST
from tillercount.field.spots import SpotDensity
from tillercount.names import first_few
from tillercount.twoforms import FRAME_AND_SIZE

__all__ = ["CommonRatio", "common_ratio"]

FEWEST_PAIRS = 2
LOW, HIGH = 0.6, 1.7
"""Photo against hand count, beyond which a pair is off: the project's judgement, about 1.7 times
either way, twice a photo's own error."""


@dataclass(frozen=True)
class CommonRatio:
    """Photos of spots counted by hand too, all off to the same side.

    Attributes
    ----------
    measures : tuple of str
        "plants", "shoots", or both.
    spots : tuple of str
        Where both were counted.
    ratio : float
        All photos to all hand counts, of what ``measures`` names first.
    agree : str
        What was counted both ways and isn't off; "" without.
    """

    measures: tuple[str, ...]
    spots: tuple[str, ...]
    ratio: float
    agree: str

    @property
    def seen(self) -> str:
        """What the photos show against what was counted by hand."""
        much = "about half of" if 0.42 <= self.ratio <= 0.58 else f"{self.ratio:.1f} times"
        what = " and ".join(self.measures)
        return (
            f"photos show {much} the {what} that were counted by hand at the same "
            f"{len(self.spots)} spots"
        )

    @property
    def todo(self) -> str:
        """What to look at first."""
        if self.agree:
            return (
                f"{self.agree} agree, so it isn't the size: look at what was counted as a plant "
                "(plants standing close are taken for one), and go by the hand counts"
            )
        off = math.sqrt(1 / self.ratio)
        way = "large" if off > 1 else "small"
        times = max(off, 1 / off)
        return (
            f"{FRAME_AND_SIZE.screen} (a size given {times:.1f} times too {way} would do that), "
            "and the area of the hand counts"
        )

    @property
    def line(self) -> str:
        """Both in one sentence, with the spots."""
        return f"{self.seen} ({first_few(self.spots)}), all of them to the same side: {self.todo}"


def common_ratio(spots: Sequence[SpotDensity]) -> CommonRatio | None:
    """Whether all photos of spots counted by hand too are off the same way; None where not.

    Parameters
    ----------
    spots : sequence of SpotDensity
        Photos and hand counts of the same spot side by side.
    """
    off: dict[str, tuple[float, tuple[str, ...]]] = {}
    fine = []
    for what in ("plants", "shoots"):
        # a ratio of a few is mostly chance
        pairs = [
            pair for pair in pairs_of(spots, what)
            if min(pair.hand, pair.photo) * pair.area_m2 >= FEWEST / 2
        ]
        if len(pairs) < FEWEST_PAIRS:
            continue
        ratios = [pair.photo / pair.hand for pair in pairs]
        if max(ratios) < LOW or min(ratios) > HIGH:
            whole = math.fsum(p.photo for p in pairs) / math.fsum(p.hand for p in pairs)
            off[what] = whole, tuple(pair.spot for pair in pairs)
        else:
            fine.append(what)
    if not off:
        return None
    measures = tuple(off)
    ratio, where = off[measures[0]]
    return CommonRatio(measures, where, ratio, " and ".join(fine))
