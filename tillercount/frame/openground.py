"""Whether ground shows where a hoop's pipe should be, whatever colours ground and pipe have.

What lies beside the pipe where it is seen tells the ground's colours, and what lies on it the
pipe's. A stretch without pipe, of which the better part is ground, is a gap in plain view: how much
of the rest leaves hide doesn't matter, nor whether the ground is green or yellow. A boot is no
ground, though it may have its colour: it is more even than ground is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.colours import likeness
from tillercount.frame.edges import look
from tillercount.frame.finder import Picture

__all__ = ["ground_gap_deg"]

Array = NDArray[Any]

ACROSS = np.arange(-2.0, 3.01, 0.125)
"""Places across the pipe that are looked at, of its width from the inside edge outwards."""
HALF = 0.3
PIPE = abs(ACROSS - 0.5) <= HALF
BESIDE = ((ACROSS >= -1.25) & (ACROSS <= -0.35)) | ((ACROSS >= 1.35) & (ACROSS <= 2.25))
BANDS = [abs(ACROSS - middle) <= HALF for middle in (-1.7, -1.1, -0.6, 1.6, 2.1, 2.7)]
"""Which of them are the pipe, which the ground, and bands of the ground as wide as the pipe's."""
SMOOTH = 5
"""Profiles whose colours are looked at together."""
CLEARLY = 1.0
"""How much likelier (a logarithm) a colour must be on the ground than on the pipe or on any other
thing, and the other way round."""
SPECK = 2
"""Profiles on either side of a speck that looks like the pipe: it doesn't end a gap."""
MOSTLY = 0.5
"""Share of a gap that must show ground: leaves, stones, another hose may lie across it."""
MORE_THAN_RED = 0.03
"""A leaf is by so much more greener than it is red, of the brightness, than the ground beside the
hoop: yellow soil is as green as many leaves (see `Picture.green`), but redder than it is green."""
GROUND = 0.25
"""That ground is what so much of all places there are at most as green over red as; it isn't
greener than red itself, or it would be a closed canopy."""
BESIDE_IT = 8
"""Profiles on either side of a gap of which none is compared with it: a thing over the pipe that
shows there is the same thing."""
EVEN = 0.1
"""Of stretches of ground as long elsewhere along the hoop so many are as even as chance makes them;
what is more even is a boot or a board. Two boots that seemed to be gaps of 55 and 58 degrees lie
below it, three open hoses above the middle."""
FEWEST_PLACES, EVERY = 12, 4


def ground_gap_deg(
    picture: Picture,
    inside_px: Array,
    normals: Array,
    width_px: float,
    good: NDArray[np.bool_],
    leaf: NDArray[np.bool_],
) -> float:
    """Longest stretch, degrees, without pipe, of which the better part is ground; 0 where none is.

    Parameters
    ----------
    picture : Picture
        The photo.
    inside_px, normals : ndarray (N, 2)
        Places all around the ellipse of the inside edge, picture px, and outwards from them.
    width_px : float
        The pipe's width.
    good : ndarray (N,) bool
        Where both edges of the pipe are seen.
    leaf : ndarray (N,) bool
        Where what lies there is greener than the photo's ground.
    """
    if not math.isfinite(width_px) or good.sum() < FEWEST_PLACES:
        return 0.0
    at = inside_px[:, None] + width_px * ACROSS[:, None] * normals[:, None]
    shown = picture.shows(at)
    rgb = look(picture.rgb, at)
    known = shown & good[:, None]
    to_ground, to_pipe = likeness(rgb, known & BESIDE, known & PIPE)
    over_red = (rgb[..., 1] - rgb[..., 0]) / np.maximum(rgb.sum(-1), 1)
    least_green = min(float(np.quantile(over_red[:, BESIDE], GROUND)), 0.0) + MORE_THAN_RED

    def is_ground(places: NDArray[np.bool_]) -> NDArray[np.bool_]:
        green = leaf & (over_red[:, places].mean(1) > least_green)
        clear = _together(to_ground[:, places].mean(1)) > CLEARLY
        return np.asarray(clear & ~green & shown[:, places].all(1))

    ground = is_ground(PIPE)
    first, length = _longest(ground, _together(to_pipe[:, PIPE].mean(1)) <= CLEARLY)
    gap = (first + np.arange(length)) % len(ground)
    if not length or _too_even(rgb, ground, is_ground, gap):
        return 0.0
    return length * 360 / len(ground)


def _together(values: Array) -> Array:
    """Means over `SMOOTH` neighbours all around."""
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(values, SMOOTH, axis=0, mode="wrap"))


def _longest(ground: NDArray[np.bool_], no_pipe: NDArray[np.bool_]) -> tuple[int, int]:
    """First profile and number of profiles of the longest stretch without pipe that begins and ends
    with ground and shows it over `MOSTLY` of its length."""
    from scipy.ndimage import binary_closing

    n = len(ground)
    closed = binary_closing(np.tile(no_pipe, 3), np.ones(2 * SPECK + 1))[n : 2 * n] | no_pipe
    start = 0 if closed.all() else int(np.argmin(closed))
    closed, ground = np.roll(closed, -start), np.roll(ground, -start)
    stretch = np.cumsum(~closed)
    shown = np.concatenate([[0], np.cumsum(ground)])
    at = np.flatnonzero(ground & closed)
    if not len(at):
        return 0, 0
    length = at[None] - at[:, None] + 1
    fits = (length > 0) & (stretch[at][None] == stretch[at][:, None])
    fits &= shown[at + 1][None] - shown[at][:, None] >= MOSTLY * length
    best = int(np.argmax(np.where(fits, length, 0)))
    i, j = divmod(best, len(at))
    return int(at[i] + start) % n, int(length[i, j])


def _too_even(
    rgb: NDArray[np.float32],
    ground: NDArray[np.bool_],
    is_ground: Callable[[NDArray[np.bool_]], NDArray[np.bool_]],
    gap: NDArray[np.intp],
) -> bool:
    """Whether what shows in a gap is more even than stretches of ground as long elsewhere."""
    n = len(ground)
    own = _unevenness(rgb, PIPE, ground, gap)
    near = np.zeros(n, bool)
    near[np.arange(gap[0] - BESIDE_IT, gap[0] + len(gap) + BESIDE_IT) % n] = True
    others = []
    for band in BANDS:
        here = is_ground(band)
        for first in range(0, n, EVERY):
            places = (first + np.arange(len(gap))) % n
            if not near[places].any() and here[places].mean() >= MOSTLY:
                others.append(_unevenness(rgb, band, here, places))
    return bool(others) and own < float(np.quantile(others, EVEN))


def _unevenness(
    rgb: NDArray[np.float32],
    across: NDArray[np.bool_],
    ground: NDArray[np.bool_],
    places: NDArray[np.intp],
) -> float:
    """How much the colour changes along a stretch of ground (root of the mean square)."""
    colours = _together(rgb[:, across].mean(1))[places[ground[places]]]
    return float(np.sqrt(((colours - colours.mean(0)) ** 2).sum(1).mean()))
