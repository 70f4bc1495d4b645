"""Maps that are wrong as they are on hard photos: leaking, faint, or with nothing behind them."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea, SquareArea
from tillercount.frame import find
from tillercount.frame.finder import Maps, picture_of

SQUARE, HOOP = SquareArea(304.8), HoopArea(343.9)
CAMERA = Camera(distance_mm=640, turn_deg=20)


def maps_of(painted: Picture, kind: str) -> tuple:
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, kind, wrong=0.3)
    return picture, maps


def drawn(maps: Maps, ring_px: np.ndarray, thick: int = -1) -> np.ndarray:
    """Cells (h, w) bool inside a ring of picture px, or along it."""
    cells = np.column_stack([ring_px, np.ones(len(ring_px))]) @ maps.from_picture.T
    mask = np.zeros(maps.inside.shape, np.uint8)
    points = np.round(cells[:, :2]).astype(np.int32)
    if thick < 0:
        cv2.fillPoly(mask, [points], 1)
    else:
        cv2.polylines(mask, [points], False, 1, thick)
    return mask > 0


@pytest.mark.parametrize(("area", "kind"), [(SQUARE, "quad"), (HOOP, "hoop")])
def test_an_inside_that_leaks_out(area, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    painted = paint(area, CAMERA, Look(leaves=150), seed=1)
    picture, maps = maps_of(painted, kind)
    edge = painted.inside_edge_px
    middle = edge.mean(0)
    # a third of all directions: leaves there hide the frame from the finder
    angle = np.deg2rad(np.linspace(0, 120, 30))
    fan = middle + 420 * np.column_stack([np.cos(angle), np.sin(angle)])
    leak = drawn(maps, np.vstack([middle[None], fan])) & ~drawn(maps, edge)
    maps = replace(maps, inside=np.where(leak, np.maximum(maps.inside, 0.6), maps.inside))
    monkeypatch.setattr(find, "LEVELS", (0.0,))
    if kind == "quad":  # a hoop is started from the rim of its pipe as well
        once = find.find_in_maps(picture, maps, area)
        assert not once or iou(once.outline_px, painted.outline_px) < 0.98
    monkeypatch.undo()
    fit = find.find_in_maps(picture, maps, area)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


@pytest.mark.parametrize(("logit", "there"), [(-2.5, True), (-6.0, False)])
def test_a_side_on_ground_of_its_own_colour(logit: float, there: bool) -> None:
    """What the photo doesn't show the finder may: only where neither does is the side off."""
    painted = paint(SQUARE, CAMERA, Look(missing_side=1, leaves=40), seed=1)
    picture, maps = maps_of(painted, "quad")
    edge = painted.inside_edge_px
    ring = np.vstack([edge, edge[:1]])
    along = drawn(maps, ring, 3) & ~(maps.tube > 0)
    tube = np.where(maps.tube > 0, maps.tube, np.minimum(maps.tube, -6.0))
    maps = replace(maps, tube=np.where(along, logit, tube).astype(np.float32))
    fit = find.find_in_maps(picture, maps, SQUARE)
    assert bool(fit) == there
    if fit:
        assert "hidden" in fit.evidence["sides"]
        assert iou(fit.outline_px, painted.outline_px) > 0.97
    else:
        assert "isn't there" in fit.reason


def test_a_round_inside_without_a_pipe_is_no_hoop() -> None:
    painted = paint(HOOP, CAMERA, Look(leaves=40), seed=1)
    picture, maps = maps_of(painted, "hoop")
    assert find.find_in_maps(picture, maps, HOOP)
    bare = replace(maps, tube=np.full_like(maps.tube, -5.0))
    fit = find.find_in_maps(picture, bare, HOOP)
    assert not fit
    assert "round" in fit.reason
