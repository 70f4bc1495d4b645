"""A focal length for photos that don't state theirs.

A crop, a zoom or a messenger's copy has lost it. Three things still say something: phones have
one usual lens, and a crop only makes it longer; photos of a frame on the ground are taken by a
person standing or crouching over it; and a square seen at a slant has right angles for one
focal length only. What depends on it is small (how far the ground lies below the pipe's edge),
so a rough answer is enough.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.projection import mm_per_px, view_of

__all__ = ["likely_focal_px"]

Array = NDArray[Any]

USUAL_DISTANCE_MM = 900.0
"""Phone to ground of a person who photographs a frame at their feet (common practice)."""
DISTANCE_SPREAD = 0.35
LONGER_SPREAD, SHORTER_SPREAD = 0.6, 0.12
"""Of the logarithm: crops and zooms lengthen a lens, hardly anything shortens it."""
STRETCH_SPREAD, SKEW_SPREAD_DEG = 0.012, 0.7
"""How well the corners of a hand-made frame are known."""


def likely_focal_px(
    plane_to_photo: Array,
    usual_px: float,
    centre_px: tuple[float, float],
    *,
    shape_known: bool,
) -> float:
    """Most likely focal length, px.

    Parameters
    ----------
    plane_to_photo : ndarray (3, 3)
        Ground mm to px.
    usual_px : float
        The usual lens, if the photo were whole.
    shape_known : bool
        The homography comes from four corners; a circle's alone says nothing of the angles.
    """
    scale = 1 / mm_per_px(plane_to_photo)
    logs = math.log(usual_px) + np.linspace(-0.3, 1.6, 77)
    cost = np.empty_like(logs)
    for i, log in enumerate(logs):
        focal = math.exp(log)
        longer = log - math.log(usual_px)
        spread = LONGER_SPREAD if longer > 0 else SHORTER_SPREAD
        distance = math.log(focal / scale / USUAL_DISTANCE_MM)
        cost[i] = (longer / spread) ** 2 + (distance / DISTANCE_SPREAD) ** 2
        if shape_known:
            view = view_of(plane_to_photo, focal, centre_px)
            cost[i] += (math.log(view.stretch) / STRETCH_SPREAD) ** 2
            cost[i] += (view.skew_deg / SKEW_SPREAD_DEG) ** 2
    weight = np.exp(-0.5 * (cost - cost.min()))
    # the step down to the ground goes with one over the focal length: that is what is averaged
    return float(weight.sum() / (weight * np.exp(-logs)).sum())
