"""Whether a ring that was fitted is a whole hoop: how much of it shows, and whether it gapes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.edges import Edges, look
from tillercount.frame.ellipse import axes_of, coverage, sampson
from tillercount.frame.finder import Picture
from tillercount.frame.openground import ground_gap_deg
from tillercount.frame.result import FrameNotFound

__all__ = ["HoopFit", "judged_hoop"]

Array = NDArray[Any]

LEAST_COVERAGE = 0.5
LEAST_AXIS_RATIO = 0.6
LARGEST_GAP_DEG = 70.0
"""A boot hides up to 100 degrees, but an open hoop may gape as little, and looks the same. Of 86
hoops of development scenes 3 rightly found ones lie above it; so do rings on 2 of 150 frame-free
photos."""
LARGEST_AWAY_DEG = 70.0
"""Outside the photo nobody sees a gap, so no more of a hoop may lie there than it may gape: an
arc of hose whose ends lie outside looks like a hoop. Where all of the inside is in the photo a pipe
of a sixth of its radius is cut over 62 degrees at most."""
LARGEST_CLEAR_GAP_DEG, CLEAR = 35.0, 0.915
"""Where so much of all the rest shows, a gap of bare ground isn't a pipe that looks like it: the
hoop is open. Two open ones on frame-free photos had gaps of 45 and 58 degrees, and 0.93 and 0.97
of the rest. Of some 240 closed hoops of development scenes some seemed to gape as wide: all but
three had 0.90 at most, and of these three only one could be read else, with an IoU of 0.98. What
is seen here and there in such a gap isn't counted into it: along a dark hose every other place may
be read askew. Of 127 hoops of which an arc was painted over none more passes for it."""
LEAST_BARE_IN_GAP_DEG = 10.0
"""Leaves and litter may lie over a gap: one that long of which so much is bare is one as well. Of
127 hoops of development scenes of which an arc of 75 to 130 degrees was painted over with the
ground beside it 20 degrees let 13 pass and 10 degrees 5; of some 330 closed ones that a careful
person would have kept none was lost, of even or of odd seed."""
SHORT_GAP_DEG, ALL_BUT_IT = 45.0, 0.95
"""Where all but one stretch of the pipe is plainly seen, a shorter one of which some is bare is a
gap too: greenish ground passes for a leaf. An open hose on moss gaped over 66 degrees (22 of them
read as bare) and had 1.0 of the rest; of 192 hoops rightly found in 700 other photos eleven had so
long a stretch with bare ground in it, and 0.92 of the rest at most."""
GROUND, GREENER, GREENEST_GROUND = 0.25, 0.03, 0.15
"""A leaf over the pipe is so much greener (see `Picture.green`) than the photo's own ground, which
so much of all places are at most as green as: yellowish ground is greener than many leaves. What is
greener than the last is no ground but a closed canopy: of 802 rendered photos 1 in 60 has more."""
LARGEST_GROUND_GAP_DEG = 45.0
"""Where ground is plainly seen without pipe (see `ground_gap_deg`) an opening may be no longer,
however much of the rest shows. A hoop on rough ground may lie under earth and leaves in places,
which looks the same: of 192 hoops rightly found two did, over 38 and 42 degrees; three open hoses
that had been taken for hoops gaped over 57, 57 and 66."""
ACROSS = 5
"""Places across the pipe at which it is looked for."""
SPECK = 2
"""Profiles on either side of a place over which a gap is closed."""
SLEEVE = 0.1
"""How far off a place may always lie, of the pipe's width: a sleeve that joins both ends is thicker
than the pipe, and no gap, however cleanly the rest is read (common practice)."""
MOST_HIDDEN_DEG = 150.0
"""Leaves over so much in one piece can hide an opening of any size. Of 160 hoops accepted in 600
scenes none had more than 138 degrees unseen in a row; an open hose whose open half lay under leaves
had 171.
"""
LEAST_BARE_DEG = 8.0
"""So much bare ground in a row is a gap, less is a leaf's shadow or a stain."""


@dataclass(frozen=True, eq=False)
class HoopFit:
    """A hoop in the picture: the ellipse of its inside edge, and its pipe.

    ``inner``, ``outer`` (N, 2) px places on both edges, one of each per profile, ``weight`` (N,)
    how clear they are.
    """

    conic: Array
    width_px: float
    inner: Array
    outer: Array
    weight: Array
    evidence: dict[str, Any]


def judged_hoop(
    picture: Picture,
    conic: Array,
    points: Array,
    normals: Array,
    edges: Edges,
    evidence: dict[str, Any],
) -> HoopFit | FrameNotFound:
    """The hoop whose inside edge this ellipse is, or why it can't be trusted.

    ``points`` (N, 2) px on a line near it, where ``edges`` were read along the outward ``normals``;
    what was seen is added to ``evidence``.
    """
    inner = points + edges.inner[:, None] * normals
    off = np.abs(sampson(conic, inner))
    spread = 1.4826 * float(np.median(off[edges.seen])) if edges.seen.any() else math.inf
    width = edges.width_px if math.isfinite(edges.width_px) else 0.0
    good = edges.seen & (off < max(4 * spread + 1, SLEEVE * width))
    centre = points.mean(0)
    covered = coverage(inner[good], centre)
    longer, shorter = axes_of(conic)
    leaf, whole = _leaf_and_whole(picture, conic, points, normals, edges.width_px)
    # where the photo's border cuts the pipe lengthwise it isn't read, and is no gap either
    out = ~(edges.within & whole) & ~good
    away = _gap_deg(out, np.zeros_like(out))
    # an open hoop gapes where the finder completes the circle, so its word isn't asked here
    bare = ~out & ~good & ~(edges.leaf & leaf)
    on_ellipse = points - sampson(conic, points)[:, None] * normals
    ground_gap = ground_gap_deg(picture, on_ellipse, normals, edges.width_px, good, leaf)
    gap = _gap_deg(bare, out)
    clear_gap = _gap_deg(bare, out, closed_over=False)
    hidden = _gap_deg(~out & ~good, out)
    within = edges.within
    beside = max(float(within.mean()) - clear_gap / 360, 1e-9)
    evidence["seen_beside_gap"] = round(float(good.mean()) / beside, 3)
    evidence |= {
        "coverage": round(covered, 3),
        "seen_share": round(float(good.sum() / max(within.sum(), 1)), 3),
        "missing_share": round(float(1 - within.mean()), 3),
        "residual_px": round(spread, 3),
        "axis_ratio": round(shorter / longer, 4),
        "bare_gap_deg": round(gap, 1),
        "ground_gap_deg": round(ground_gap, 1),
        "unseen_deg": round(hidden, 1),
        "outside_deg": round(away, 1),
    }
    if within.mean() < LEAST_COVERAGE:
        return FrameNotFound(
            f"only {within.mean():.0%} of the hoop is in the photo",
            "step back until the whole hoop is in the photo",
            evidence,
        )
    if away > LARGEST_AWAY_DEG:
        return FrameNotFound(
            f"{away / 360:.0%} of the hoop lies outside the photo, so whether it is closed there "
            "can't be told",
            "step back until the whole hoop is in the photo",
            evidence,
        )
    evidence["open"] = ground_gap > LARGEST_GROUND_GAP_DEG or (
        clear_gap > LARGEST_CLEAR_GAP_DEG and evidence["seen_beside_gap"] > CLEAR
    )
    rest = float(good.mean()) / max(float(within.mean()) - hidden / 360, 1e-9)
    longest = SHORT_GAP_DEG if rest > ALL_BUT_IT else LARGEST_GAP_DEG
    covered_gap = hidden > longest and gap > LEAST_BARE_IN_GAP_DEG
    if evidence["open"] or gap > LARGEST_GAP_DEG or covered_gap:
        return FrameNotFound(
            "a part of the hoop isn't there: bare ground lies where it should be",
            "close the hoop and take the photo again, or give the corners of the square around "
            "it with --corners",
            evidence,
        )
    if hidden > MOST_HIDDEN_DEG:
        return FrameNotFound(
            f"leaves hide {hidden / 360:.0%} of the hoop in one piece, so whether it is closed "
            "there can't be told",
            "move the leaves off the hoop and take the photo again",
            evidence,
        )
    if covered < LEAST_COVERAGE:
        return FrameNotFound(
            f"only {covered:.0%} of the hoop can be seen",
            "move the leaves off the hoop and take the photo again, or give the corners of the "
            "square around it with --corners",
            evidence,
        )
    if shorter < LEAST_AXIS_RATIO * longer:
        return FrameNotFound(
            "the hoop is seen from too far to the side, or is bent",
            "hold the phone level above the hoop and take the photo again",
            evidence,
        )
    outer = points + edges.outer[:, None] * normals
    seen = edges.seen
    return HoopFit(conic, edges.width_px, inner[seen], outer[seen], edges.weight[seen], evidence)


def _leaf_and_whole(
    picture: Picture, conic: Array, points: Array, normals: Array, width_px: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the pipe should be: is green greener than this photo's ground there, and does the
    photo show the pipe's whole width? Both (N,)."""
    width = width_px if math.isfinite(width_px) else 0.0
    away = -sampson(conic, points)[:, None] + width * np.linspace(0, 1, ACROSS)
    at = points[:, None] + away[..., None] * normals[:, None]
    ground = min(float(np.quantile(picture.green[::8, ::8], GROUND)), GREENEST_GROUND)
    leaf = look(picture.green, at).mean(1) > ground + GREENER
    return leaf, np.asarray(picture.shows(at).all(1))


def _gap_deg(
    bare: NDArray[np.bool_], outside: NDArray[np.bool_], *, closed_over: bool = True
) -> float:
    """Longest stretch, degrees, where the pipe should be and bare ground is.

    A gap may go on beyond the photo's border, so what lies outside counts with the bare ground
    next to it; a stretch outside alone isn't a gap. Specks in it that look like the pipe don't
    close it; without ``closed_over`` they aren't counted into it either.
    """
    from scipy import ndimage

    # a leaf's width of something else doesn't close a gap
    unseen = bare | outside
    open_ = ndimage.binary_closing(np.tile(unseen, 3), np.ones(2 * SPECK + 1))
    open_ = open_[len(bare) : 2 * len(bare)] | unseen
    counts = open_ if closed_over else unseen
    if not open_.any():
        return 0.0
    if open_.all():
        return float(counts.mean()) * 360
    start = int(np.argmin(open_))
    longest = run = ground = 0
    around = (np.roll(some, -start) for some in (open_, counts, bare))
    for is_open, is_counted, is_bare in zip(*around, strict=True):
        run, ground = (run + int(is_counted), ground + int(is_bare)) if is_open else (0, 0)
        if ground * 360 / len(bare) >= LEAST_BARE_DEG:
            longest = max(longest, run)
    return longest * 360 / len(bare)
