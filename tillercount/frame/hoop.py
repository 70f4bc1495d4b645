"""Hoops: the ellipse of the inside edge, and whether it can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea
from tillercount.frame.agreement import agreement
from tillercount.frame.edges import Edges, look, read_edges
from tillercount.frame.ellipse import (
    axes_of,
    coverage,
    ellipse_points,
    fit_ellipse,
    ransac_ellipse,
    sampson,
)
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.projection import apply
from tillercount.frame.region import Region, pipe_rim
from tillercount.frame.result import FrameNotFound

__all__ = ["HoopFit", "fit_hoop"]

Array = NDArray[Any]

PROFILES = 240
LEAST_COVERAGE = 0.5
LEAST_ON_ELLIPSE = 0.55
"""Share of the finder's rim on one ellipse; leaves make it ragged."""
LEAST_PIPE, LIKELY = 0.6, -2.0
"""Share of the ellipse on which the finder gives a pipe at least these odds (a logit). An ellipse
always fits something: on development scenes hoops had 0.70 and more of it, what looked round
without a hoop 0.50 at most."""
LEAST_PIPE_ROUND, LEAST_PIPE_SEEN = 0.45, 0.3
"""The same two where the start is the rim of what may be pipe: such a start is only a place to look
at, and the edges in the photo decide: nothing on some 400 frame-free photos passes them."""
NEAR, NEAR_PX = 0.25, 3.0
"""How far both edges may lie from where the parts that were seen put them, of the pipe's width,
and at least: what lies farther off is a shadow or litter."""
LEAST_AXIS_RATIO = 0.6
LARGEST_GAP_DEG = 70.0
"""A boot hides up to 100 degrees, but an open hoop may gape as little, and looks the same. Of 86
hoops of development scenes 3 rightly found ones lie above it; so do rings on 2 of 150 frame-free
photos."""
LARGEST_CLEAR_GAP_DEG, CLEAR = 35.0, 0.915
"""Where so much of all the rest shows, a gap of bare ground isn't a pipe that looks like it: the
hoop is open. Two open ones on frame-free photos had gaps of 45 and 58 degrees, and 0.93 and 0.97
of the rest. Of some 240 closed hoops of development scenes some seemed to gape as wide: all but
three had 0.90 at most, and of these three only one could be read else, with an IoU of 0.98."""
LEAST_BARE_IN_GAP_DEG = 20.0
"""Leaves and litter may lie over a gap: one that long of which so much is bare is one as well."""
SPECK = 2
"""Profiles on either side of a place over which a gap is closed."""
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


def fit_hoop(
    picture: Picture, maps: Maps, region: Region, area: HoopArea
) -> HoopFit | FrameNotFound:
    """Fit the inside edge of a hoop, or say why it can't be trusted."""
    refused: FrameNotFound | None = None
    for rim, least_on, least_pipe in (
        (region.rim_px, LEAST_ON_ELLIPSE, LEAST_PIPE),
        (pipe_rim(maps, region.centre_px), LEAST_PIPE_ROUND, LEAST_PIPE_SEEN),
    ):
        found = _fit_rim(picture, maps, rim, area, least_on, least_pipe)
        if isinstance(found, HoopFit) or found.evidence.get("open"):
            return found
        refused = refused or found
    assert refused is not None
    return refused


def _fit_rim(
    picture: Picture,
    maps: Maps,
    rim_px: Array,
    area: HoopArea,
    least_on: float,
    least_pipe: float,
) -> HoopFit | FrameNotFound:
    """Fit a hoop from a rim (N, 2) px of the finder's.

    ``least_on``: share of it that must lie on one ellipse; ``least_pipe`` see `LEAST_PIPE`.
    """
    rng = np.random.default_rng(len(rim_px))
    tolerance = 1.1 * maps.cell_px
    evidence: dict[str, Any] = {}
    conic = ransac_ellipse(rim_px, tolerance_px=tolerance, rng=rng)
    if conic is None:
        return _not_round(evidence)
    near = np.abs(sampson(conic, rim_px)) < 2.5 * tolerance
    evidence["rim_on_ellipse"] = round(float(near.mean()), 3)
    on_pipe = _pipe_along(conic, maps)
    evidence["pipe_on_ellipse"] = round(on_pipe, 3)
    conic = fit_ellipse(rim_px[near], start=conic)
    if conic is None or near.mean() < least_on or on_pipe < least_pipe:
        return _not_round(evidence)
    edges = None
    for slack in (2.5 * maps.cell_px, 1.2 * maps.cell_px, 1.0 * maps.cell_px):
        points, normals = ellipse_points(conic, PROFILES)
        width = None if edges is None else edges.width_px
        edges = _look_around(picture, maps, conic, points, normals, slack, width)
        # where leaves hide the pipe the finder's own rim holds the fit, weakly
        inner = points + edges.inner[:, None] * normals
        good = edges.seen
        rim = rim_px[np.abs(sampson(conic, rim_px)) < 2 * maps.cell_px]
        weak = 0.02 * good.sum() / max(len(rim), 1)
        better = fit_ellipse(
            np.vstack([inner[good], rim]),
            np.concatenate([edges.weight[good], np.full(len(rim), weak)]),
            start=conic,
        )
        if better is None or good.sum() < 12:
            break
        conic = better
    assert edges is not None
    found = _judged(conic, points, normals, edges, area, evidence)
    if isinstance(found, FrameNotFound) and math.isfinite(edges.width_px):
        edges = _look_again(picture, maps, conic, points, normals, edges)
        evidence["looked_again"] = True
        found = _judged(conic, points, normals, edges, area, evidence)
    if isinstance(found, HoopFit):
        ring, _ = ellipse_points(conic, PROFILES)
        evidence |= agreement(maps, ring, found.width_px)
    return found


def _pipe_along(conic: Array, maps: Maps) -> float:
    """Share of an ellipse along which the finder thinks that a pipe may lie."""
    points, normals = ellipse_points(conic, PROFILES)
    away = np.linspace(-1.5, 3.0, 10) * maps.cell_px
    at = (points[:, None] + away[:, None] * normals[:, None]).reshape(-1, 2)
    at = apply(maps.from_picture, at)
    logit = look(maps.tube, at.reshape(PROFILES, len(away), 2))
    return float((logit.max(1) > LIKELY).mean())


def _look_again(
    picture: Picture, maps: Maps, conic: Array, points: Array, normals: Array, first: Edges
) -> Edges:
    """The edges, and where none were seen those that lie where the ones seen put them.

    A pipe of the ground's own colour, striped, or in light and shadow isn't all seen at first, for
    the finder doesn't know it there.
    """
    start = -sampson(conic, points)
    width = first.width_px
    slack = max(NEAR * width, 1.0 * maps.cell_px)
    expected = start, start + width
    edges = _look_around(picture, maps, conic, points, normals, slack, width, expected)
    near = np.maximum(NEAR * width, NEAR_PX)
    there = edges.seen & (np.abs(edges.inner - start) < near)
    there &= np.abs(edges.outer - start - width) < near
    kept = first.seen & (np.abs(first.inner - start) < near)
    seen = kept | there
    return replace(
        first,
        inner=np.where(kept, first.inner, edges.inner),
        outer=np.where(kept, first.outer, edges.outer),
        weight=np.where(kept, first.weight, np.where(there, edges.weight, 0.0)),
        seen=seen,
        leaf=first.leaf & ~seen,
    )


def _look_around(
    picture: Picture,
    maps: Maps,
    conic: Array,
    points: Array,
    normals: Array,
    slack: float,
    width_px: float | None,
    expected_px: tuple[Array, Array] | None = None,
) -> Edges:
    size = sum(axes_of(conic))
    return read_edges(
        picture,
        maps,
        points,
        normals,
        inwards_px=max(4 * slack, 16),
        outwards_px=float(np.clip(0.2 * size, 25, 130)) + 2 * slack,
        slack_px=slack,
        width_px=width_px,
        expected_px=expected_px,
    )


def _judged(
    conic: Array,
    points: Array,
    normals: Array,
    edges: Edges,
    area: HoopArea,
    evidence: dict[str, Any],
) -> HoopFit | FrameNotFound:
    inner = points + edges.inner[:, None] * normals
    off = np.abs(sampson(conic, inner))
    spread = 1.4826 * float(np.median(off[edges.seen])) if edges.seen.any() else math.inf
    good = edges.seen & (off < 4 * spread + 1)
    centre = points.mean(0)
    covered = coverage(inner[good], centre)
    longer, shorter = axes_of(conic)
    # an open hoop gapes where the finder completes the circle, so its word isn't asked here
    bare = edges.within & ~good & ~edges.leaf
    gap = _gap_deg(bare, ~edges.within)
    hidden = _gap_deg(edges.within & ~good, ~edges.within)
    within = edges.within
    beside = max(float(within.mean()) - gap / 360, 1e-9)
    evidence["seen_beside_gap"] = round(float(good.mean()) / beside, 3)
    evidence |= {
        "coverage": round(covered, 3),
        "seen_share": round(float(good.sum() / max(within.sum(), 1)), 3),
        "missing_share": round(float(1 - within.mean()), 3),
        "residual_px": round(spread, 3),
        "axis_ratio": round(shorter / longer, 4),
        "bare_gap_deg": round(gap, 1),
        "unseen_deg": round(hidden, 1),
    }
    if within.mean() < LEAST_COVERAGE:
        return FrameNotFound(
            f"only {within.mean():.0%} of the hoop is in the photo",
            "step back until the whole hoop is in the photo",
            evidence,
        )
    evidence["open"] = gap > LARGEST_CLEAR_GAP_DEG and evidence["seen_beside_gap"] > CLEAR
    covered_gap = hidden > LARGEST_GAP_DEG and gap > LEAST_BARE_IN_GAP_DEG
    if evidence["open"] or gap > LARGEST_GAP_DEG or covered_gap:
        return FrameNotFound(
            "a part of the hoop isn't there: bare ground lies where it should be",
            "close the hoop and take the photo again, or give the corners of the square around "
            "it with --corners",
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


def _gap_deg(bare: NDArray[np.bool_], outside: NDArray[np.bool_]) -> float:
    """Longest stretch, degrees, where the pipe should be and bare ground is.

    A gap may go on beyond the photo's border, so what lies outside counts with the bare ground
    next to it; a stretch outside alone isn't a gap.
    """
    from scipy import ndimage

    # a leaf's width of something else doesn't close a gap
    open_ = ndimage.binary_closing(np.tile(bare | outside, 3), np.ones(2 * SPECK + 1))
    open_ = open_[len(bare) : 2 * len(bare)] | bare | outside
    if not open_.any():
        return 0.0
    if open_.all():
        return 360.0
    start = int(np.argmin(open_))
    longest = run = ground = 0
    for is_open, is_bare in zip(np.roll(open_, -start), np.roll(bare, -start), strict=True):
        run, ground = (run + 1, ground + int(is_bare)) if is_open else (0, 0)
        if ground * 360 / PROFILES >= LEAST_BARE_DEG:
            longest = max(longest, run)
    return longest * 360 / PROFILES


def _not_round(evidence: dict[str, Any]) -> FrameNotFound:
    return FrameNotFound(
        "what lies there isn't round",
        "check --area (is it a square?)",
        evidence,
    )
