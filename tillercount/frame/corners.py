"""The four corners of a frame of pipe: do its sides run on beyond them, and which ones lie on top.

Where two pipes lie across the other two, that pair is nearer to the camera, which moves the
outline by one to three per cent, and a pose can't always tell the three ways apart. The corners
show it: pipes joined by an elbow, or end to end, stop there, pipes laid across each other mostly
stick out beyond, and the upper one's light and shade run on over the lower one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.edges import look, pipe_score
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.lines import Line, meet
from tillercount.frame.projection import apply, homography

__all__ = ["Corners", "read_corners"]

Array = NDArray[Any]

AT = np.arange(-1.5, 4.5, 0.1)
"""Places of a corner's patch, outwards of the inside edges, in widths of the pipe."""
WITHIN = 0.7
"""Share of a place that must lie in the photo."""
BESIDE, JUST, FURTHER, AWAY = (0.25, 0.75), (1.15, 1.5), (1.5, 2.0), (1.3, 1.9)
"""Across a pipe's end, along it in two steps, and, both ways, ground that no pipe can lie on."""
PIPE, ALONG = (0.08, 0.92), (-1.2, -0.35)
"""Across a pipe without its rims, and along it beside its corner."""
NONE, SOME, LONG = -1.7, 5.2, 6.5
"""Logarithm of how much likelier crossed pipes show such ends than others: nothing beyond the
corners, and more per share of both steps that is pipe. Fitted to 46 rendered frames of pipe, by
which kind puts the outline right; on 45 others the mean logarithm of the chance given to what was
right is -0.49, and -0.69 with even chances: many a frame without ends is put right by either."""
MOST = 4.0
"""Largest of it that counts: straw may lie in line with a pipe."""
UPPER, CLEAR, GREY = 4.0, 0.5, 4.0
"""The same for the upper pair, per sum over the corners of how much better its shading goes on
there, each at most `CLEAR`; steps of less than `GREY`, of 255, tell little. Fitted to 26 crossed
frames among those; on 21 others the mean logarithm of the chance of what was right is -0.32."""


@dataclass(frozen=True)
class Corners:
    """What the corners say, as logarithms of likelihood ratios.

    ``crossed``: two pipes across two others against all at one height; ``y_upper``: those along
    y on top of those along x, against the reverse. Both 0 where nothing can be seen.
    """

    crossed: float = 0.0
    y_upper: float = 0.0


def read_corners(
    picture: Picture, maps: Maps, inner: tuple[Line, ...], size: tuple[float, float], width: float
) -> Corners:
    """Look at the corners of a fitted frame.

    Parameters
    ----------
    inner : tuple of Line
        Inside edges as they are seen, px: below, right, above, left.
    size : tuple
        Inside width and height, mm.
    width : float
        Of the pipe, mm.
    """
    rgb, score, within = _patches(picture, maps, inner, size, width)
    ends, upper = [], 0.0
    for colour, pipe, there in zip(rgb, score > 0, within, strict=True):
        diagonal = _mean(pipe, there, AWAY, AWAY)
        # a pipe along x runs along the second axis, one along y along the first
        for turned, seen in ((pipe, there), (pipe.T, there.T)):
            steps = [_mean(turned, seen, BESIDE, step) for step in (JUST, FURTHER)]
            if steps[0] is not None:
                # where ground or straw is taken for pipe as well, ends tell less
                ends.append([(0.0 if s is None else s) - (diagonal or 0.0) for s in steps])
        upper += _upper(colour, there)
    if not ends:
        return Corners()
    some, long = np.mean(ends, 0)
    return Corners(min(MOST, NONE + SOME * float(some) + LONG * float(long)), UPPER * upper)


def _patches(
    picture: Picture, maps: Maps, inner: tuple[Line, ...], size: tuple[float, float], width: float
) -> tuple[Array, Array, Array]:
    """Colours (4, N, N, 3), how much like pipe (4, N, N), and what lies in the photo, per corner.

    Rows go outwards along y, columns along x.
    """
    w, h = size[0] / 2, size[1] / 2
    below, right, above, left = inner
    ring = np.array(
        [meet(left, below), meet(below, right), meet(right, above), meet(above, left)]
    )
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    to_picture = homography(signs * [w, h], ring)
    away = np.stack(np.meshgrid(AT, AT), -1) * width
    mm = signs[:, None, None] * ([w, h] + away)
    at = apply(to_picture, mm.reshape(-1, 2)).reshape(-1, len(AT), 2)
    within = picture.shows(at)
    rgb = look(picture.rgb, at)
    logit = look(maps.tube, maps.on_grid(at))
    score = pipe_score(rgb, logit, within, np.arange(len(at)) // len(AT))
    n = len(AT)
    return rgb.reshape(4, n, n, 3), score.reshape(4, n, n), within.reshape(4, n, n)


def _span(low_high: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray((low_high[0] < AT) & (low_high[1] > AT))


def _mean(
    pipe: Array, within: Array, across: tuple[float, float], along: tuple[float, float]
) -> float | None:
    """Share of pipe in a part of a patch; None where that lies outside the photo."""
    part = np.ix_(_span(across), _span(along))
    return float(pipe[part].mean()) if within[part].mean() > WITHIN else None


def _upper(rgb: Array, within: Array) -> float:
    """How much better the shading of the pipe along y goes on over the crossing than the other's,
    of both, -`CLEAR` to `CLEAR`."""
    pipe, beside = _span(PIPE), _span(ALONG)
    crossing = np.ix_(pipe, pipe)
    if within[crossing].mean() < WITHIN:
        return 0.0
    # leaves over the pipes or the crossing: the median doesn't mind
    along_x = np.median(rgb[np.ix_(pipe, beside)], 1)[:, None]
    along_y = np.median(rgb[np.ix_(beside, pipe)], 0)[None]
    x_off, y_off = (
        float(np.median(np.abs(rgb[crossing] - along).mean(2))) for along in (along_x, along_y)
    )
    return float(np.clip((x_off - y_off) / (x_off + y_off + GREY), -CLEAR, CLEAR))
