"""Looking closer: the part of a photo that holds a frame which fills little of it.

From waist height a phone's main lens shows three feet of ground, and a foot of it is the frame.
The finder sees every photo 640 px wide, so there the pipe is a pixel or two; in a window around
the frame it is as wide as in a photo taken close by.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.cvcompat import contours
from tillercount.frame.finder import Finder, Maps, Picture, picture_of
from tillercount.frame.row import rough_ends
from tillercount.photo import Photo

__all__ = ["look_closer"]

SMALL = 0.5
"""A frame that spans less than this share of the photo either way is looked at closer."""
ROOM = 1.7
"""Size of the window, of what it shall hold."""
BORDER = 0.25
"""Of the inside's size: so much more, the pipe and what lies beside it, must show about it."""
MIDDLE = 0.55
"""Share of the photo, each way, that is looked at where the whole shows nothing."""
LEAST_SPAN = 0.06
LEAST_PRESENCE = 0.5
LEAST_GAIN = 1.25

Window = tuple[int, int, int, int]


def look_closer(photo: Photo, finder: Finder, wanted: str) -> tuple[Picture, Maps]:
    """The photo, or the window of it that shows the frame large enough, and the finder's maps.

    ``wanted``: ``quad``, ``hoop`` or ``row``. Where no window shows a frame, the whole photo.
    """
    first = best = _look(photo, finder, None)
    if not _shows(first[1]):
        best = _look(photo, finder, _about_middle(photo))
        if not _shows(best[1]):
            return first
    span = _span(*best, wanted)
    if span is None:
        return best
    # in photo px from here on
    picture = best[0]
    corner = np.array(picture.corner_px) + span[0] * picture.per_px
    size = (span[1] - span[0]) * picture.per_px
    height, width = photo.rgb.shape[:2]
    # as wide for its height as the photo is, whatever the frame's own shape
    share = max(size[0] / width, size[1] / height) * ROOM
    wide, tall = width * share, height * share
    middle_px = corner + size / 2
    window = _window(middle_px[0] - wide / 2, middle_px[1] - tall / 2, wide, tall, photo)
    near = (size > SMALL * np.array([width, height])).any()
    seen_px = np.array(picture.shape[::-1]) * picture.per_px
    gains = not near and (window[2] - window[0]) * LEAST_GAIN <= seen_px[0]
    # what the middle shows may reach beyond it: no border of our own making must cut a hoop
    cut = best is not first and not _holds(picture.corner_px, seen_px, corner, size, photo)
    if not gains and not cut:
        return best
    closer = _look(photo, finder, window)
    return closer if _shows(closer[1]) else best


def _about_middle(photo: Photo) -> Window:
    height, width = photo.rgb.shape[:2]
    inset = (1 - MIDDLE) / 2
    return _window(width * inset, height * inset, width * MIDDLE, height * MIDDLE, photo)


def _holds(
    left_top: tuple[int, int], seen_px: NDArray[Any], corner: NDArray[Any], size: NDArray[Any],
    photo: Photo,
) -> bool:
    """Whether a window shows what it found with `BORDER` about it, or as far as the photo goes."""
    photo_px = np.array(photo.rgb.shape[1::-1])
    low = np.maximum(corner - BORDER * size, 0)
    high = np.minimum(corner + (1 + BORDER) * size, photo_px)
    start = np.array(left_top)
    return bool((low >= start).all() and (high <= start + seen_px).all())


def _look(photo: Photo, finder: Finder, window: Window | None) -> tuple[Picture, Maps]:
    picture = picture_of(photo.rgb, photo.focal_px, photo.focal_known, window)
    return picture, finder(picture)


def _shows(maps: Maps) -> bool:
    return 1 - maps.kinds["none"] >= LEAST_PRESENCE


def _window(left: float, top: float, wide: float, tall: float, photo: Photo) -> Window:
    """A window of this size, moved into the photo."""
    height, width = photo.rgb.shape[:2]
    w, h = min(width, round(wide)), min(height, round(tall))
    x = min(max(0, round(left)), width - w)
    y = min(max(0, round(top)), height - h)
    return x, y, x + w, y + h


def _span(picture: Picture, maps: Maps, wanted: str) -> tuple[NDArray[Any], NDArray[Any]] | None:
    """Corners (2,), (2,) px of the box around what looks like the frame; None for a speck."""
    if wanted == "row":
        ends = rough_ends(maps)
        if ends is None:
            return None
        box = np.array([ends.min(0), ends.max(0)])
    else:
        lines = [line for line in contours(maps.inside > 0) if len(line) > 8]
        if not lines:
            return None
        main = max(lines, key=lambda line: float(np.ptp(line, axis=0).max()))
        corners = np.column_stack([[main.min(0), main.max(0)], np.ones(2)])
        box = (corners @ maps.to_picture.T)[:, :2]
    if (box[1] - box[0]).max() < LEAST_SPAN * max(picture.shape):
        return None
    return box[0], box[1]
