"""The shipped finder, from photo to outline."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from frame.painter import Camera, Look, Picture, iou, paint
from skimage import data

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.errors import InputError
from tillercount.frame import FrameFit, FrameNotFound, find_area
from tillercount.frame.confidence import LEAST_CONFIDENCE
from tillercount.frame.finder import Finder
from tillercount.photo import Photo

SQUARE, HOOP = SquareArea(304.8), HoopArea(343.9)
ROW = RowArea(487.7, 190.5)


def photo_of(rgb: np.ndarray, focal_px: float = 1000.0) -> Photo:
    return Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, focal_px, True, ())


def look_for(painted: Picture, area=None) -> FrameFit | FrameNotFound:
    return find_area(photo_of(painted.rgb, painted.camera.focal_px), area or painted.area)


WHITE, ORANGE, YELLOW, BLUE = (235, 235, 230), (220, 120, 40), (230, 210, 60), (60, 80, 190)


@pytest.mark.parametrize(
    ("area", "distance", "colour", "tilt"),
    [
        *(pytest.param(SQUARE, 600, WHITE, tilt, id=f"square-{tilt}") for tilt in (0, 14, 24)),
        *(
            pytest.param(RectArea(254, 508), 940, ORANGE, tilt, id=f"rect-{tilt}")
            for tilt in (0, 14, 24)
        ),
        *(pytest.param(HOOP, 660, YELLOW, tilt, id=f"yellow hoop-{tilt}") for tilt in (0, 14, 24)),
        *(pytest.param(HOOP, 660, BLUE, tilt, id=f"blue hoop-{tilt}") for tilt in (0, 14, 24)),
    ],
)
def test_painted_frames_are_found(area, distance: float, colour, tilt: float) -> None:
    camera = Camera(distance_mm=distance, tilt_deg=tilt, azimuth_deg=250, turn_deg=40)
    look = Look(colour=colour, leaves=220, ground="crumbs", tint=(0.45, 0.36, 0.28))
    painted = paint(area, camera, look, seed=tilt + 1)
    fit = look_for(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98
    assert fit.confidence > LEAST_CONFIDENCE


def test_stick_and_its_row() -> None:
    camera = Camera(distance_mm=760, turn_deg=80)
    painted = paint(ROW, camera, Look(tube_mm=24, leaves=420, leaf_over=0.3), seed=3)
    fit = look_for(painted)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.85


@pytest.mark.parametrize("area", [SQUARE, HOOP, ROW, RectArea(254, 508)], ids=lambda a: a.kind)
@pytest.mark.parametrize(
    "name", ["grass", "gravel", "brick", "coins", "coffee", "rocket", "astronaut", "moon", "page"]
)
def test_photos_without_a_frame_give_nothing(name: str, area) -> None:
    rgb = np.asarray(getattr(data, name)())
    if rgb.ndim == 2:
        rgb = np.repeat(rgb[:, :, None], 3, axis=2)
    found = find_area(photo_of(np.ascontiguousarray(rgb[..., :3])), area)
    assert not found
    assert isinstance(found, FrameNotFound)
    assert found.reason
    assert found.todo


@pytest.mark.parametrize("seed", range(6))
def test_ground_and_leaves_alone_give_nothing(seed: int) -> None:
    ground = ("gravel", "grass", "brick", "noise", "crumbs", "gravel")[seed]
    look = Look(ground=ground, leaves=60 * seed, leaf_over=0.6)
    painted = paint(None, Camera(distance_mm=650, turn_deg=30 * seed), look, seed=seed)
    for area in (SQUARE, HOOP, ROW):
        assert not look_for(painted, area)


def test_a_side_that_came_off_is_refused() -> None:
    for side in (0, 2):
        look = Look(missing_side=side, leaves=60)
        painted = paint(SQUARE, Camera(distance_mm=640, turn_deg=20), look, seed=side)
        assert not look_for(painted)


def test_asking_for_another_kind_is_refused() -> None:
    painted = paint(HOOP, Camera(distance_mm=660), Look(), seed=1)
    assert not look_for(painted, SQUARE)
    painted = paint(SQUARE, Camera(distance_mm=620), Look(), seed=1)
    assert not look_for(painted, HOOP)


def test_a_photo_turned_gives_the_same_area() -> None:
    camera = Camera(distance_mm=640, tilt_deg=8, turn_deg=10)
    painted = paint(HOOP, camera, Look(), seed=5)
    upright = look_for(painted)
    turned = find_area(photo_of(np.ascontiguousarray(np.rot90(painted.rgb)), camera.focal_px), HOOP)
    assert upright
    assert turned
    x, y = turned.outline_px.T
    back = np.column_stack([camera.width - 1 - y, x])
    assert iou(back, upright.outline_px) > 0.985


@pytest.fixture(scope="module")
def large() -> Picture:
    camera = Camera(width=4000, height=3000, focal_px=2900, distance_mm=620, tilt_deg=6)
    return paint(SQUARE, camera, Look(leaves=150), seed=2)


def test_twelve_megapixels_in_good_time(large: Picture) -> None:
    photo = photo_of(large.rgb, large.camera.focal_px)
    assert find_area(photo, SQUARE)
    begun = time.process_time()
    assert find_area(photo, SQUARE)
    # about 0.3 s of processor time; this only catches something being far off
    assert time.process_time() - begun < 2.0


def test_a_white_square_half_in_its_own_shadow(large: Picture) -> None:
    fit = look_for(large)
    assert fit
    assert iou(fit.outline_px, large.outline_px) > 0.98


def test_unknown_weights_are_said() -> None:
    with pytest.raises(InputError):
        Finder.load("no-such-finder")
