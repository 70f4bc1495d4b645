"""The inner face of a lath: between its upper edge and the ground, lit unlike both.

Seen from above its middle, each side of a lath shows a strip of its inner face, the wider the
taller the lath is and the nearer the camera. Where all strips are dark, or of the ground's
colour, the upper edges are read as the inside edges and the outline comes out some per cent too
large. A strip gives itself away: its lower border is straight, runs along the whole side, and
lies on all sides where one and the same thickness puts it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.frame.finder import Picture
from tillercount.frame.projection import apply
from tillercount.frame.settling import THICK, Seen, edge_lines, plane_of, settled

__all__ = ["read_at_the_top"]

Array = NDArray[Any]

THICKNESSES = np.geomspace(0.15, 1.2, 40)
"""Of the width, that are tried: those of `settling.THICK`, and a little more."""
PLACES = 60
"""Along a side."""
APART_PX = 1.5
"""Colours are compared so far on either side of a border."""
NOISE = 6.0
"""Of 255: less of a step than that tells nothing, however even the rest is."""
MOST = 6.0
"""How clear the border of one side may be at most, in steps of what chance makes: a furrow or the
rim of a shadow along one side mustn't decide alone."""
LEAST = 2 * MOST
"""Clear borders on as much as two sides must say that the edges were read at the top, and more
than say that they were read at the foot: two sides may have a shadow of one width along them, but
then the borders above the foot are as clear. Of 43 laths of development scenes, 11 of them hard
ones, this moves six, each from an IoU of 0.93 to 0.98 to one over 0.98. Of those that were read
right one has 14.0, but 18.0 for the foot, and the next one 11.2, which is near."""
LEAST_STRIP_PX = 3.5
"""A narrower strip can't be told from the blur of an edge."""


def read_at_the_top(picture: Picture, p: Array, seen: Seen) -> Array | None:
    """A lath whose upper edges are where its inside edges were read; None where nothing says so.

    Parameters
    ----------
    picture : Picture
    p : ndarray (10,)
        The lath as fitted with its inside edges on the ground, see `settling`.
    seen : Seen
    """
    _, foot = _clearest(picture, p, seen, _thicker, 8)
    raised = replace(seen, edge=np.where(seen.edge < 4, seen.edge + 8, seen.edge))
    start = p.copy()
    start[9] = math.log(THICK)
    top, _ = settled(start, "lath", raised)
    found, upper = _clearest(picture, top, seen, _lower, 0)
    return found if upper >= LEAST and upper > foot else None


def _thicker(p: Array, share: float) -> Array:
    """The same lath with its upper edges higher over the same ground."""
    out = p.copy()
    out[9] = math.log(share)
    return out


def _lower(p: Array, share: float) -> Array:
    """The same upper edges over ground that lies as much lower as the lath is thicker."""
    from scipy.spatial.transform import Rotation

    down_mm = (share - math.exp(p[9])) * math.exp(p[8])
    out = _thicker(p, share)
    out[3:6] -= Rotation.from_rotvec(p[:3]).as_matrix()[:, 2] * down_mm / 1000
    return out


def _clearest(
    picture: Picture, p: Array, seen: Seen, moved: Callable[[Array, float], Array], first: int
) -> tuple[Array, float]:
    """The thickness at which the second borders of all sides are clearest, and how clear.

    ``first``: number of the first of these four edges among those of `settling.edge_lines`.
    """
    tried = np.array([moved(p, share) for share in THICKNESSES])
    lines = edge_lines(tried, "lath", seen)
    clear = np.zeros(len(tried))
    for side in np.unique(seen.edge % 4):
        ends = _ends(tried, seen, int(side))
        middle = np.append(ends.mean(1), np.ones((len(ends), 1)), 1)
        strip = np.abs(((lines[:, 8 + side] - lines[:, side]) * middle).sum(1))
        border = _border(picture, lines[:, first + side], ends)
        clear += np.where(strip < LEAST_STRIP_PX, 0.0, border)
    best = int(np.argmax(clear))
    return tried[best], float(clear[best])


def _ends(p: Array, seen: Seen, side: int) -> Array:
    """Corners (K, 2, 2) px at both ends of a side, on the ground."""
    h, w = seen.half_mm[0], seen.half_mm[1]
    ring = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    x, y = seen.centre_px
    camera = np.array([[seen.focal_px, 0, x], [0, seen.focal_px, y], [0, 0, 1.0]])
    ends = ring[[side, (side + 1) % 4]]
    return np.array([apply(camera @ plane, ends) for plane in plane_of(p)[0]])


def _border(picture: Picture, line: Array, ends: Array) -> Array:
    """How clear a border along each line (K, 3) between its ends is, in steps of chance."""
    normal = line[:, None, :2]
    t = 0.06 + 0.88 * (np.arange(PLACES) + 0.5) / PLACES
    at = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * t[None, :, None]
    at = at - ((at * normal).sum(2) + line[:, None, 2])[..., None] * normal
    away = APART_PX * np.array([-3, -1, 1, 3])[:, None, None, None]
    four = (at + away * normal).astype(np.float32)
    flat = four.reshape(-1, PLACES, 2)
    rgb = cv2.remap(
        picture.rgb, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    step = np.diff(rgb.astype(np.float32).reshape(*four.shape[:3], 3), axis=0)
    # leaves and litter cross it here and there: the median doesn't mind
    middle = np.median(step, 2)
    spread = 1.4826 * np.median(np.abs(step[1] - middle[1][:, None]), 1)
    chance = 1.25 * (spread + NOISE) / math.sqrt(PLACES)
    # a slope, or the flank of a blurred edge beside it, isn't a border
    beside = (middle[0] + middle[2]) / 2 * np.sign(middle[1])
    peak = np.abs(middle[1]) - np.maximum(beside, 0)
    out: Array = np.clip((peak / chance).max(1), 0, MOST)
    return out
