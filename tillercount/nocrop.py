"""Whole photos in which hardly any crop is seen.

A frame that was found says that somebody laid it out to be counted. A whole photo has nothing of
the kind: a table, a floor or a wall is taken for so much bare ground.
"""

from __future__ import annotations

from collections.abc import Iterable

from tillercount.area import Area, WholePhoto
from tillercount.checklimits import percent
from tillercount.names import first_few
from tillercount.spot import Flag

__all__ = ["NO_CROP", "NO_CROP_WORDS", "no_crop_flag", "no_crop_line"]

NO_CROP = "hardly any crop"
NO_CROP_WORDS = "hardly any crop is seen"
"""In every flag of this kind, by which a season, which keeps texts alone, knows it again."""
LEAST_COVER = 0.03
"""Share of the photo under crop; a convention: two plants per ft² (929 cm²) of three leaves, each
10 by 0.5 cm (from memory). The model takes 1 to 2 % of a laid table, a cat or a rocket for crop."""


def no_crop_flag(area: Area, crop_share: float) -> Flag | None:
    """The flag of a whole photo with hardly any crop; None for one with more, and for every marked
    area."""
    if not isinstance(area, WholePhoto) or crop_share >= LEAST_COVER:
        return None
    return Flag(
        NO_CROP,
        f"{NO_CROP_WORDS} ({percent(crop_share)} of the photo): look whether it shows ground of "
        "the field at all, and leave it out if it doesn't",
    )


def no_crop_line(photos: Iterable[str]) -> str:
    """What is said of such photos before anything else."""
    return (
        f"{NO_CROP_WORDS} in {first_few(photos)}: where no frame was laid nothing says that a "
        "photo shows the field, and whatever it shows counts as bare ground. Look at each: leave "
        "out what isn't ground of the field, and count by hand too what is"
    )
