"""The metric top view against known geometry."""

from __future__ import annotations

import math
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
from frame.painter import Camera
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea, WholePhoto
from tillercount.errors import InputError
from tillercount.frame import find_area
from tillercount.frame.projection import apply
from tillercount.photo import Photo
from tillercount.topview import make_topview

SQUARE = SquareArea(304.8)


def photo_of(rgb: np.ndarray, focal: float = 1740.0) -> Photo:
    return Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, focal, True, ())


def by_hand(camera: Camera, area, rgb: np.ndarray | None = None):
    if rgb is None:
        rgb = np.full((camera.height, camera.width, 3), 90, np.uint8)
    if isinstance(area, HoopArea):
        w = h = area.diameter_mm
    elif isinstance(area, SquareArea):
        w = h = area.side_mm
    elif isinstance(area, RowArea):
        w, h = area.length_mm, area.spacing_mm
    else:
        w, h = area.width_mm, area.length_mm
    corners = camera.project(np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2)
    photo = photo_of(rgb, camera.focal_px)
    fit = find_area(photo, area, corners)
    assert fit
    return photo, fit


@pytest.mark.parametrize(
    "area", [SQUARE, RectArea(254, 508), HoopArea(343.9), RowArea(487.68, 190.5)]
)
@pytest.mark.parametrize("scale", [0.4, 0.55, 1.3])
def test_area_inside_is_the_area(area, scale: float) -> None:
    camera = Camera(width=2400, height=1800, focal_px=1740, distance_mm=800, tilt_deg=12)
    photo, fit = by_hand(camera, area)
    view = make_topview(photo, fit, area, mm_per_px=scale)
    assert view.inside_mm2 / 1e6 == pytest.approx(area.area_m2, rel=1e-3)
    assert view.inside.min() >= 0
    assert view.inside.max() <= 1
    # the margin holds nothing of the area
    rim = int(19 / scale)
    assert view.inside[:rim].sum() == 0
    assert view.inside[:, -rim:].sum() == 0


@given(st.floats(0, 25), st.floats(0, 360), st.floats(0, 360))
@settings(max_examples=30, deadline=None)
def test_pixels_lead_back_to_the_photo(tilt: float, azimuth: float, turn: float) -> None:
    camera = Camera(
        width=1200, height=900, distance_mm=700, tilt_deg=tilt, azimuth_deg=azimuth, turn_deg=turn
    )
    photo, fit = by_hand(camera, SQUARE)
    view = make_topview(photo, fit, SQUARE, mm_per_px=1.0)
    height, width = view.inside.shape
    middle = apply(view.to_photo, np.array([[(width - 1) / 2, (height - 1) / 2]]))
    np.testing.assert_allclose(middle, camera.project(np.zeros((1, 2))), atol=0.01)
    # straight lines on the ground have one scale everywhere in the view
    corners = apply(np.linalg.inv(view.to_photo), fit.outline_px)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    np.testing.assert_allclose(sides, 304.8, atol=0.01)


def test_the_view_is_not_mirrored_and_shows_the_right_places() -> None:
    camera = Camera(width=2400, height=1800, focal_px=1740, distance_mm=700, tilt_deg=15)
    rgb = np.full((1800, 2400, 3), 80, np.uint8)
    spots = {"red": (-100.0, 60.0), "blue": (90.0, -40.0)}
    for (x, y), colour in zip(spots.values(), ((255, 0, 0), (0, 0, 255)), strict=True):
        px = camera.project(np.array([[x, y]]))[0]
        cv2.circle(rgb, (round(px[0]), round(px[1])), 12, colour, -1)
    photo, fit = by_hand(camera, SQUARE, rgb)
    view = make_topview(photo, fit, SQUARE)
    for channel, other in ((0, 2), (2, 0)):
        dot = view.rgb[..., channel].astype(int) - view.rgb[..., other] > 100
        rows, columns = np.nonzero(dot)
        assert len(rows)
        here = np.array([[columns.mean(), rows.mean()]])
        back = apply(view.to_photo, here)[0]
        truth = camera.project(np.array([spots["red" if channel == 0 else "blue"]]))[0]
        assert np.linalg.norm(back - truth) < 2
    # as the photo: what is left of something else there is so here
    inverse = np.linalg.inv(view.to_photo)
    two = apply(inverse, np.array([[1000.0, 900.0], [1400.0, 900.0]]))
    assert two[1, 0] > two[0, 0]
    two = apply(inverse, np.array([[1200.0, 700.0], [1200.0, 1100.0]]))
    assert two[1, 1] > two[0, 1]


def test_a_fine_pattern_does_not_alias() -> None:
    # stripes of 2 px in a photo four times finer than the view: only their mean may be left
    rgb = np.zeros((3000, 4000, 3), np.uint8)
    rgb[:, ::4] = rgb[:, 1::4] = 200
    camera = Camera(width=4000, height=3000, focal_px=3000, distance_mm=600)
    photo, fit = by_hand(camera, SQUARE, rgb)
    assert fit.mm_per_px == pytest.approx(0.2, rel=1e-3)
    view = make_topview(photo, fit, SQUARE, mm_per_px=0.8)
    part = view.rgb[100:-100, 100:-100].astype(float)
    assert part.std() < 8
    assert part.mean() == pytest.approx(100, abs=3)
    assert view.native_mm_per_px == pytest.approx(0.2, rel=1e-3)


def test_pixels_outside_the_photo_are_marked() -> None:
    camera = Camera(width=1200, height=900, distance_mm=520, aim_mm=(140.0, 0.0))
    photo, fit = by_hand(camera, SQUARE)
    view = make_topview(photo, fit, SQUARE)
    assert 0.5 < view.valid.mean() < 0.97
    assert (view.rgb[~view.valid] < 90).mean() > 0.98
    rows, columns = np.nonzero(view.valid)
    px = apply(view.to_photo, np.column_stack([columns, rows]).astype(float))
    assert px.min() >= -0.5
    assert (px <= [1199.5, 899.5]).all()


def test_whole_photo_is_only_resized() -> None:
    rng = np.random.default_rng(1)
    rgb = rng.integers(0, 255, (350, 280, 3), dtype=np.uint8)
    area = WholePhoto(0.64)
    photo = photo_of(rgb)
    fit = find_area(photo, area)
    assert fit
    view = make_topview(photo, fit, area, mm_per_px=0.4)
    assert view.rgb.shape == (560, 448, 3)
    assert view.valid.all()
    assert view.inside_mm2 / 1e6 == pytest.approx(area.area_m2_of(350, 280), rel=0.003)
    np.testing.assert_allclose(
        apply(view.to_photo, np.array([[-0.5, -0.5], [447.5, 559.5]])),
        [[-0.5, -0.5], [279.5, 349.5]],
    )
    same = make_topview(photo, fit, area, mm_per_px=0.64)
    np.testing.assert_array_equal(same.rgb, rgb)
    assert same.rgb is not rgb


def test_absurd_sizes_are_refused() -> None:
    camera = Camera(width=1200, height=900, distance_mm=700)
    photo, fit = by_hand(camera, SQUARE)
    with pytest.raises(InputError, match="too large"):
        make_topview(photo, fit, SQUARE, mm_per_px=0.01)
    whole = WholePhoto(5.0)
    big = photo_of(np.zeros((3000, 4000, 3), np.uint8))
    found = find_area(big, whole)
    assert found
    with pytest.raises(InputError, match="too large"):
        make_topview(big, found, whole)


def test_edge_pixels_hold_their_share() -> None:
    camera = Camera(width=1200, height=900, distance_mm=700, turn_deg=17)
    photo, fit = by_hand(camera, HoopArea(343.9))
    view = make_topview(photo, fit, HoopArea(343.9), mm_per_px=2.0)
    h, w = view.inside.shape
    y, x = np.mgrid[:h, :w]
    fine = np.zeros((h, w))
    for oy in (np.arange(20) + 0.5) / 20 - 0.5:
        for ox in (np.arange(20) + 0.5) / 20 - 0.5:
            d = np.hypot(x + ox - (w - 1) / 2, y + oy - (h - 1) / 2) * 2.0
            fine += d < 343.9 / 2
    assert np.abs(view.inside - fine / 400).max() < 0.1
    assert view.inside.sum() * 4 == pytest.approx(math.pi * (343.9 / 2) ** 2, rel=1e-3)


def test_twelve_megapixels_are_quick() -> None:
    camera = Camera(width=4000, height=3000, focal_px=3000, distance_mm=700, tilt_deg=8)
    photo, fit = by_hand(camera, SQUARE)
    make_topview(photo, fit, SQUARE)
    begun = time.perf_counter()
    make_topview(photo, fit, SQUARE)
    # about 0.05 s on a quiet machine; this only catches something being far off
    assert time.perf_counter() - begun < 1.0
