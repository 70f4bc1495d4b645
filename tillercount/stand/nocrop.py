"""A verdict that rests on whole photos with hardly any crop, which may show anything."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.field.photoflags import flag_name
from tillercount.nocrop import NO_CROP, NO_CROP_WORDS
from tillercount.stand.classify import Hold

__all__ = ["without_crop"]


def without_crop(estimate: FieldEstimate, what: str) -> Hold | None:
    """Why ``what`` isn't called clear where half of its spots or more are such photos; else None.
    """
    entered = estimate.entered(what)
    bare = [
        spot
        for spot in entered
        if spot.by(what) == "photo" and any(flag_name(flag) == NO_CROP for flag in spot.flags)
    ]
    if not bare or 2 * len(bare) < len(entered):
        return None
    return Hold(
        f"{NO_CROP_WORDS} in the photos of {len(bare)} of {len(entered)} spots, and without a "
        "frame nothing says that they show the field",
        "Leave out the photos that don't show ground of the field, count the spots of the others "
        "by hand, 0 where nothing grows, and assess again.",
        counts=True,
    )
