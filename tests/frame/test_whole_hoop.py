"""Is it a whole hoop? Cut by the photo's border, open on greenish ground, or seen all around."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea
from tillercount.frame.confidence import doubts_of, shown_ring
from tillercount.frame.edges import Edges
from tillercount.frame.ellipse import ellipse_points, fit_ellipse
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.hoopjudge import GREENEST_GROUND, GROUND, HoopFit, judged_hoop
from tillercount.frame.result import FrameFit, FrameNotFound

HOOP = HoopArea(343.9)
GREENISH = (0.46, 0.52, 0.40)


def looked_at(painted: Picture) -> tuple:
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    return picture, truth_maps(picture, painted.classes, painted.inside_edge_px, "hoop", wrong=0.2)


def found_in(painted: Picture) -> FrameFit | FrameNotFound:
    return find_in_maps(*looked_at(painted), HOOP)


def cut_at_the_top(painted: Picture, first_row: float) -> Picture:
    """The photo without the rows of pixels above ``first_row``, still seen by the same camera."""
    top = int(first_row)
    keep = slice(top, painted.rgb.shape[0] - top)
    down = np.array([0, top])
    return replace(
        painted,
        rgb=painted.rgb[keep],
        classes=painted.classes[keep],
        outline_px=painted.outline_px - down,
        inside_edge_px=painted.inside_edge_px - down,
    )


def test_leaves_of_a_closed_canopy_over_the_pipe_are_no_gap() -> None:
    # nothing in such a photo is ground, so leaves aren't greener than "the ground"
    look = Look(leaves=16000, leaf_over=0.05, missing_arc=(30, 115))
    painted = paint(HOOP, Camera(distance_mm=640), look, seed=1)
    picture, _ = looked_at(painted)
    assert np.quantile(picture.green[::8, ::8], GROUND) > GREENEST_GROUND
    fit = found_in(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


@pytest.mark.parametrize("seed", [1, 2])
def test_a_pipe_that_the_border_cuts_lengthwise_is_no_gap(seed: int) -> None:
    camera = Camera(distance_mm=640, aim_mm=(0.0, -60.0), turn_deg=90)
    painted = paint(HOOP, camera, Look(leaves=20, tube_mm=38, leaf_over=0.2), seed=seed)
    painted = cut_at_the_top(painted, painted.inside_edge_px[:, 1].min() - 1)
    assert painted.inside_edge_px.min() > 0
    fit = found_in(painted)
    assert fit, fit
    assert 20 < fit.evidence["outside_deg"] < 70
    assert fit.evidence["bare_gap_deg"] < 8
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_nobody_knows_whether_a_hoop_is_closed_outside_the_photo() -> None:
    camera = Camera(distance_mm=640, aim_mm=(0.0, -60.0), turn_deg=90)
    painted = paint(HOOP, camera, Look(leaves=20, leaf_over=0.2), seed=1)
    top, bottom = painted.inside_edge_px[:, 1].min(), painted.inside_edge_px[:, 1].max()
    fit = found_in(cut_at_the_top(painted, top + 0.2 * (bottom - top)))
    assert not fit
    assert "outside the photo" in fit.reason
    assert fit.todo.startswith("step back")
    assert fit.evidence["missing_share"] < 0.5
    assert found_in(painted)


@pytest.mark.parametrize("arc", [(30, 100), (200, 280)])
def test_greenish_ground_in_a_gap_is_no_leaf(arc: tuple[float, float]) -> None:
    look = Look(leaves=0, tint=GREENISH)
    camera = Camera(distance_mm=640, tilt_deg=4)
    assert found_in(paint(HOOP, camera, look, seed=3))
    fit = found_in(paint(HOOP, camera, replace(look, missing_arc=arc), seed=3))
    assert not fit
    assert "isn't there" in fit.reason


def judged(
    hidden_deg: float, bare_deg: float, leaf_every: int = 1000
) -> HoopFit | FrameNotFound:
    """A hoop of which so much lies under leaves in one piece, with bare ground in its midst.

    Elsewhere a leaf lies over every so manieth place.
    """
    painted = paint(HOOP, Camera(distance_mm=640), Look(leaves=0), seed=4)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    conic = fit_ellipse(painted.inside_edge_px, start=None)
    assert conic is not None
    points, normals = ellipse_points(conic, 240)
    turn = np.arange(240) * 1.5
    seen = ~((turn >= 60) & (turn < 60 + hidden_deg))
    bare = np.abs(turn - 60 - hidden_deg / 2) < bare_deg / 2
    seen &= np.arange(240) % leaf_every != leaf_every - 1
    leaf = ~seen & ~bare
    # green where the nearest of these places lies under a leaf
    y, x = np.indices(picture.shape)[:, ::4, ::4].reshape(2, -1)
    way = np.column_stack([x, y]) - points.mean(0)
    nearest = np.argmax(way @ (points - points.mean(0)).T, 1)
    small = np.where(leaf[nearest], 0.3, 0.0).reshape(picture.shape[0] // 4, -1)
    picture.green[:] = np.kron(small, np.ones((4, 4)))
    everywhere = np.ones(240, bool)
    edges = Edges(
        np.zeros(240), np.full(240, 28.0), seen.astype(float), seen, leaf, leaf, everywhere, 28.0
    )
    return judged_hoop(picture, conic, points, normals, edges, {})


@pytest.mark.parametrize(("bare_deg", "whole"), [(0, True), (6, True), (14, False)])
def test_some_bare_ground_under_leaves_over_a_long_stretch_is_a_gap(
    bare_deg: float, whole: bool
) -> None:
    """90 degrees lie under leaves, and in their midst the ground shows."""
    found = judged(90, bare_deg)
    assert isinstance(found, HoopFit) == whole, found


@pytest.mark.parametrize(("hidden_deg", "bare_deg"), [(60, 0), (60, 6), (40, 14)])
def test_all_around_seen_a_leaf_with_little_bare_ground_is_no_gap(
    hidden_deg: float, bare_deg: float
) -> None:
    found = judged(hidden_deg, bare_deg)
    assert isinstance(found, HoopFit), found


def test_where_all_else_is_seen_a_stretch_with_bare_ground_in_it_is_a_gap() -> None:
    """60 degrees are greenish, and some of it is plainly ground: an open hose on moss."""
    found = judged(60, 14)
    assert isinstance(found, FrameNotFound)
    assert "isn't there" in found.reason
    # under leaves here and there, as a closed hoop is in a stand, it may be a leaf's shadow
    assert isinstance(judged(60, 14, leaf_every=8), HoopFit)


@pytest.mark.parametrize(("hidden_deg", "whole"), [(135, True), (165, False)])
def test_nobody_knows_whether_a_hoop_is_closed_where_leaves_hide_half(
    hidden_deg: float, whole: bool
) -> None:
    found = judged(hidden_deg, 0)
    assert isinstance(found, HoopFit) == whole, found
    assert whole or "leaves hide 46%" in str(found.reason)


def test_a_ring_seen_all_around_needs_less_of_the_finders_word() -> None:
    painted = paint(HOOP, Camera(distance_mm=640), Look(leaves=20, leaf_over=0.2), seed=5)
    picture, maps = looked_at(painted)
    # an inside blurred as under thick leaves: 0.70 there, 0.15 beside it
    doubtful = np.where(maps.inside > 0, 0.85, -1.7).astype(np.float32)
    fit = find_in_maps(picture, replace(maps, inside=doubtful), HOOP)
    assert fit, fit
    assert fit.evidence["certainty"] < 0.75
    assert fit.evidence["map_overlap"] < 0.7
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_a_ring_seen_in_part_leaves_the_finders_doubt() -> None:
    given = {"presence": 0.9, "seen": 0.7, "missing": 0.0, "residual": 0.1, "bent": 0.0}
    doubt = doubts_of(certainty=0.7, overlap=0.55, **given)
    half = doubts_of(certainty=0.7, overlap=0.55, shown=shown_ring(0.7, 0.6), **given)
    assert half == doubt
    shown = doubts_of(certainty=0.7, overlap=0.55, shown=shown_ring(0.9, 0.8), **given)
    assert shown["certainty"] == shown["overlap"] == 1.0
    assert {k: v for k, v in shown.items() if k not in ("certainty", "overlap")} == {
        k: v for k, v in doubt.items() if k not in ("certainty", "overlap")
    }


@pytest.mark.parametrize(("off", "whole"), [(0.07, True), (0.2, False)])
def test_a_sleeve_over_the_joint_is_no_gap(off: float, whole: bool) -> None:
    """A sleeve is thicker than the pipe by a seventh, however cleanly the rest is read; what lies
    a fifth of the pipe off is something else."""
    painted = paint(HOOP, Camera(distance_mm=640), Look(leaves=0), seed=4)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    conic = fit_ellipse(painted.inside_edge_px, start=None)
    assert conic is not None
    points, normals = ellipse_points(conic, 240)
    sleeve = np.abs(np.arange(240) * 1.5 - 105) < 25
    width = 50.0
    everywhere, nowhere = np.ones(240, bool), np.zeros(240, bool)
    edges = Edges(
        np.where(sleeve, -off * width, 0.0), np.full(240, width), np.ones(240),
        everywhere, nowhere, nowhere, everywhere, width,
    )
    judged = judged_hoop(picture, conic, points, normals, edges, {})
    assert isinstance(judged, HoopFit) == whole, judged
