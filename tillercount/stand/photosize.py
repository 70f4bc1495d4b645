"""Photos whose frame may be of another size than was given, and what that keeps back."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.field.photoflags import SIZE_FLAGS, flag_name
from tillercount.field.rowspacing import STICK_WORDS
from tillercount.stand.actions import named
from tillercount.stand.classify import Classified, Hold
from tillercount.twoforms import DRILL_ROWS

__all__ = ["corrected", "size_of_photos"]

MEASURE = (
    "Measure the frame, and check the size that was given and its unit. If it was wrong, count "
    "the photos again with the right one"
)


def corrected(estimate: FieldEstimate, what: str) -> bool:
    """Whether hand counts of the same spots correct the photos."""
    return any(
        f.what == what and f.method in ("difference", "regression") for f in estimate.double
    )


def size_of_photos(estimate: FieldEstimate, result: Classified) -> Hold | None:
    """Photos whose frame looks to be of another size than was given, where a result rests on them.

    None where fewer than half of them are flagged for it, where hand counts of the same spots
    correct them (which takes a wrong size out again), or where most spots were counted by hand.
    """
    what = result.rule.measures
    entered = estimate.entered(what)
    photos = [spot for spot in entered if spot.by(what) == "photo"]
    if corrected(estimate, what) or 2 * len(photos) < len(entered):
        return None
    found = [{flag_name(flag) for flag in spot.flags} & set(SIZE_FLAGS) for spot in photos]
    odd = [names for names in found if names]
    if not odd or 2 * len(odd) < len(photos):
        return _rows(estimate, result)
    of = f"({len(odd)} of {len(photos)} photo{'s' if len(photos) != 1 else ''})"
    by_rows = [spot for spot, names in zip(photos, found, strict=True) if names == {"row spacing"}]
    sticks = [spot for spot in by_rows if any(STICK_WORDS in flag for flag in spot.flags)]
    if len(sticks) == len(odd):
        return Hold(
            f"the row spacing or the stick's length looks wrong {of}",
            "Measure the stick, and from row to row across several rows, and check both sizes that "
            "were given and their units. If one was wrong, count the photos again with the right "
            "ones; if both were right, count the same spots by hand too, and assess again.",
            counts=True,
        )
    if all(names == {"scale"} for names in odd):
        return Hold(
            f"the size of the frame looks wrong, or the photos were taken from too far off {of}",
            f"{MEASURE}; if it was right, take the photos again from nearer. Or count the spots by "
            "hand, and assess again.",
            counts=True,
        )
    return Hold(
        f"the size of the frame looks wrong {of}",
        f"{MEASURE}; if it was right, count the same spots by hand too, and assess again.",
        counts=True,
    )


def _rows(estimate: FieldEstimate, result: Classified) -> Hold | None:
    """Rows that speak against a size, where they do so by themselves.

    Without the drill's own spacing they are no proof, so only a verdict is held back that might
    give the field up.
    """
    doubt = estimate.row_doubt
    if doubt is None:
        return None
    if not doubt.sure and all(band.early != "keep first" for band in named(result)):
        return None
    return Hold(
        doubt.why,
        f"{MEASURE}; if it was right, {DRILL_ROWS.screen}, and assess again.",
        counts=True,
    )
