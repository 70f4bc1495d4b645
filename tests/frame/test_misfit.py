"""Do all edges together lie as those of one frame do? Each may be clean and yet not be its edge."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, iou, paint
from frame.test_doubts import SURE
from frame.test_joint import fitted, moved, sides_of

from tillercount.area import HoopArea, RectArea, SquareArea
from tillercount.frame import hoop, joint
from tillercount.frame.confidence import (
    LEAST_CONFIDENCE,
    MOST_MISFIT,
    doubts_of,
    share_of_misfit,
    shown_sides,
)
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import view_of_pose
from tillercount.frame.result import FrameNotFound
from tillercount.frame.ring import WORTH, fit_ring
from tillercount.frame.side import Side

SQUARE, HOOP = SquareArea(304.8), HoopArea(343.9)
CAMERA = Camera(distance_mm=700, tilt_deg=8, azimuth_deg=100)


def least_misfit(sides: list[Side]) -> float:
    return min(made.misfit for made in fitted(sides, CAMERA, SQUARE))


def test_edges_of_one_frame_leave_little_and_clean_lines_elsewhere_leave_much() -> None:
    sides = sides_of("pipe", CAMERA, SQUARE, 21.3, 0.0)
    assert least_misfit(sides) < 0.05
    rng = np.random.default_rng(2)
    grainy = [moved(side, rng.normal(0, 1.0, 60)) for side in sides]
    assert least_misfit(grainy) < 0.3 * MOST_MISFIT["quad"]
    # one side along the edge of a shadow is outvoted, and is no reason to refuse
    shadow = [*sides[:2], moved(sides[2], np.full(60, -15.0)), sides[3]]
    assert least_misfit(shadow) < 0.75 * MOST_MISFIT["quad"]
    # straight lines on all sides, and no two of them of one frame
    askew = np.linspace(-12, 12, 60)
    lines = [
        moved(sides[0], np.full(60, -12.0)),
        moved(sides[1], np.full(60, 6.0)),
        moved(sides[2], askew),
        moved(sides[3], -askew, both=True),
    ]
    assert least_misfit(lines) > MOST_MISFIT["quad"]


@pytest.mark.parametrize("off_px", [0.0, 9.0])
def test_a_ring_read_along_shadows_leaves_much(off_px: float) -> None:
    view = view_of_pose(np.array([np.pi, 0, 0]), np.array([0, 0, 640.0]), 870.0, (600.0, 450.0))
    t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    ring = np.column_stack([np.cos(t), np.sin(t)])
    # a hoop of 343.9 mm of 20 mm pipe from straight above, about
    inner, outer = (np.array([600.0, 450.0]) + ring * px for px in (238.5, 266.5))
    # shadows and dark flanks: the inner edge now here, now there
    inner = inner + ring * (off_px * np.sign(np.sin(5 * t)))[:, None]
    found = fit_ring(inner, outer, np.ones(240), 343.9 / 2, view, 20.0)
    assert (found.cost / (2 * WORTH) > MOST_MISFIT["hoop"]) == (off_px > 0)


@pytest.mark.parametrize("counts", [True, False])
def test_places_of_something_else_along_a_hidden_side_do_not_count(
    counts: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rim of snow, some 20 px inside of where three clean sides put the fourth."""
    camera = Camera(focal_px=1070, distance_mm=800, tilt_deg=2, azimuth_deg=40)
    truth = camera.project(outline_mm(SQUARE))
    sides = sides_of("pipe", camera, SQUARE, 8.0, 0.0)
    few = slice(20, 31)
    inner, outer = (
        edge[few] - 20.0 * sides[2].line.normal for edge in (sides[2].inner, sides[2].outer)
    )
    hidden = Side(sides[2].line, 0.09, 0.9, 1.0, 0.5, inner, 11.0, inner, outer)
    assert hidden.state == "hidden"
    if counts:
        monkeypatch.setattr(joint, "CLASH", np.inf)
    made = fitted([*sides[:2], hidden, sides[3]], camera, SQUARE)
    best = min(made, key=lambda one: one.cost)
    assert (iou(best.corners, truth) < 0.98) == counts
    assert (best.misfit < 0.1) != counts


@pytest.mark.parametrize(("longer", "found"), [(1.0, True), (1.06, False)])
def test_no_pipe_lies_higher_on_another_than_it_is_thick(longer: float, found: bool) -> None:
    """A rectangle asked for as a square: one pair would have to lie far above the other."""
    camera = Camera(distance_mm=760, tilt_deg=3)
    painted = paint(RectArea(304.8, 304.8 * longer), camera, Look(leaves=0, tube_mm=14), seed=3)
    picture = picture_of(painted.rgb, camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "quad")
    fit = find_in_maps(picture, maps, SQUARE)
    assert bool(fit) == found, fit
    if not found:
        assert "don't fit a square" in fit.reason


def test_a_side_that_shows_little_is_in_no_doubt_where_all_edges_fit() -> None:
    doubt = {"least_seen": 0.24, "width_ratio": 1.45}
    alone = doubts_of(**(SURE | doubt))
    assert max(alone["least_seen"], alone["width_ratio"]) < 0.7
    whole = sides_of("pipe", CAMERA, SQUARE, 21.3, 0.0)
    sides = [*whole[:3], replace(whole[3], seen=0.24)]
    shown = doubts_of(**(SURE | doubt), sides_shown=shown_sides(0.9, sides))
    assert shown["least_seen"] == shown["width_ratio"] == 1.0
    # neither where they fit less well, nor where much is hidden, nor where one isn't seen at all
    for little in (
        shown_sides(2.5, sides),
        shown_sides(0.9, [replace(side, seen=0.38) for side in sides]),
        shown_sides(0.9, [*whole[:3], replace(whole[3], seen=0.1, unclear=0.9)]),
    ):
        assert doubts_of(**(SURE | doubt), sides_shown=little) == alone


def test_a_ring_that_one_of_many_starts_led_to_must_fit_better() -> None:
    misfit = 0.9 * MOST_MISFIT["hoop"]
    first = doubts_of(**SURE, misfit=share_of_misfit(misfit, "hoop"))
    later = doubts_of(**SURE, misfit=share_of_misfit(misfit, "hoop", rings_refused=3))
    clean = doubts_of(**SURE, misfit=share_of_misfit(0.3 * misfit, "hoop", rings_refused=3))
    assert later["misfit"] < LEAST_CONFIDENCE < first["misfit"] < clean["misfit"] == 1.0


def test_where_one_side_cant_be_checked_the_others_must_be_clean() -> None:
    whole = sides_of("pipe", CAMERA, SQUARE, 21.3, 0.0)
    few = [*whole[:3], replace(whole[3], inner=whole[3].inner[:4], outer=whole[3].outer[:4])]
    some = [*whole[:3], replace(whole[3], inner=whole[3].inner[:9], outer=whole[3].outer[:9])]

    def left(misfit: float, sides: list[Side]) -> float:
        return doubts_of(**SURE, misfit=share_of_misfit(misfit, "quad", sides=sides))["misfit"]

    assert left(1.8, whole) == left(1.8, some) == 1.0
    assert left(1.8, few) < LEAST_CONFIDENCE
    assert left(0.8, few) == 1.0


def test_rings_that_are_not_whole_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    camera = Camera(distance_mm=640, tilt_deg=4)
    painted = paint(HOOP, camera, Look(leaves=30), seed=1)
    picture = picture_of(painted.rgb, camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "hoop", wrong=0.2)
    judged, refused = hoop.judged_hoop, []

    def not_whole_at_first(*given: Any) -> Any:
        # each start is looked at twice
        if len(refused) == 6:
            return judged(*given)
        refused.append(FrameNotFound("a gap", "close it", given[-1] | {"coverage": 0.6}))
        return refused[-1]

    monkeypatch.setattr(hoop, "judged_hoop", not_whole_at_first)
    fit = find_in_maps(picture, maps, HOOP)
    assert fit, fit
    assert fit.evidence["rings_refused"] == 3
    monkeypatch.setattr(hoop, "judged_hoop", judged)
    assert find_in_maps(picture, maps, HOOP).evidence["rings_refused"] == 0


def test_a_hoop_found_says_how_well_its_edges_fit() -> None:
    painted = paint(HOOP, Camera(distance_mm=640, tilt_deg=4), Look(leaves=30), seed=1)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "hoop", wrong=0.2)
    fit = find_in_maps(picture, maps, HOOP)
    assert fit, fit
    assert 0 < fit.evidence["misfit"] < 0.5 * MOST_MISFIT["hoop"]
