"""Where the pipe begins: its two edges along a line of the picture, to a fraction of a pixel.

The picture is laid out straight along the line: one profile across the pipe at each point. In
each stretch of the line the colours of the pipe and of everything beside it (ground, shadow,
leaves) are learned from where the finder is sure; each profile is then cut at the two places
that separate both best, and each cut is put where the picture takes a step (`steps`). Learning
the shadow as "not pipe" is what keeps the dark rim beside a pipe from being taken for the pipe.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.frame.colours import codes_of, colours_of, shares_of
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.steps import at_steps

__all__ = ["Edges", "look", "pipe_score", "read_edges"]

Array = NDArray[Any]

STEP_PX = 0.5
SURE, SURELY_NOT = 0.65, 0.25
INSIDE_WEIGHT = 0.5
WIDTH_WEIGHT = 0.25
"""Neither matters much: halved or doubled, each changed the typical error of the outline on 180
development scenes by at most a tenth of itself."""
WHOLE = 0.2
FAINT = -3.5
"""Logit above which the finder isn't sure that no pipe lies at a place. Where a side had come off
painted frames it said -7 (median of each side) and -5 at most over nine tenths of the side, at
sides on snow and straw of their own colour -2 (development scenes)."""
STRETCH = 40
"""Profiles that share one set of colours."""
BLOCK, NEIGHBOURS = 8, 3
"""Profiles judged by the colours of so many blocks on either side, where the place is known."""
RIM_PX, BESIDE = 2.0, 1.5
"""Left out at each edge there, and how far beside the pipe the ground is learned, of its width."""


@dataclass(frozen=True, eq=False)
class Edges:
    """Edges of the pipe at each point of a line.

    ``inner``, ``outer`` (N,) px outwards from the line; ``weight`` (N,) how clear both are,
    0 where no pipe is seen; ``seen`` (N,) bool; ``leaf`` (N,) bool, no pipe is seen but green is;
    ``unclear`` (N,) bool, no pipe is seen but one may lie there: green does, or the finder isn't
    sure that there is none; ``within`` (N,) bool,
    the place lies in the photo; ``width_px`` usual width.
    """

    inner: Array
    outer: Array
    weight: Array
    seen: NDArray[np.bool_]
    leaf: NDArray[np.bool_]
    unclear: NDArray[np.bool_]
    within: NDArray[np.bool_]
    width_px: float


def read_edges(
    picture: Picture,
    maps: Maps,
    points: Array,
    normals: Array,
    *,
    inwards_px: float,
    outwards_px: float,
    slack_px: float,
    stretches: NDArray[np.intp] | None = None,
    which: str = "tube",
    width_px: float | None = None,
    expected_px: tuple[Array, Array] | None = None,
) -> Edges:
    """Read both edges of the pipe along ``points`` (N, 2) with outward ``normals`` (N, 2), px.

    ``slack_px``: how far off the line the inner edge is expected at most (a soft limit).
    ``stretches`` (N,): number of the stretch that each point belongs to. ``width_px``: the pipe's
    width where it is known from elsewhere on the frame; a dark flank is then not left out.
    ``expected_px`` (N,), (N,): px outwards from the line where both edges of a closed frame lie if
    all of it is what was fitted to parts of it; colours are then learned from there, and the
    finder isn't asked.
    """
    offsets = np.arange(-inwards_px, outwards_px + STEP_PX / 2, STEP_PX)
    at = points[:, None] + offsets[None, :, None] * normals[:, None]
    rgb = look(picture.rgb, at)
    on_grid = maps.on_grid(at)
    logit = look(getattr(maps, which), on_grid)
    green = look(picture.green, at)
    inside = picture.shows(at)
    if stretches is None:
        stretches = np.arange(len(points)) // STRETCH
    if expected_px is None:
        score = pipe_score(rgb, logit, inside, stretches)
    else:
        score = score_beside(rgb, inside, offsets, expected_px)
    score = np.asarray(cv2.blur(score, (3, 3), borderType=cv2.BORDER_REPLICATE), np.float32)
    # where the colours don't tell, the finder's own idea of the inside does
    before = np.zeros_like(score)
    if which == "tube" and expected_px is None:
        before = INSIDE_WEIGHT * np.clip(look(maps.inside, on_grid), -3, 3)
    score = np.where(inside, score, np.float32(-0.2))
    start, stop, gain = _best_run(score, before, offsets, slack_px, width_px)
    near = (offsets >= -slack_px) & (offsets <= slack_px)
    within = np.asarray(inside[:, near].mean(1) > 0.95)
    length = np.maximum(stop - start, STEP_PX)
    mean = gain / (length / STEP_PX)
    good = (mean > 0.5) & (length > 1.0) & within
    usual = float(np.median(length[good])) if good.any() else float("nan")
    seen = good & (length > 0.45 * usual) & (length < 2.2 * usual)
    body = (offsets >= 0) & (offsets <= (usual if np.isfinite(usual) else outwards_px / 2))
    leaf = ~seen & (np.where(inside, green, 0)[:, body].mean(1) > 0.04)
    around = (offsets >= -slack_px) & (offsets <= offsets[body].max(initial=0) + slack_px)
    unclear = leaf | (~seen & (logit[:, around].max(1) > FAINT))
    # a leaf over one edge leaves a narrower run: whole widths say best where the edges are
    whole = 1 / (1 + ((length / usual - 1) / WHOLE) ** 2)
    weight = np.where(seen, np.clip(mean, 0, 3) * whole, 0.0)
    if np.isfinite(usual):
        first = float(offsets[0]) - STEP_PX / 2
        start, stop = at_steps(rgb, first, STEP_PX, (start, stop), usual)
    return Edges(start, stop, weight, seen, leaf, unclear, within, usual)


def look(plane: NDArray, at: Array) -> NDArray[np.float32]:
    """Values of a picture at px (N, T, 2), linear between pixels."""
    xy = at.astype(np.float32)
    out = cv2.remap(
        plane, xy[..., 0], xy[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(out, np.float32)


def pipe_score(
    rgb: NDArray[np.float32],
    logit: NDArray[np.float32],
    inside: NDArray[np.bool_],
    stretches: NDArray[np.intp],
) -> NDArray[np.float32]:
    """For every sample, how much more it looks like pipe than like what lies beside it."""
    share = 1 / (1 + np.exp(-logit))
    code = codes_of(rgb)
    pipe, rest = inside & (share > SURE), inside & (share < SURELY_NOT)
    all_pipe, all_rest = colours_of(code[pipe]), colours_of(code[rest])
    out = np.empty(rgb.shape[:2], np.float32)
    for number in np.unique(stretches):
        row = stretches == number
        # a stretch without much of the pipe borrows the colours of the whole frame
        here_pipe = colours_of(code[row][pipe[row]]) + 40 * all_pipe / max(all_pipe.sum(), 1)
        here_rest = colours_of(code[row][rest[row]]) + 40 * all_rest / max(all_rest.sum(), 1)
        out[row] = _ratio(here_pipe, here_rest)[code[row]]
    return out + 0.4 * np.clip(logit, -4, 4)


def score_beside(
    rgb: NDArray[np.float32],
    inside: NDArray[np.bool_],
    offsets: Array,
    expected_px: tuple[Array, Array],
) -> NDArray[np.float32]:
    """The same where the finder is blind: a closed frame of the ground's own colour, or striped.

    Colours of pipe and ground are learned from where the pipe should lie. A few profiles are
    judged by their neighbours' colours and never by their own: bare ground where the pipe should
    be then looks no more like it than what lies beside it.
    """
    code = codes_of(rgb)
    start, stop = (edge[:, None] for edge in expected_px)
    rim = np.minimum((stop - start) / 4, RIM_PX)
    pipe = inside & (offsets >= start + rim) & (offsets <= stop - rim)
    reach = BESIDE * (stop - start)
    near = (offsets >= start - reach) & (offsets <= stop + reach)
    rest = inside & near & ((offsets < start - RIM_PX) | (offsets > stop + RIM_PX))
    blocks = len(rgb) // BLOCK
    of = np.minimum(np.arange(len(rgb)) // BLOCK, blocks - 1)
    counts = np.array(
        [[colours_of(code[of == b][some[of == b]]) for b in range(blocks)] for some in (pipe, rest)]
    )
    out = np.empty(rgb.shape[:2], np.float32)
    for b in range(blocks):
        others = (b + np.r_[-NEIGHBOURS:0, 1 : NEIGHBOURS + 1]) % blocks
        here = counts[:, others].sum(1)
        out[of == b] = _ratio(here[0], here[1])[code[of == b]]
    return out


def _ratio(pipe: Array, rest: Array) -> Array:
    """Logarithm of how much likelier each colour is on the pipe, from counts of both."""
    return np.asarray(np.clip(np.log(shares_of(pipe) / shares_of(rest)), -2.5, 2.5))


def _best_run(
    score: NDArray[np.float32],
    before: NDArray[np.float32],
    offsets: Array,
    slack_px: float,
    width_px: float | None,
) -> tuple[Array, Array, Array]:
    """The run of pipe in each profile: where it starts, where it stops, its own sum of scores.

    The run has the largest sum of ``score`` in it and of ``before`` ahead of it; a start far from
    the line costs something, so that a leaf's edge isn't taken, and so does another width.
    """
    sums = _sums(score)
    edges = np.append(offsets, offsets[-1] + STEP_PX) - STEP_PX / 2
    cost = sums - _sums(before) + 1.5 * (edges / slack_px) ** 2
    if width_px is None or not width_px > 0:
        start, stop = _any_width(sums, cost)
    else:
        start, stop = _near_width(sums, cost, width_px / STEP_PX)
    rows = np.arange(len(score))
    return edges[start], edges[stop], sums[rows, stop] - sums[rows, start]


def _any_width(sums: Array, cost: Array) -> tuple[Array, Array]:
    """Indices of the edges between which the sum is largest, less the cost of the start."""
    best = np.minimum.accumulate(cost[:, :-1], 1)
    fresh = np.where(cost[:, :-1] <= best, np.arange(best.shape[1]), 0)
    first = np.maximum.accumulate(fresh, 1)
    stop = np.argmax(sums[:, 1:] - best, 1)
    return np.take_along_axis(first, stop[:, None], 1)[:, 0], stop + 1


def _near_width(sums: Array, cost: Array, width: float) -> tuple[Array, Array]:
    """The same, for runs of about a known number of samples."""
    length = sums.shape[1]
    widths = np.unique(np.round(width * np.linspace(0.6, 1.5, 19)).astype(int))
    widths = widths[(widths >= 1) & (widths < length)]
    best = np.full(len(sums), -np.inf)
    start, stop = np.zeros(len(sums), int), np.ones(len(sums), int)
    for w in widths:
        toll = WIDTH_WEIGHT * width * ((w - width) / (0.25 * width)) ** 2
        gain = sums[:, w:] - cost[:, : length - w] - toll
        at = np.argmax(gain, 1)
        value = gain[np.arange(len(sums)), at]
        better = value > best
        best = np.where(better, value, best)
        start, stop = np.where(better, at, start), np.where(better, at + w, stop)
    return start, stop


def _sums(values: NDArray[np.float32]) -> Array:
    """Sums of everything before each edge of a sample, (N, T + 1)."""
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, 1, dtype=float)], 1)
