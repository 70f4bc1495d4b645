"""Hoops: the ellipse of the inside edge, and the camera pose as far as one circle tells it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea
from tillercount.frame.agreement import agreement
from tillercount.frame.edges import Edges, read_edges
from tillercount.frame.ellipse import (
    axes_of,
    circle_views,
    coverage,
    ellipse_points,
    fit_ellipse,
    ransac_ellipse,
    sampson,
)
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.height import camera_mm
from tillercount.frame.projection import View, apply
from tillercount.frame.region import Region
from tillercount.frame.result import FrameNotFound

__all__ = ["HoopFit", "fit_hoop", "stretched_view", "view_of_hoop"]

Array = NDArray[Any]

PROFILES = 240
LEAST_COVERAGE = 0.5
LEAST_ON_ELLIPSE = 0.7
"""Share of the finder's rim on one ellipse. Stricter than with the lines in `quad`, for an ellipse
always fits something: bent hoses and hoops that came open pass for a frame below this."""
LEAST_AXIS_RATIO = 0.6
LARGEST_GAP_DEG = 75.0
"""A boot hides up to 100 degrees, but an open hoop may gape as little, and looks the same."""
SPECK = 2
"""Profiles on either side of a place over which a gap is closed."""
LEAST_BARE_DEG = 8.0
"""So much bare ground in a row is a gap, less is a leaf's shadow or a stain."""
UPRIGHT_DEG = 5.0
TWIN_MARGIN, TWIN_NOISE = 1.5, 0.001
"""How many times better one of the two poses must explain the outer edge to be believed."""


@dataclass(frozen=True, eq=False)
class HoopFit:
    """Inside edge of a hoop in the picture: its ellipse, pipe width, and outer edge points."""

    conic: Array
    width_px: float
    outer: Array
    evidence: dict[str, Any]


def fit_hoop(
    picture: Picture, maps: Maps, region: Region, area: HoopArea
) -> HoopFit | FrameNotFound:
    """Fit the inside edge of a hoop, or say why it can't be trusted."""
    rng = np.random.default_rng(len(region.rim_px))
    tolerance = 1.1 * maps.cell_px
    evidence: dict[str, Any] = {}
    conic = ransac_ellipse(region.rim_px, tolerance_px=tolerance, rng=rng)
    if conic is None:
        return _not_round(evidence)
    near = np.abs(sampson(conic, region.rim_px)) < 2.5 * tolerance
    evidence["rim_on_ellipse"] = round(float(near.mean()), 3)
    conic = fit_ellipse(region.rim_px[near], start=conic)
    if conic is None or near.mean() < LEAST_ON_ELLIPSE:
        return _not_round(evidence)
    edges = None
    for slack in (2.5 * maps.cell_px, 1.2 * maps.cell_px, 1.0 * maps.cell_px):
        points, normals = ellipse_points(conic, PROFILES)
        width = None if edges is None else edges.width_px
        edges = _look_around(picture, maps, conic, points, normals, slack, width)
        # where leaves hide the pipe the finder's own rim holds the fit, weakly
        inner = points + edges.inner[:, None] * normals
        good = edges.seen
        rim = region.rim_px[np.abs(sampson(conic, region.rim_px)) < 2 * maps.cell_px]
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
    found = _judged(conic, edges, area, evidence)
    if isinstance(found, HoopFit):
        ring, _ = ellipse_points(conic, PROFILES)
        evidence |= agreement(maps, ring, found.width_px)
    return found


def _look_around(
    picture: Picture,
    maps: Maps,
    conic: Array,
    points: Array,
    normals: Array,
    slack: float,
    width_px: float | None,
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
    )


def _judged(
    conic: Array, edges: Edges, area: HoopArea, evidence: dict[str, Any]
) -> HoopFit | FrameNotFound:
    points, normals = ellipse_points(conic, PROFILES)
    inner = points + edges.inner[:, None] * normals
    off = np.abs(sampson(conic, inner))
    spread = 1.4826 * float(np.median(off[edges.seen])) if edges.seen.any() else math.inf
    good = edges.seen & (off < 4 * spread + 1)
    centre = points.mean(0)
    covered = coverage(inner[good], centre)
    longer, shorter = axes_of(conic)
    bare = edges.within & ~good & ~edges.leaf
    gap = _gap_deg(bare, ~edges.within)
    within = edges.within
    evidence |= {
        "coverage": round(covered, 3),
        "seen_share": round(float(good.sum() / max(within.sum(), 1)), 3),
        "missing_share": round(float(1 - within.mean()), 3),
        "residual_px": round(spread, 3),
        "axis_ratio": round(shorter / longer, 4),
        "bare_gap_deg": round(gap, 1),
    }
    if within.mean() < LEAST_COVERAGE:
        return FrameNotFound(
            f"only {within.mean():.0%} of the hoop is in the photo",
            "step back until the whole hoop is in the photo",
            evidence,
        )
    if gap > LARGEST_GAP_DEG:
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
    return HoopFit(conic, edges.width_px, outer[good], evidence)


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
        "check --area (is it a square?), or give the corners of the square around the hoop "
        "with --corners",
        evidence,
    )


def view_of_hoop(
    conic: Array,
    radius_mm: float,
    picture: Picture,
    outer: Array,
    evidence: dict[str, Any],
    pipe_radius_mm: float = 0.0,
) -> View:
    """View of the plane of a circle of known radius.

    A circle seen as an ellipse leaves two poses. Below 5 degrees both are taken for upright and
    the ellipse is only stretched to a circle; above, the pose is taken in which the pipe's outer
    edge lies around the inner one as that of a pipe of ``pipe_radius_mm`` would, and where that
    doesn't decide, the ellipse is stretched and ``evidence["tilt_known"]`` is False.
    """
    twins = circle_views(conic, radius_mm, picture.focal_px, picture.centre_px)
    views = [_aligned(up, origin, picture) for up, origin in twins]
    flat = stretched_view(conic, radius_mm, picture)
    tilts = sorted(v.tilt_deg for v in views)
    evidence["possible_tilts_deg"] = [round(t, 1) for t in tilts]
    evidence["tilt_known"] = True
    if not views or tilts[0] < UPRIGHT_DEG:
        return flat
    wobbles = [_wobble(v, outer, radius_mm, pipe_radius_mm) for v in views]
    order = np.argsort(wobbles)
    evidence["outer_edge_off"] = [round(float(wobbles[i]), 4) for i in order]
    if len(views) == 1 or wobbles[order[1]] > TWIN_MARGIN * wobbles[order[0]] + TWIN_NOISE:
        return views[int(order[0])]
    evidence["tilt_known"] = False
    return flat


def _aligned(up: Array, origin: Array, picture: Picture) -> View:
    """View with the ground's x axis along the photo's."""
    x = np.array([1.0, 0, 0]) - up[0] * up
    x = x / np.linalg.norm(x)
    return View(
        np.column_stack([x, np.cross(up, x)]), up, origin, picture.focal_px, picture.centre_px
    )


def _wobble(view: View, outer: Array, radius_mm: float, pipe_radius_mm: float) -> float:
    """How far outer edge points are from where this pose would show them, share of the radius.

    Only the part that goes once around counts: that is what the wrong pose of the two adds.
    """
    if len(outer) < 20:
        return 0.0
    ground = apply(np.linalg.inv(view.plane_to_photo()), outer)
    radius = np.linalg.norm(ground, axis=1)
    unit = ground / radius[:, None]
    design = np.column_stack([np.ones(len(radius)), unit])
    keep = np.ones(len(radius), bool)
    fitted = np.zeros(3)
    for _ in range(4):
        fitted, *_ = np.linalg.lstsq(design[keep], radius[keep], rcond=None)
        off = np.abs(radius - design @ fitted)
        keep = off < 3 * 1.4826 * np.median(off[keep]) + 1e-9
        if keep.sum() < 12:
            break
    expected = _eccentric_mm(view, radius_mm, pipe_radius_mm)
    return float(np.linalg.norm(fitted[1:] - expected) / fitted[0])


def _eccentric_mm(view: View, radius_mm: float, pipe_radius_mm: float) -> Array:
    """By how much (x, y) the middle of a pipe's outer edge lies off that of its inner one, mm.

    Rays graze a round pipe r / cos(angle of view) from its axis, so on the side that is seen
    more aslant the inner edge lies further in and the outer one further out.
    """
    x, y, z = camera_mm(view)
    angle = 2 * np.pi * np.arange(72) / 72
    around = np.column_stack([np.cos(angle), np.sin(angle)])
    slope = (radius_mm + pipe_radius_mm - around @ np.array([x, y])) / abs(float(z))
    once_around = 2 * (np.sqrt(1 + slope**2)[:, None] * around).mean(0)
    out: Array = 2 * pipe_radius_mm * once_around
    return out


def stretched_view(conic: Array, radius_mm: float, picture: Picture) -> View:
    """The ellipse stretched to a circle, without turning it; the camera taken for upright."""
    a = conic[:2, :2]
    centre = np.linalg.solve(a, -conic[:2, 2])
    level = -(centre @ a @ centre + 2 * conic[:2, 2] @ centre + conic[2, 2])
    values, vectors = np.linalg.eigh(a)
    half = np.sqrt(level / values)
    grow = vectors @ np.diag(half) @ vectors.T / radius_mm
    matrix = np.array(
        [[grow[0, 0], -grow[0, 1], centre[0]], [grow[1, 0], -grow[1, 1], centre[1]], [0, 0, 1.0]]
    )
    depth = picture.focal_px / math.sqrt(abs(float(np.linalg.det(grow))))
    axes = np.vstack([matrix[:2, :2] * depth / picture.focal_px, [0.0, 0.0]])
    origin = np.append((centre - picture.centre_px) * depth / picture.focal_px, depth)
    return View(axes, np.array([0, 0, -1.0]), origin, picture.focal_px, picture.centre_px)
