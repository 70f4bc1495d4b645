"""Hoops: the ellipse of the inside edge, found from the finder's rim and the edges in the photo."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.agreement import agreement
from tillercount.frame.edges import Edges, look, read_edges
from tillercount.frame.ellipse import (
    axes_of,
    ellipse_points,
    fit_ellipse,
    ransac_ellipse,
    sampson,
)
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.hoopjudge import HoopFit, judged_hoop
from tillercount.frame.projection import apply
from tillercount.frame.region import Region, pipe_rim
from tillercount.frame.result import FrameNotFound

__all__ = ["fit_hoop"]

Array = NDArray[Any]

PROFILES = 240
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


def fit_hoop(
    picture: Picture, maps: Maps, region: Region, rings_refused: int = 0
) -> HoopFit | FrameNotFound:
    """Fit the inside edge of a hoop, or say why it can't be trusted.

    ``rings_refused``: how many rings in this photo weren't whole hoops, seen from other starts;
    ``evidence["rings_refused"]`` counts those seen here as well.
    """
    refused: FrameNotFound | None = None
    for rim, least_on, least_pipe in (
        (region.rim_px, LEAST_ON_ELLIPSE, LEAST_PIPE),
        (pipe_rim(maps, region.centre_px), LEAST_PIPE_ROUND, LEAST_PIPE_SEEN),
    ):
        found = _fit_rim(picture, maps, rim, least_on, least_pipe)
        rings_refused += isinstance(found, FrameNotFound) and "coverage" in found.evidence
        found.evidence["rings_refused"] = rings_refused
        if isinstance(found, HoopFit) or found.evidence.get("open"):
            return found
        refused = refused or found
    assert refused is not None
    refused.evidence["rings_refused"] = rings_refused
    return refused


def _fit_rim(
    picture: Picture,
    maps: Maps,
    rim_px: Array,
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
    found = judged_hoop(picture, conic, points, normals, edges, evidence)
    if isinstance(found, FrameNotFound) and math.isfinite(edges.width_px):
        edges = _look_again(picture, maps, conic, points, normals, edges)
        evidence["looked_again"] = True
        found = judged_hoop(picture, conic, points, normals, edges, evidence)
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


def _not_round(evidence: dict[str, Any]) -> FrameNotFound:
    return FrameNotFound(
        "what lies there isn't round",
        "check --area (is it a square?)",
        evidence,
    )
