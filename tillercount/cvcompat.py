"""The few OpenCV calls whose names or shapes changed from version 4 to 5, in one place."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["contours", "find_markers", "shrink"]


def shrink(rgb: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """Picture (H, W, C) reduced by averaging areas; pixel corners stay on pixel corners."""
    if (rgb.shape[1], rgb.shape[0]) == (width, height):
        return rgb
    return np.asarray(cv2.resize(rgb, (width, height), interpolation=cv2.INTER_AREA))


def contours(mask: NDArray[Any]) -> list[NDArray[np.float64]]:
    """Outer contours of a mask, each (N, 2) of x, y, longest first."""
    # version 3 returned three things, 4 and 5 two; the contours are always the last but one
    found = cv2.findContours(
        np.ascontiguousarray(mask, np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )[-2]
    lines = [np.asarray(c, float).reshape(-1, 2) for c in found]
    return sorted(lines, key=len, reverse=True)


def find_markers(grey: NDArray[np.uint8], dictionary: str) -> list[tuple[int, NDArray[np.float64]]]:
    """Printed square markers: (id, corners (4, 2) px from its own top left, clockwise)."""
    aruco = cv2.aruco
    settings = aruco.DetectorParameters()
    settings.cornerRefinementMethod = aruco.CORNER_REFINE_SUBPIX
    detector = aruco.ArucoDetector(
        aruco.getPredefinedDictionary(getattr(aruco, dictionary)), settings
    )
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None or len(ids) == 0:
        return []
    # ids are (N, 1) in version 4 and (N,) in 5; corners (1, 4, 2) each
    numbers = np.asarray(ids).reshape(-1)
    return [
        (int(n), np.asarray(c, float).reshape(4, 2)) for n, c in zip(numbers, corners, strict=True)
    ]
