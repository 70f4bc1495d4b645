"""The clearest step of colour near an edge, to a fraction of a pixel.

Learned colours say which run of a profile is the frame, but a blurred rim or a flank a little
darker than the rest falls out of it, by a pixel or three, and more often into the frame than out of
it. Where the frame ends the picture takes a step, whatever its colours are.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["SIDE_PX", "at_steps", "clearest", "step_sizes"]

Array = NDArray[Any]

SIDE_PX = 3.0
"""Colours are compared over so much on either side."""
ALONG = 5
"""Profiles that are looked at together: an edge runs on along the line, grain and leaves don't."""
REACH_PX, REACH = 1.5, 0.05
"""How far a step may lie from the end of the run, at least, and of the frame's width: what is
further off is the rim of a shadow, a lath's face, or a pipe's light."""
NEARER = 0.3
"""How much less a step counts at the end of that reach.

On 51,000,000s the outline's median error (1 - IoU) falls from 0.0032 to 0.0027 for hoops and from
0.0041 to 0.0029 for squares, and what 19 of 20 stay under from 0.0098 to 0.0063 and from 0.0167 to
0.0154. None of these numbers matters much: with `SIDE_PX` 2 or 4.5, `ALONG` 9, or a reach from 1.5
px and 0.04 to 2.5 px and 0.1 the medians are within a sixth of that. Of these reaches a short one
was taken for dark frames painted by the tests beside deep shadows, whose rim a longer one takes.
"""


def at_steps(
    rgb: NDArray[np.float32],
    first_px: float,
    step_px: float,
    edges: tuple[Array, Array],
    width_px: float,
) -> tuple[Array, Array]:
    """Where both edges of a frame lie, by the clearest steps near where its colours end.

    Parameters
    ----------
    rgb : ndarray (N, T, 3)
        Profiles across the frame, laid side by side along it.
    first_px, step_px : float
        Where the first sample begins, and how long each is.
    edges : tuple of ndarray (N,)
        Where the run of the frame's colours starts and stops, px.
    width_px : float
        The frame's usual width.
    """
    sizes = step_sizes(rgb, step_px)
    reach = max(REACH_PX, REACH * width_px)
    start, stop = (clearest(sizes, first_px, step_px, edge, reach)[0] for edge in edges)
    return start, stop


def clearest(
    sizes: NDArray[np.float32],
    first_px: float,
    step_px: float,
    edge: Array,
    reach_px: float,
    nearer: float = NEARER,
) -> tuple[Array, Array]:
    """Where (N,) px the clearest step within reach of each edge lies, and how large (N,) it is.

    ``sizes`` (N, T + 1) as of `step_sizes`, the first of them at ``first_px``; ``nearer`` as
    `NEARER`.
    """
    reach = round(reach_px / step_px)
    away = np.arange(-reach, reach + 1)
    less = 1 - nearer * (away / (reach + 1)) ** 2
    rows = np.arange(len(sizes))
    here = np.round((edge - first_px) / step_px).astype(int)
    near = np.clip(here[:, None] + away, 1, sizes.shape[1] - 2)
    at = near[rows, np.argmax(sizes[rows[:, None], near] * less, 1)]
    before, peak, after = (sizes[rows, at + k] for k in (-1, 0, 1))
    # the top of the parabola through three samples
    bend = np.minimum(before - 2 * peak + after, -1e-6)
    part = np.clip((before - after) / (2 * bend), -0.5, 0.5)
    return first_px + (at + part) * step_px, peak


def step_sizes(rgb: NDArray[np.float32], step_px: float) -> NDArray[np.float32]:
    """How much the colours of profiles (N, T, 3) change before each sample: (N, T + 1), of 255,
    0 near the ends."""
    side = round(SIDE_PX / step_px)
    after = cv2.boxFilter(
        rgb, -1, (side, ALONG), anchor=(0, ALONG // 2), borderType=cv2.BORDER_REPLICATE
    )
    out = np.zeros((rgb.shape[0], rgb.shape[1] + 1), np.float32)
    change = after[:, side:] - after[:, :-side]
    out[:, side:-1] = np.sqrt(np.einsum("ntc,ntc->nt", change, change))
    return out
