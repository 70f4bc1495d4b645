"""Round or flat: how the brightness changes from one side of a pipe or lath to the other.

A round pipe is lit along its flank and dark along the other, with no edge between, under an
overcast sky too. The top of a lath is one plane and evenly lit; its inner face is another one,
and where they meet the brightness takes a step. It matters because a lath's inside edge is seen
on the ground and a pipe's half its width higher.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.frame.finder import Picture
from tillercount.frame.lines import fit_line

__all__ = ["Shading", "flat_chance", "shading_across"]

Array = NDArray[Any]

SAMPLES = 24
RIM = 3
"""Samples left out at each edge, where the ground shows through."""
LEAST_POINTS = 8
LEAST_WIDTH_PX = 8.0
BLOWN, DARK = 250.0, 8.0
NOISE = 0.012
"""Of the mean brightness: ripples as large as the grain of the photo tell nothing."""
RAMP = 2.0
"""Samples over which blur spreads a step."""
LIMIT = 1.5
"""Largest step of one side that counts: a stain mustn't decide alone."""
EVEN = 0.1
"""Change of brightness, of its mean, that tells nothing either way."""
UNEVEN_LIMIT = 1.0
"""Largest logarithm of it that counts: both a pipe in the sun and a lath whose face lies in the
shade go over that."""
ALONE, KNOWN, STEPPED, UNEVEN = -2.5, 0.6, 4.6, 4.0
FITS, FITS_ALONE = 0.3, 0.9
"""Logarithm of the odds of a lath before anything is seen, and what is added for seen sides, per
unit of the mean `Shading.step`, of the least `Shading.uneven`, and of how much better a lath fits
the edges; `FITS_ALONE` where the shading isn't known.

The most even side decides: a lath is uneven where its inner face shows beside its top, but no
light makes a round pipe even on any side. Fitted (logistic regression, weak ridge) to 72 rendered
squares and rectangles of even seeds, 21 of them laths. Where a frame is blown out the edges are
all there is: `FITS_ALONE` was set by hand on such laths that had been taken for pipes, and on some
20 such pipes, the best of which a lath fits better by 4. On 92 rendered frames of even seeds the
mean logarithm of the chance given to what was right is -0.07, on 88 of odd ones -0.14. The
finder's own opinion of flat or round, how clear a lath's second borders are (`faces`), and how
sharp the corners are added nothing there.
"""
FITS_LIMIT = 6.0


@dataclass(frozen=True)
class Shading:
    """Brightness across one side.

    ``step``: logarithm of what a step between two even planes leaves unexplained over what a
    smooth curve does; below 0 two planes fit better. ``uneven``: range of the brightness, of its
    mean.
    """

    step: float
    uneven: float


def shading_across(picture: Picture, inner: Array, outer: Array) -> Shading | None:
    """Shading of one side from places (N, 2) px on both edges; None where it can't be told."""
    if len(inner) < LEAST_POINTS:
        return None
    # straight edges: where single places jump from the lath's face to its top the step would blur
    first, last = fit_line(inner), fit_line(outer)
    start = inner - first.distance(inner)[:, None] * first.normal
    stop = outer - last.distance(outer)[:, None] * last.normal
    if not float(np.median(np.linalg.norm(stop - start, axis=1))) > LEAST_WIDTH_PX:
        return None
    share = (np.arange(SAMPLES) + 0.5) / SAMPLES
    at = start[:, None] + (stop - start)[:, None] * share[:, None]
    at = at.astype(np.float32)
    rgb = cv2.remap(
        picture.rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    places = rgb.astype(np.float32)[:, RIM:-RIM]
    # leaves and their shadows cross the pipe here and there: the median doesn't mind
    light = np.median(places, axis=0)
    # a blown channel looks even whatever the shape
    tells = (light.max(0) < BLOWN) & (light.mean(0) > DARK)
    if not tells.any():
        return None
    # each place by itself: painted stripes and shadows change the brightness along the side
    each = places[..., tells].mean(2)
    mean = np.median(each / np.maximum(each.mean(1, keepdims=True), 1.0), axis=0)
    return _shading(mean / mean.mean())


def _shading(light: Array) -> Shading:
    n = len(light)
    s = np.linspace(-1, 1, n)
    smooth = np.stack([np.ones(n), s, s * s], 1)
    left = light - smooth @ np.linalg.lstsq(smooth, light, rcond=None)[0]
    # a step at each place: the ramp, centred, explains its own share of the variance
    places = np.arange(1.0, n - 1, 0.5)[:, None]
    ramp = np.clip((np.arange(n) - places) / RAMP + 0.5, 0, 1)
    ramp -= ramp.mean(1, keepdims=True)
    centred = light - light.mean()
    told = (ramp @ centred) ** 2 / (ramp**2).sum(1)
    floor = n * NOISE**2
    planes = max(float((centred**2).sum() - told.max()), 0.0)
    step = math.log((planes + floor) / (float((left**2).sum()) + floor))
    return Shading(step, float(np.ptp(light)))


def flat_chance(shading: Sequence[Shading | None], fits: float) -> float:
    """Probability of a lath.

    ``fits``: logarithm of how much better a lath than a pipe fits the edges of all sides.
    """
    fits = min(FITS_LIMIT, max(-FITS_LIMIT, fits))
    known = [s for s in shading if s is not None]
    odds = ALONE + (FITS if len(known) >= 2 else FITS_ALONE) * fits
    if len(known) >= 2:
        step = sum(min(LIMIT, max(-LIMIT, s.step)) for s in known) / len(known)
        uneven = math.log(max(0.02, min(s.uneven for s in known)) / EVEN)
        odds += KNOWN - STEPPED * step - UNEVEN * min(UNEVEN_LIMIT, uneven)
    return 1 / (1 + math.exp(-odds))
