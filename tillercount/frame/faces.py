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
LEAST = 1.5 * MOST
"""How clear the foot must be on all sides together to say that the edges were read at the top.

It must be no less clear than where it lay, and both borders together clearer than the two there:
along two sides may lie a shadow of one width, but then what was taken for the foot is an edge as
clear. Of 56 laths of rendered frames, 8 made hard and 8 chosen because an outline had been poor,
eight come from an IoU of 0.94 to 0.98 to one over 0.98 by what is done here, and none goes the
other way.
"""
MANY_SIDES = 2.5 * MOST
"""How clear a foot must be that is less clear than where it lay. Where the foot was put exactly on
the upper edges nothing can be clearer, but a shadow lies along two sides at most, so a border that
clear along more of them is the foot. Of four such laths of development scenes, 3 to 7 % too large,
two are put right by it; of four that were right none is moved by more than 1 %.
"""
PAPER_THIN = 12.0
"""How much less all edges must cost (minus twice the logarithm of how likely they are) as those of
a top, to say so by themselves, whatever can be seen of a foot: on the ground they need a lath as
thin as paper. Exact edges of tops gain up to 15, a lath a tenth as thick as wide 7 at most. Of
139 fits to laths of rendered frames three that were 3 to 7 % too large gain 21 to 28 and are put
right by it; of the others that gain 12 or more none of an accepted frame is moved by 0.5 %.
"""
FOOT, UPPER = 0, 8
"""Numbers of the first of these four edges among those of `settling.edge_lines`."""
LEAST_STRIP_PX = 3.5
"""A narrower strip can't be told from the blur of an edge."""


def read_at_the_top(
    picture: Picture, p: Array, seen: Seen, cost: float = 0.0
) -> Array | None:
    """A lath whose upper edges are where inside edges were read; None where nothing says so.

    Parameters
    ----------
    picture : Picture
    p : ndarray (10,)
        The lath as fitted with its inside edges on the ground, see `settling`.
    seen : Seen
    cost : float, optional
        Of such a lath; with 0 only the picture counts.
    """
    here, clear = _clearest(picture, p, seen, _thicker, UPPER)
    # some edges read at the top and some at the foot leave a foot halfway: below upper borders
    # that are clear it is looked for anew
    below = here if clear < LEAST else _clearest(picture, here, seen, _lower, FOOT)[0]
    raised = replace(seen, edge=np.where(seen.edge < 4, seen.edge + 8, seen.edge))
    start = p.copy()
    start[9] = math.log(THICK)
    top, raised_cost = settled(start, "lath", raised)
    top, told = _clearest(picture, top, seen, _lower, FOOT)
    laths = np.array([here, below, top])
    foot = _clear(picture, laths, seen, FOOT, 0.0)
    both = foot + _clear(picture, laths, seen, UPPER)
    likelier = cost - raised_cost > PAPER_THIN
    if not likelier and told < (LEAST if foot[2] >= foot[0] else MANY_SIDES):
        both = both[:2]
    best = int(np.argmax(both))
    return laths[best] if best else None


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
    """The thickness at which one border of all sides is clearest, and how clear."""
    tried = np.array([moved(p, share) for share in THICKNESSES])
    clear = _clear(picture, tried, seen, first)
    best = int(np.argmax(clear))
    return tried[best], float(clear[best])


def _clear(
    picture: Picture, tried: Array, seen: Seen, first: int, least_px: float = LEAST_STRIP_PX
) -> Array:
    """How clear (K,) one border of all sides is, for laths (K, 10).

    ``first``: `FOOT` or `UPPER`; sides whose strip is narrower than ``least_px`` don't count.
    """
    lines = edge_lines(tried, "lath", seen)
    clear = np.zeros(len(tried))
    for side in np.unique(seen.edge % 4):
        ends = _ends(tried, seen, int(side))
        middle = np.append(ends.mean(1), np.ones((len(ends), 1)), 1)
        strip = np.abs(((lines[:, UPPER + side] - lines[:, side]) * middle).sum(1))
        border = _border(picture, lines[:, first + side], ends)
        clear += np.where(strip < least_px, 0.0, border)
    return clear


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
