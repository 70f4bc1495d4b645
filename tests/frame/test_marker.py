"""Printed corner markers."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from frame.painter import Camera, Look, iou, paint

from tillercount.area import HoopArea, SquareArea
from tillercount.frame import find_area
from tillercount.frame.finder import picture_of
from tillercount.frame.marker import find_corners
from tillercount.photo import Photo

SIDE_MM = 50.0


def with_markers(
    camera: Camera, half_mm: float, dictionary: str, numbers: tuple[int, ...] = (3, 7, 11, 20)
) -> np.ndarray:
    """Ground with four markers whose inner corners lie at (±half, ±half) mm."""
    image = paint(None, camera, Look(), seed=1).rgb.copy()
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    for n, (sx, sy) in zip(numbers, ((-1, -1), (1, -1), (1, 1), (-1, 1)), strict=True):
        pad = 40
        tile = np.pad(cv2.aruco.generateImageMarker(known, n, 320), pad, constant_values=255)
        per_mm = 320 / SIDE_MM
        # tile px -> ground mm, the marker's nearest corner on the area's corner
        x0 = half_mm if sx > 0 else -half_mm - SIDE_MM
        y0 = half_mm if sy > 0 else -half_mm - SIDE_MM
        to_mm = np.array(
            [
                [1 / per_mm, 0, x0 - (pad - 0.5) / per_mm],
                [0, 1 / per_mm, y0 - (pad - 0.5) / per_mm],
                [0, 0, 1],
            ]
        )
        # ground y runs up, the tile's rows run down
        tile = tile[::-1]
        matrix = camera.matrix()[:, [0, 1, 3]] @ to_mm
        size = (camera.width, camera.height)
        drawn = cv2.warpPerspective(tile, matrix, size, flags=cv2.INTER_AREA)
        mask = cv2.warpPerspective(np.full_like(tile, 255), matrix, size) > 127
        image[mask] = drawn[mask][:, None]
    return image


@pytest.mark.parametrize("dictionary", ["DICT_4X4_50", "DICT_APRILTAG_36h11"])
@pytest.mark.parametrize("tilt", [0, 20])
def test_four_markers_make_the_area(dictionary: str, tilt: float) -> None:
    camera = Camera(distance_mm=620, tilt_deg=tilt, azimuth_deg=40, turn_deg=30)
    half = 152.4
    rgb = with_markers(camera, half, dictionary)
    photo = Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, camera.focal_px, True, ())
    fit = find_area(photo, SquareArea(2 * half))
    assert fit
    assert fit.method == "markers"
    truth = camera.project(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half)
    assert iou(fit.outline_px, truth) > 0.995
    assert fit.tilt_deg == pytest.approx(tilt, abs=1.5)
    hoop = find_area(photo, HoopArea(2 * half))
    assert hoop
    assert len(hoop.outline_px) == 64


def test_fewer_or_repeated_markers_are_left_alone() -> None:
    camera = Camera(distance_mm=620)
    rgb = with_markers(camera, 152.4, "DICT_4X4_50", (3, 3, 3, 3))
    assert find_corners(picture_of(rgb, camera.focal_px), SquareArea(304.8)) is None
    plain = paint(None, camera, Look(), seed=1).rgb
    assert find_corners(picture_of(plain, camera.focal_px), SquareArea(304.8)) is None
