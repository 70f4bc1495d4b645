"""Does the outline that was fitted agree with what the finder saw? Two witnesses, not one."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.frame.finder import Maps
from tillercount.frame.projection import apply

__all__ = ["agreement"]

Array = NDArray[Any]

SHIFT = 4


def agreement(maps: Maps, outline_px: Array, width_px: float) -> dict[str, float]:
    """How well a fitted inside edge (N, 2), picture px, agrees with the finder's maps.

    ``map_overlap``: overlap (intersection over union) of the outline and the finder's inside,
    each cell counted by its probability. ``pipe_inside``, ``pipe_outside``: mean probability of
    pipe in a band as wide as the pipe just inside and just outside the outline: an edge taken
    from the outer rim or from the shadow has pipe within, or none without.
    """
    h, w = maps.inside.shape
    inside = 1 / (1 + np.exp(-maps.inside))
    tube = 1 / (1 + np.exp(-maps.tube))
    cells = apply(maps.from_picture, outline_px)
    covered = _filled(cells, h, w)
    both = np.minimum(inside, covered).sum()
    either = np.maximum(inside, covered).sum()
    band = max(width_px / maps.cell_px, 1.5)
    far = cv2.distanceTransform((covered > 0.5).astype(np.uint8), cv2.DIST_L2, 3)
    away = cv2.distanceTransform((covered <= 0.5).astype(np.uint8), cv2.DIST_L2, 3)
    within, without = (far > 1) & (far <= 1 + band), (away > 0.5) & (away <= 0.5 + band)
    return {
        "map_overlap": round(float(both / max(either, 1e-6)), 3),
        "pipe_inside": round(float(tube[within].mean()) if within.any() else 0.0, 3),
        "pipe_outside": round(float(tube[without].mean()) if without.any() else 0.0, 3),
    }


def _filled(cells: Array, h: int, w: int) -> NDArray[np.float32]:
    """Share of each cell that a polygon (N, 2) covers, about."""
    canvas = np.zeros((h * 2, w * 2), np.uint8)
    points = np.clip((cells + 0.5) * 2 - 0.5, -30000, 30000)
    cv2.fillPoly(canvas, [np.round(points * (1 << SHIFT)).astype(np.int32)], 255, cv2.LINE_8, SHIFT)
    small = cv2.resize(canvas, (w, h), interpolation=cv2.INTER_AREA)
    share: NDArray[np.float32] = small.astype(np.float32) / np.float32(255)
    return share
