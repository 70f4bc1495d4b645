"""A second look at a hoop whose edges didn't lie as one ring's: where does the picture take a step?

A thick dark hose is read askew: its flanks have the colours of leaves in the shade, and its own
shadow has its colour. Where it ends the picture takes a step all the same, most of the way around.
So the ring is moved to the clearest steps about it, from further away and then from nearer. Steps
that are looked for close to a ring always lie close to it, so this is believed only where, looked
for from far off, the clearest step of most places is that ring's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.frame.confidence import LEAST_CONFIDENCE
from tillercount.frame.edges import look
from tillercount.frame.finder import Picture
from tillercount.frame.height import camera_mm
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.misread import within_share
from tillercount.frame.projection import View, apply
from tillercount.frame.ring import WORTH, Ring, fit_ring
from tillercount.frame.section import pipe_edges
from tillercount.frame.steps import SIDE_PX, clearest, step_sizes

__all__ = ["judged_ring", "ring_by_steps"]

Array = NDArray[Any]

PLACES = 240
STEP_PX = 0.5
REACHES = (0.25, 0.15, 0.08)
"""Of the pipe's width, one after the other, in which steps are looked for, and `LEAST_PX`."""
LEAST_PX = 2.0
WIDE, WIDE_PX, SAME, SAME_PX = 0.25, 3.0, 0.05, 1.5
"""Of the width, and at least: how far off steps are looked for in the end, and how near one is the
ring's own."""
FAINT = 18.0
"""A step, of 255, that is worth half a clear one: three times the grain of a phone's photo."""
MORE = 0.2
"""Share of the places, beyond what chance gives, at which the clearest step must be the ring's, on
the inner edge and on the outer."""
CLEAN = 1.5
"""Most cost per reading that the steps may leave: half of `confidence.MOST_MISFIT`. Of 20 hoops of
development scenes whose edges had been too unclear six pass with this and `MORE`: they overlap the
truth by 0.992 and more, and by 0.984 and more before. Of the 14 others, as they were read at first,
seven overlap it by less than 0.98.
"""
EDGES = ("misfit", "residual")
"""Doubts that a second look may settle, see `confidence.doubts_of`."""


def judged_ring(
    picture: Picture,
    hoop: HoopFit,
    ring: Ring,
    radius_mm: float,
    doubts_of_it: Callable[[Ring], dict[str, float]],
) -> tuple[Ring, dict[str, float]]:
    """The ring, by a second look where it would be refused for its edges, and its doubts."""
    doubts = doubts_of_it(ring)
    worst = min(doubts, key=lambda name: doubts[name])
    if math.prod(doubts.values()) >= LEAST_CONFIDENCE or worst not in EDGES:
        return ring, doubts
    share = within_share(picture, [(hoop.inner, hoop.outer)])
    again = ring_by_steps(picture, ring, radius_mm, share)
    return (ring, doubts) if again is None else (again, doubts_of_it(again))


def ring_by_steps(picture: Picture, ring: Ring, radius_mm: float, share: float) -> Ring | None:
    """The ring that the clearest steps about this one show; None where they show none.

    ``share`` see `misread.within_share`.
    """
    for far in REACHES:
        here = _steps(picture, ring, radius_mm, far, LEAST_PX)
        if here is None:
            return None
        inner, outer, weight, _ = here
        ring = fit_ring(inner, outer, weight, radius_mm, ring.view, ring.width_mm, share)
    if ring.cost / (2 * WORTH) > CLEAN:
        return None
    wide = _steps(picture, ring, radius_mm, WIDE, WIDE_PX, nearer=0.0)
    if wide is None:
        return None
    away = wide[3]
    width = away[2]
    same = max(SAME_PX, SAME * width)
    chance = same / max(WIDE_PX, WIDE * width)
    told = [float((np.abs(edge) < same).mean()) for edge in away[:2]]
    return ring if min(told) > chance + MORE else None


def _steps(
    picture: Picture,
    ring: Ring,
    radius_mm: float,
    share: float,
    least_px: float,
    nearer: float | None = None,
) -> tuple[Array, Array, Array, tuple[Array, Array, float]] | None:
    """Places (N, 2) px of the clearest steps about both edges, how much (N,) each pair is worth,
    and how far (N,), (N,) px outwards of the edges they lie, with the pipe's width px; None where
    too little lies in the photo."""
    inner, outer = _edges(ring.view, radius_mm, ring.width_mm)
    across = np.linalg.norm(outer - inner, axis=1)
    width = float(np.median(across))
    reach = max(least_px, share * width)
    normals = (outer - inner) / across[:, None]
    n = round((reach + SIDE_PX) / STEP_PX) + 2
    offsets = (np.arange(-n, n) + 0.5) * STEP_PX
    places, away, least = [], [], np.full(len(inner), np.inf)
    shown = np.ones(len(inner), bool)
    for edge in (inner, outer):
        at = edge[:, None] + offsets[:, None] * normals[:, None]
        sizes = step_sizes(look(picture.rgb, at), STEP_PX)
        more = {} if nearer is None else {"nearer": nearer}
        off, size = clearest(sizes, -n * STEP_PX, STEP_PX, np.zeros(len(edge)), reach, **more)
        least = np.minimum(least, size)
        shown &= picture.shows(at).all(1)
        places.append(edge + off[:, None] * normals)
        away.append(off)
    if shown.mean() < 0.5:
        return None
    worth = least / (least + FAINT)
    apart = away[0][shown], away[1][shown], width
    return places[0][shown], places[1][shown], worth[shown], apart


def _edges(view: View, radius_mm: float, width_mm: float) -> tuple[Array, Array]:
    """Places (N, 2) px around both edges of the pipe, as a ring is seen."""
    turn = 2 * np.pi * np.arange(PLACES) / PLACES
    out = np.column_stack([np.cos(turn), np.sin(turn)])
    camera = camera_mm(view)
    near, far = pipe_edges(
        out @ camera[:2], camera[2:], np.array([radius_mm]), np.array([width_mm / 2]), np.zeros(1)
    )
    to_picture = view.plane_to_photo()
    return apply(to_picture, out * near[:, None]), apply(to_picture, out * far[:, None])
