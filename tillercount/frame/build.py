"""From what was fitted in the picture to the marked area on the ground, in the photo's own px."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import HoopArea, RectArea, SquareArea
from tillercount.frame.confidence import (
    LEAST_CONFIDENCE,
    doubts_of,
    share_of_misfit,
    shown_ring,
    shown_sides,
    unsure,
)
from tillercount.frame.corners import read_corners
from tillercount.frame.finder import Maps, Picture
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.height import Pipe
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.hoopview import ring_of_hoop, stretched_view
from tillercount.frame.joint import (
    area_unsure,
    better_as_lath,
    fit_made,
    leaning,
    likelihoods,
    off_by_kind,
)
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.projection import (
    View,
    apply,
    homography,
    mm_per_px,
    unit_matrix,
    view_of,
)
from tillercount.frame.quad import QuadFit
from tillercount.frame.region import Region
from tillercount.frame.result import FrameFit, FrameNotFound
from tillercount.frame.ring import WORTH, Ring
from tillercount.frame.secondlook import judged_ring
from tillercount.frame.shading import flat_chance
from tillercount.frame.shape import out_of_true

__all__ = ["hoop_result", "marker_result", "quad_result"]

Array = NDArray[Any]

HOOP_POINTS = 64
KIND_DOUBT = 0.65
"""Least share of the confidence that doubt about pipe or lath leaves. It refuses nothing by itself:
of 14 rendered frames with a chance of over 0.2 that the outline is off by it, 13 were good."""


def quad_result(
    picture: Picture,
    maps: Maps,
    quad: QuadFit,
    area: SquareArea | RectArea,
    region: Region,
    seen: dict[str, Any],
) -> FrameFit | FrameNotFound:
    """Square or rectangle: its ground outline below the fitted inside edge."""
    model = outline_mm(area)
    made = fit_made(
        quad.sides, quad.corners, quad.view, size_mm(area), quad.width_px, picture=picture
    )
    flat = flat_chance(quad.shading, better_as_lath(made))
    corners_seen = read_corners(picture, maps, made[0].inner, size_mm(area), made[0].width_mm)
    chance, weight = (likelihoods(made, share, corners_seen) for share in (flat, leaning(flat)))
    corners = np.einsum("k,kij->ij", weight, [m.corners for m in made])
    view = view_of(homography(model, corners), quad.view.focal_px, picture.centre_px)
    width, height, lift = weight @ [[m.width_mm, m.height_mm, m.lift_mm] for m in made]
    # whether the edges are clean is asked of the likeliest kind: the others needn't fit them
    likeliest = made[int(np.argmax(chance))]
    residual, misfit = likeliest.residual_px, likeliest.misfit
    evidence = seen | quad.evidence
    evidence["residual_px"], evidence["misfit"] = round(residual, 3), round(misfit, 3)
    evidence["crossed"] = round(corners_seen.crossed, 2)
    evidence["y_upper"] = round(corners_seen.y_upper, 2)
    evidence["flat"], evidence["lift_mm"] = round(flat, 3), round(float(lift), 1)
    apart = area_unsure(made, chance, weight)
    evidence["area_unsure"] = round(apart, 4)
    doubts = doubts_of(
        presence=1 - maps.kinds["none"],
        certainty=region.certainty,
        seen=quad.evidence["seen_share"],
        missing=quad.evidence["missing_share"],
        residual=residual / maps.cell_px,
        bent=out_of_true(quad.view, float(lift)),
        overlap=evidence["map_overlap"],
        pipe_inside=evidence["pipe_inside"],
        least_seen=min(side.seen for side in quad.sides if side.state == "seen"),
        width_ratio=evidence["width_ratio"],
        area_unsure=apart,
        misfit=share_of_misfit(misfit, "quad", sides=quad.sides),
        lift=abs(float(lift)) / max(float(width), 1e-9),
        sides_shown=shown_sides(misfit, quad.sides),
    )
    enough = 1.001 * LEAST_CONFIDENCE / max(math.prod(doubts.values()), LEAST_CONFIDENCE)
    told = min(1.0, max(KIND_DOUBT, 1 - off_by_kind(made, chance, corners), enough))
    evidence["kind_told"] = round(told, 3)
    doubts["area_unsure"] *= told
    pipe = Pipe(float(width), float(height))
    return _result(area, picture, view, model, pipe, doubts, evidence)


def hoop_result(
    picture: Picture,
    maps: Maps,
    hoop: HoopFit,
    area: HoopArea,
    region: Region,
    seen: dict[str, Any],
) -> FrameFit | FrameNotFound:
    """Hoop: its ground outline below the fitted inside edge."""
    radius = area.diameter_mm / 2
    evidence = seen | hoop.evidence
    if not picture.focal_known:
        flat = stretched_view(hoop.conic, radius, picture).plane_to_photo()
        centre = picture.centre_px
        focal = likely_focal_px(flat, picture.focal_px, centre, shape_known=False)
        picture = replace(picture, focal_px=focal)
    evidence["focal_px"] = round(picture.focal_px * math.sqrt(math.prod(picture.per_px)), 1)
    # hoops are round pipe or hose: a flat one is rare and the finder isn't asked
    ring = ring_of_hoop(hoop, radius, picture, evidence)

    def doubts_of_ring(ring: Ring) -> dict[str, float]:
        evidence["residual_px"] = round(ring.residual_px, 3)
        evidence["misfit"] = round(ring.cost / (2 * WORTH), 3)
        return doubts_of(
            presence=1 - maps.kinds["none"],
            certainty=region.certainty,
            seen=evidence["seen_share"],
            missing=evidence["missing_share"],
            residual=evidence["residual_px"] / maps.cell_px,
            bent=0.0,
            overlap=evidence["map_overlap"],
            pipe_inside=evidence["pipe_inside"],
            misfit=share_of_misfit(evidence["misfit"], "hoop", evidence.get("rings_refused", 0)),
            shown=shown_ring(evidence["coverage"], evidence["seen_share"]),
        )

    ring, doubts = judged_ring(picture, hoop, ring, radius, doubts_of_ring)
    circle = outline_mm(area, points=HOOP_POINTS)
    pipe = Pipe(ring.width_mm, ring.width_mm / 2)
    return _result(area, picture, ring.view, circle, pipe, doubts, evidence)


def marker_result(
    corners: Array,
    evidence: dict[str, Any],
    area: SquareArea | RectArea | HoopArea,
    picture: Picture,
) -> FrameFit:
    """Area from marker corners, which lie on the ground."""
    shape = SquareArea(area.diameter_mm) if isinstance(area, HoopArea) else area
    matrix = homography(outline_mm(shape), corners)
    view = view_of(matrix, picture.focal_px, picture.centre_px)
    outline = outline_mm(area, points=HOOP_POINTS)
    to_photo = picture.to_photo @ matrix
    return FrameFit(
        kind=area.kind,
        outline_px=apply(to_photo, outline),
        to_ground=unit_matrix(np.linalg.inv(to_photo)),
        tilt_deg=view.tilt_deg,
        mm_per_px=mm_per_px(to_photo),
        confidence=0.98,
        evidence=evidence,
        method="markers",
    )


def _result(
    area: SquareArea | RectArea | HoopArea,
    picture: Picture,
    ground: View,
    ground_mm: Array,
    pipe: Pipe,
    doubts: dict[str, float],
    evidence: dict[str, Any],
) -> FrameFit | FrameNotFound:
    to_photo = picture.to_photo @ ground.plane_to_photo()
    outline = apply(to_photo, ground_mm)
    confidence = math.prod(doubts.values())
    if confidence < LEAST_CONFIDENCE:
        return unsure(area, doubts, evidence | {"outline_px": np.round(outline, 1).tolist()})
    return FrameFit(
        kind=area.kind,
        outline_px=outline,
        to_ground=unit_matrix(np.linalg.inv(to_photo)),
        tilt_deg=ground.tilt_deg if evidence.get("tilt_known", True) else float("nan"),
        mm_per_px=mm_per_px(to_photo),
        confidence=confidence,
        evidence=evidence | {"focal_known": picture.focal_known},
        tube_mm=pipe.width_mm,
    )
