"""What else stands in the way of a frame that wasn't found: blur, and corners outside the photo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tillercount.cvcompat import shrink
from tillercount.frame.result import FrameNotFound
from tillercount.photo import Photo
from tillercount.sharpness import edge_width_mm

__all__ = ["cut_off", "explained", "is_blurred"]

JUDGED_AT_PX = 600
"""Short side of the picture in which blur is judged where the scale isn't known."""
BLURRED_PX = 6.0
"""Edges of 1 % of the short side and more; a foot of ground across it makes that 3 mm, near the
limit of sharpness that counts have. Sharp photos of three renderers read 0 to 3.5."""
OUTSIDE_PX = 1.0


def explained(refusal: FrameNotFound, photo: Photo) -> FrameNotFound:
    """The refusal with what the photo shows of its cause; blur comes first, for it hides all else.
    """
    outline = refusal.evidence.get("outline_px")
    cut = cut_off(np.array(outline), photo) if outline else ""
    if is_blurred(photo):
        return replace(
            refusal,
            reason=f"the photo is blurred, so the frame in it isn't clear{cut and '; ' + cut}",
            todo=f"{'step back until the whole frame is in the photo, ' if cut else ''}hold still, "
            "wipe the lens, tap on the plants to focus, and take the photo again",
        )
    if not cut:
        return refusal
    height, width = photo.rgb.shape[:2]
    outside = (
        "(corners given with --corners may lie outside it: below 0, or beyond its "
        f"{width} × {height} px), "
    )
    by_hand = outside if "--corners" in refusal.todo else "and "
    todo = f"step back until the whole frame is in the photo {by_hand}{refusal.todo}"
    if refusal.todo.startswith("step back") and by_hand != outside:
        todo = refusal.todo
    return replace(refusal, reason=f"{refusal.reason}; {cut}", todo=todo)


def is_blurred(photo: Photo) -> bool:
    """Whether even the sharpest edges are wide, as a share of the photo."""
    height, width = photo.rgb.shape[:2]
    share = min(1.0, JUDGED_AT_PX / min(height, width))
    small = shrink(photo.rgb, max(1, round(width * share)), max(1, round(height * share)))
    return edge_width_mm(small, np.ones(small.shape[:2], bool), 1.0) > BLURRED_PX


def cut_off(outline_px: NDArray[np.float64], photo: Photo) -> str:
    """Where an outline (N, 2) px leaves the photo, in words; empty if it doesn't."""
    height, width = photo.rgb.shape[:2]
    x, y = outline_px.T
    beyond = {
        "top": y < -OUTSIDE_PX,
        "right": x > width - 1 + OUTSIDE_PX,
        "bottom": y > height - 1 + OUTSIDE_PX,
        "left": x < -OUTSIDE_PX,
    }
    sides = [name for name, out in beyond.items() if out.any()]
    if not sides:
        return ""
    where = " and the ".join(sides)
    if len(outline_px) > 4:
        return f"it is cut off at the {where} of the photo"
    corners = int(np.any(list(beyond.values()), axis=0).sum())
    are = "a corner lies" if corners == 1 else f"{corners} corners lie"
    return f"{are} outside the photo, at the {where}"
