"""The marked area given by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from frame.painter import Camera, Look, iou, paint

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea, WholePhoto
from tillercount.errors import InputError
from tillercount.frame import find_area
from tillercount.photo import Photo

CAMERA = Camera(width=2400, height=1800, focal_px=1740, distance_mm=700, tilt_deg=10, turn_deg=20)
SQUARE = SquareArea(304.8)


def photo(width: int = 2400, height: int = 1800, focal: float = 1740.0) -> Photo:
    rgb = np.full((height, width, 3), 120, np.uint8)
    return Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, focal, True, ())


def corners_of(width: float, length: float) -> np.ndarray:
    return CAMERA.project(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, length / 2])


@pytest.mark.parametrize("order", list(itertools.permutations(range(4)))[::3])
def test_corners_in_any_order(order: tuple[int, ...]) -> None:
    corners = corners_of(304.8, 304.8)
    fit = find_area(photo(), SQUARE, corners[list(order)])
    assert fit
    assert fit.method == "by hand"
    assert iou(fit.outline_px, corners) == pytest.approx(1, abs=1e-4)
    assert fit.tilt_deg == pytest.approx(10, abs=0.1)
    first = find_area(photo(), SQUARE, corners)
    assert first
    np.testing.assert_allclose(fit.outline_px, first.outline_px)
    ground = np.column_stack([fit.outline_px, np.ones(4)]) @ fit.to_ground.T
    np.testing.assert_allclose(
        ground[:, :2] / ground[:, 2:],
        [[-152.4, -152.4], [152.4, -152.4], [152.4, 152.4], [-152.4, 152.4]],
        atol=1e-6,
    )


def test_rectangle_either_way_round() -> None:
    corners = corners_of(254, 508)
    for area in (RectArea(254, 508), RectArea(508, 254)):
        fit = find_area(photo(), area, corners)
        assert fit
        assert fit.evidence["stretch"] == pytest.approx(1, abs=0.01)


def test_hoop_by_the_square_around_it() -> None:
    t = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = CAMERA.project(172.0 * np.column_stack([np.cos(t), np.sin(t)]))
    fit = find_area(photo(), HoopArea(344), corners_of(344, 344))
    assert fit
    assert len(fit.outline_px) == 64  # of the circle's area, half a thousandth off its line
    assert iou(fit.outline_px, circle) > 0.9985


def test_row_by_four_corners() -> None:
    area = RowArea(487.7, 190.5)
    level = Camera(width=2400, height=1800, focal_px=1740, distance_mm=700, turn_deg=95)
    outline = level.project(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [243.85, 95.25])
    fit = find_area(photo(), area, outline)
    assert fit
    assert iou(fit.outline_px, outline) > 0.999


def test_a_sticks_ends_by_hand_mark_the_row_beside_it() -> None:
    area = RowArea(487.7, 190.5)
    camera = Camera(distance_mm=900, turn_deg=15)
    painted = paint(area, camera, Look(tube_mm=20, leaves=600, leaf_over=0.3), seed=2)
    seen = replace(photo(focal=camera.focal_px), rgb=painted.rgb)
    fit = find_area(seen, area, painted.stick_px)
    assert fit, fit
    assert fit.method == "by hand"
    assert iou(fit.outline_px, painted.outline_px) > 0.9
    np.testing.assert_allclose(np.sort(fit.stick_px, 0), np.sort(painted.stick_px, 0))


def test_a_sticks_ends_where_nothing_grows_name_no_row() -> None:
    fit = find_area(photo(), RowArea(487.7, 190.5), [[400, 900], [1600, 900]])
    assert not fit
    assert "four corners" in fit.todo


@pytest.mark.parametrize("tilt", [6.0, 14.0, 22.0])
def test_tilt_by_hand_without_a_focal_length(tilt: float) -> None:
    """Half the true focal length is assumed, as for a crop that lost its record."""
    camera = replace(CAMERA, tilt_deg=tilt, focal_px=2 * 1740.0, distance_mm=1400.0)
    corners = camera.project(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 152.4)
    fit = find_area(replace(photo(), focal_known=False), SQUARE, corners)
    assert fit
    assert fit.tilt_deg == pytest.approx(tilt, abs=4)


def test_corners_may_lie_a_little_outside() -> None:
    corners = corners_of(304.8, 304.8) + [900, 0]
    assert (corners[:, 0] > 2400).any()
    assert find_area(photo(), SQUARE, corners)


@pytest.mark.parametrize(
    ("area", "corners", "says"),
    [
        (SQUARE, [[1, 1], [900, 1], [900, 900]], "3 points"),
        (SQUARE, [[1, 1], [900, 900]], "4 corners"),
        (SQUARE, [[100, 100], [101, 100], [101, 101], [100, 101]], "too near"),
        (SQUARE, [[100, 100], [900, 100], [400, 250], [100, 900]], "four-sided"),
        (SQUARE, [[100, 100], [900, 100], [500, 101], [100, 900]], "four-sided"),
        (SQUARE, [[100, 100], [900, 100], [900, 900], [90000, 900]], "outside the photo"),
        (SQUARE, [[-900, 100], [-100, 100], [-100, 900], [-900, 900]], "outside the photo"),
        (SQUARE, [[100, 100], [1300, 100], [1300, 700], [100, 700]], "--area says"),
        (RectArea(254, 508), [[100, 100], [900, 100], [900, 900], [100, 900]], "--area says"),
        (SQUARE, [[100, 100], [900, 100], [1200, 800], [400, 800]], "not square"),
        (SQUARE, [[float("nan"), 100], [900, 100], [900, 900], [100, 900]], "isn't a number"),
        (SQUARE, [1, 2, 3, 4], "x,y"),
        (RowArea(487, 190), [[1, 1], [2, 2], [3, 3]], "2 ends"),
        (WholePhoto(0.64), [[1, 1], [900, 1], [900, 900], [1, 900]], "whole photo"),
    ],
)
def test_contradictions_are_said(area, corners, says: str) -> None:
    with pytest.raises(InputError) as error:
        find_area(photo(), area, corners)
    assert says in str(error.value)
    assert "\n" not in str(error.value)


def test_whole_photo() -> None:
    fit = find_area(photo(350, 280), WholePhoto(0.64))
    assert fit
    assert fit.method == "whole photo"
    x, y = fit.outline_px.T
    assert abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2 == 350 * 280
    corner = fit.to_ground @ [-0.5, 279.5, 1]
    np.testing.assert_allclose(corner[:2], [-112, -89.6])
