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
BLOWN_RIM_PX, LEAST_LEFT = 2.0, 3
"""Left out at each edge where the frame is blown out, for blur, and the fewest other samples that
must be left: only a narrow face, or the flank of a pipe, still shows how bright it is there."""
MIXED = 0.25
"""Share of the places, blown out over more than half the width, from which on stripes count (by
judgement)."""
NOISE = 0.012
"""Of the mean brightness: ripples as large as the grain of the photo tell nothing."""
RAMP = 2.0
"""Samples over which blur spreads a step."""
DAWN = (5.0, 7.0, 9.0)
"""Samples from the shade on a pipe's flank to where it is blown out, at least (by judgement)."""
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
20 such pipes, the best of which a lath fits better by 4. Where it is blown out in part, its steps
count as much as elsewhere: the mean logarithm of the chance given to what was right went from
-0.67 to -0.43 on 17 such frames of even seeds, and from -0.13 to -0.14 on 12 of odd ones; three
of the former, whose outlines had been poor, led to it. On 92 rendered frames of even seeds it is
-0.07, on 88 of odd ones -0.14. The finder's own opinion of flat or round, how clear a lath's second
borders are (`faces`), how sharp the corners are, and ends beyond them (`corners`) added nothing
there.
"""
FITS_LIMIT = 6.0


@dataclass(frozen=True)
class Shading:
    """Brightness across one side.

    ``step``: logarithm of what a step between two even planes leaves unexplained over what a
    smooth curve does; below 0 two planes fit better. ``uneven``: range of the brightness, of its
    mean; None where a part is blown out.
    """

    step: float
    uneven: float | None


def shading_across(picture: Picture, inner: Array, outer: Array) -> Shading | None:
    """Shading of one side from places (N, 2) px on both edges; None where it can't be told."""
    if len(inner) < LEAST_POINTS:
        return None
    # straight edges: where single places jump from the lath's face to its top the step would blur
    first, last = fit_line(inner), fit_line(outer)
    start = inner - first.distance(inner)[:, None] * first.normal
    stop = outer - last.distance(outer)[:, None] * last.normal
    width_px = float(np.median(np.linalg.norm(stop - start, axis=1)))
    if not width_px > LEAST_WIDTH_PX:
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
    # a blown channel looks even whatever the shape, and so does one that is blown along stripes of
    # one colour, while those of the other have hardly any of it
    mixed = np.array([_striped(places[..., c]) for c in range(3)])
    tells = (light.max(0) < BLOWN) & (light.mean(0) > DARK) & ~mixed
    if not tells.any():
        rim = math.ceil(BLOWN_RIM_PX / width_px * SAMPLES)
        whole = rgb.astype(np.float32)[:, rim : SAMPLES - rim]
        whole[..., mixed & (light.max(0) < BLOWN)] = BLOWN
        return _partly_blown(np.median(whole, axis=0)) if whole.size else None
    # each place by itself: painted stripes and shadows change the brightness along the side
    each = places[..., tells].mean(2)
    mean = np.median(each / np.maximum(each.mean(1, keepdims=True), 1.0), axis=0)
    return _shading(mean / mean.mean())


def _striped(places: Array) -> bool:
    """Whether one channel (N, S) is blown out along stripes and dark between them."""
    blown = (places >= BLOWN).mean(1) > 0.5
    if blown.all() or blown.mean() < MIXED:
        return False
    return float(np.median(places[~blown])) < BLOWN / 2


def _shading(light: Array) -> Shading:
    n = len(light)
    s = np.linspace(-1, 1, n)
    smooth = np.stack([np.ones(n), s, s * s], 1)
    left = light - smooth @ np.linalg.lstsq(smooth, light, rcond=None)[0]
    return Shading(_step(light, float((left**2).sum())), float(np.ptp(light)))


def _step(light: Array, smooth: float) -> float:
    """`Shading.step` of brightness (N,), of its mean; ``smooth``: squares that a curve leaves."""
    floor = len(light) * NOISE**2
    return math.log((_planes_leave(light, RAMP) + floor) / (smooth + floor))


def _planes_leave(light: Array, ramp_long: float) -> float:
    """Squares that two even planes, with so many samples from one to the other, leave."""
    n = len(light)
    # a step at each place: the ramp, centred, explains its own share of the variance
    places = np.arange(1.0, n - 1, 0.5)[:, None]
    ramp = np.clip((np.arange(n) - places) / ramp_long + 0.5, 0, 1)
    ramp -= ramp.mean(1, keepdims=True)
    centred = light - light.mean()
    told = (ramp @ centred) ** 2 / (ramp**2).sum(1)
    return max(float((centred**2).sum() - told.max()), 0.0)


def _partly_blown(light: Array) -> Shading | None:
    """Shading from brightness (N, 3) of which a part is blown; None where nothing else is left.

    A lath's face in the shade is one level beside a blown top; a pipe's flank falls off towards
    its edge, in whatever light.
    """
    left = ((light < BLOWN) & (light.mean(0) > DARK)).sum(0)
    left[light.max(0) < BLOWN] = 0
    best = int(np.argmax(left))
    if left[best] < LEAST_LEFT:
        return None
    mean = float(light[:, best].mean())
    one = light[:, best] / mean
    # where the sun is low a pipe's flank lies in its own shade, and gets lit from there on
    smooth = min(_line_leaves(one, BLOWN / mean), *(_planes_leave(one, long) for long in DAWN))
    return Shading(_step(one, smooth), None)


def _line_leaves(light: Array, blown: float) -> float:
    """Squares that a straight line leaves of brightness (N,), cut off by the photo at ``blown``."""
    model = np.stack([np.ones(len(light)), np.arange(len(light))], 1)
    counts, line = light < blown, light
    for _ in range(6):
        line = model @ np.linalg.lstsq(model[counts], light[counts], rcond=None)[0]
        # what is blown may be as bright as it likes, but not darker
        counts = (light < blown) | (line < blown)
    return float(((light - line)[counts] ** 2).sum())


def flat_chance(shading: Sequence[Shading | None], fits: float) -> float:
    """Probability of a lath.

    ``fits``: logarithm of how much better a lath than a pipe fits the edges of all sides.
    """
    fits = min(FITS_LIMIT, max(-FITS_LIMIT, fits))
    seen = [s for s in shading if s is not None]
    known = [s for s in seen if s.uneven is not None]
    odds = ALONE + (FITS if len(known) >= 2 else FITS_ALONE) * fits
    if len(known) >= 2:
        step = _mean_step(known)
        uneven = math.log(max(0.02, min(s.uneven or 0.0 for s in known)) / EVEN)
        odds += KNOWN - STEPPED * step - UNEVEN * min(UNEVEN_LIMIT, uneven)
    elif len(seen) >= 2:
        odds -= STEPPED * _mean_step(seen)
    return 1 / (1 + math.exp(-odds))


def _mean_step(shading: Sequence[Shading]) -> float:
    return sum(min(LIMIT, max(-LIMIT, s.step)) for s in shading) / len(shading)
