"""The marked area as the finder sees it: one patch of the map, and its rim."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.cvcompat import contours
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.projection import apply

__all__ = ["Region", "find_region", "pipe_rim"]

FINER = 4
BORDER_CELLS = 1.6
SMALLEST_SHARE = 0.015
RAYS, LIKELY_PIPE = 180, -1.5
"""Directions in which the pipe is looked for, and the odds (a logit) from which on it may be one.
"""


@dataclass(frozen=True, eq=False)
class Region:
    """The largest patch of a map.

    ``rim_px`` (N, 2) its rim in picture px, in order, the parts along the photo's border left
    out; ``hull_px`` (M, 2) the whole rim; ``share`` of the photo; ``solidity`` share of its
    convex hull that it fills; ``certainty`` mean probability inside.
    """

    rim_px: NDArray[np.float64]
    hull_px: NDArray[np.float64]
    share: float
    solidity: float
    certainty: float

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """Middle of the whole rim's bounding box, picture px."""
        middle: NDArray[np.float64] = (self.hull_px.min(0) + self.hull_px.max(0)) / 2
        return middle


def find_region(
    logits: NDArray[np.float32], maps: Maps, picture: Picture, level: float = 0.0
) -> Region | None:
    """The largest patch where the logits are above a level; None where there is hardly any."""
    h, w = logits.shape
    fine = cv2.resize(logits, (w * FINER, h * FINER), interpolation=cv2.INTER_LINEAR)
    mask = fine > level
    lines = contours(mask)
    if not lines:
        return None
    line = max(lines, key=lambda c: cv2.contourArea(c.astype(np.float32)))
    area = cv2.contourArea(line.astype(np.float32))
    share = area / mask.size
    if share < SMALLEST_SHARE:
        return None
    hull = cv2.convexHull(line.astype(np.float32))
    solidity = area / max(float(cv2.contourArea(hull)), 1.0)
    patch = np.zeros(mask.shape, np.uint8)
    cv2.fillPoly(patch, [line.astype(np.int32)], 1)
    certainty = float((1 / (1 + np.exp(-fine[patch > 0]))).mean())
    cells = (line + 0.5) / FINER - 0.5
    to_picture = maps.to_picture
    px = cells * [to_picture[0, 0], to_picture[1, 1]] + to_picture[:2, 2]
    edge = BORDER_CELLS * maps.cell_px
    height, width = picture.shape
    x, y = px.T
    free = (x > edge) & (x < width - 1 - edge) & (y > edge) & (y < height - 1 - edge)
    return Region(px[free], px, float(share), float(solidity), certainty)


def pipe_rim(maps: Maps, middle_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inner rim (N, 2) px of what may be pipe, in order around a place inside of it.

    Where the ground has the frame's colour, or thick leaves or shadows cross it, the patch of the
    inside leaks out or is eaten into; the pipe is then often still seen for itself.
    """
    y, x = np.nonzero(maps.tube > LIKELY_PIPE)
    px = apply(maps.to_picture, np.column_stack([x, y]).astype(float))
    away = px - middle_px
    ray = (np.arctan2(away[:, 1], away[:, 0]) / (2 * np.pi) % 1 * RAYS).astype(int) % RAYS
    order = np.lexsort((np.hypot(away[:, 0], away[:, 1]), ray))
    _, first = np.unique(ray[order], return_index=True)
    return px[order[first]]
