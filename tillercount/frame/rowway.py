"""Do rows run along a stick, as far apart as was said? Green tells, against chance.

Each place with leaves has a phase: where it lies between two rows, were they to run in a given
direction. Rows make the phases agree. A few plants agree by chance as well, so the agreement
along the stick is measured against that of the same plants in all other directions. The stick's own
place, on which nothing can grow, would agree with itself, and is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.area import RowArea
from tillercount.frame.finder import Picture

__all__ = ["RowsAlong", "leaf_from", "rows_along"]

Array = NDArray[Any]

GREENER = 0.05
"""How much greener (see `Picture.green`) than the middle of the picture a leaf is."""
TURNS_DEG = np.arange(-90.0, 90.0, 3.0)
NEAR_DEG, FAR_DEG = 6.0, 15.0
LARGEST_TURN_DEG, CLEARLY = 7.5, 1.25
"""Rows run another way where green agrees best turned by more than this. Sticks are laid along rows
to a few degrees; in thin stands chance turns the best direction by more, so that there it must
agree so many times better."""
SPACINGS = (0.95, 1.0, 1.05)
"""A tilted camera sees rows a little nearer or further apart than they stand."""
REACH_ROWS = 2.5
CELLS = 16
"""Cells of the leaf map to a row spacing."""
LEAST_CELLS, LEAST_LEAF = 30, 0.05
STAND_OUT = 2.2
"""Agreement along the stick over that in other directions (root of the mean square) from which on
rows run along it."""
LEAST_FIT, FAR_OUT = 0.15, 3.0
"""Rows that agree by less than this must stand out by so much: ground of uneven colour, or the
grain of a dark photo, agrees a little in every direction, and some direction always best. Chosen on
rendered scenes of even seed: of 750 lines laid through photos of sticks across their rows, and
through photos of rods and hoses without rows, 14 pass, and 27 with `STAND_OUT` alone; of 32 sticks
found right 31. Of odd seed 10 of 791 pass, and 25 alone; of 42 found right 41 either way."""


@dataclass(frozen=True)
class RowsAlong:
    """How green stands along a stick.

    ``fit`` length of the mean of the phases' unit vectors, 0 to 1, of what leaves add to an even
    cover; ``stands_out`` how many times that of other directions it is; ``turned_deg`` direction of
    the best agreement, against the stick; ``turned_fit`` and ``turned_stands_out`` likewise for it.
    """

    fit: float
    stands_out: float
    turned_deg: float
    turned_fit: float
    turned_stands_out: float

    @property
    def clear(self) -> bool:
        """Whether rows run along the stick."""
        agree = self.stands_out >= (STAND_OUT if self.fit >= LEAST_FIT else FAR_OUT)
        return agree and not self.another_way

    @property
    def another_way(self) -> bool:
        """Whether rows as far apart as was said run clearly in another direction."""
        if abs(self.turned_deg) <= LARGEST_TURN_DEG or self.turned_stands_out < STAND_OUT:
            return False
        beyond_doubt = self.turned_stands_out >= 2 * STAND_OUT
        return beyond_doubt or self.turned_fit > CLEARLY * self.fit


def leaf_from(picture: Picture) -> float:
    """Greenness from which on a place is taken for leaf, going by this picture's own ground.

    Ground can be greenish and leaves blue; in early stands most of a picture is ground.
    """
    return float(np.median(picture.green[::3, ::3])) + GREENER


def rows_along(picture: Picture, ends: Array, area: RowArea, width_px: float = 0.0) -> RowsAlong:
    """How clearly rows run along a stick with these ends (2, 2) px, the given spacing apart.

    The stick itself, ``width_px`` wide, is no ground without plants: its place is left out.
    """
    d = ends[1] - ends[0]
    length = float(np.linalg.norm(d))
    spacing_px = length * area.spacing_mm / area.length_mm
    height, width = picture.shape
    green = (picture.green > leaf_from(picture)).astype(np.float32)
    share = min(1.0, CELLS / spacing_px)
    w, h = max(1, round(width * share)), max(1, round(height * share))
    leaf = np.asarray(cv2.resize(green, (w, h), interpolation=cv2.INTER_AREA), np.float32)
    if int((leaf > LEAST_LEAF).sum()) < LEAST_CELLS:
        return RowsAlong(0.0, 0.0, 0.0, 0.0, 0.0)
    y, x = np.indices(leaf.shape).reshape(2, -1)
    px = (np.column_stack([x, y]) + 0.5) * [width / w, height / h] - 0.5
    off = (px - ends.mean(0)) @ np.column_stack([d, [-d[1], d[0]]]) / length
    cell = max(width / w, height / h)
    beside = np.abs(off) > (np.array([length, width_px]) + cell) / 2
    px, cover = px[beside.any(1)], leaf.reshape(-1)[beside.any(1)]
    place = (px - ends.mean(0)) / spacing_px
    near_by = np.exp(-0.5 * (place**2).sum(1) / REACH_ROWS**2)
    # what is in view has a shape of its own: only what leaves add to an even cover counts
    mean = float((cover * near_by).sum() / near_by.sum())
    weight = (cover - mean) * near_by / max(float((cover * near_by).sum()), 1e-12)
    way = math.atan2(d[1], d[0]) + np.deg2rad(TURNS_DEG)
    agree = _agreement(place, weight, way)
    chance = math.sqrt(float((agree[np.abs(TURNS_DEG) >= FAR_DEG] ** 2).mean()))
    near = np.abs(TURNS_DEG) <= NEAR_DEG
    fit = max(float(_agreement(place, weight, way[near], f).max()) for f in SPACINGS)
    best = int(np.argmax(agree))
    others = (np.abs(TURNS_DEG - TURNS_DEG[best]) + 90) % 180 - 90
    around = math.sqrt(float((agree[np.abs(others) >= FAR_DEG] ** 2).mean()))
    return RowsAlong(
        fit,
        fit / max(chance, 1e-9),
        float(TURNS_DEG[best]),
        float(agree[best]),
        float(agree[best]) / max(around, 1e-9),
    )


def _agreement(place: Array, weight: Array, way: Array, nearer: float = 1.0) -> Array:
    """Agreement (K,) of places (N, 2) row spacings, were rows to run in each way (K,) rad.

    ``nearer``: by how much less than their spacing the rows are seen apart.
    """
    across = np.stack([np.sin(way), -np.cos(way)]) * (2 * np.pi * nearer)
    phase = place.astype(np.float32) @ across.astype(np.float32)
    one = weight.astype(np.float32)
    return np.asarray(np.hypot(one @ np.cos(phase), one @ np.sin(phase)), float)
