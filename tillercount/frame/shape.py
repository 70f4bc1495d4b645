"""The four corners of a square or rectangle: their order, and whether the shape is right."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import RectArea, SquareArea
from tillercount.frame.finder import Picture
from tillercount.frame.height import camera_mm
from tillercount.frame.outline import outline_mm, size_mm
from tillercount.frame.projection import View, homography, view_of
from tillercount.frame.result import FrameNotFound

__all__ = ["fit_shape", "out_of_true", "round_from_lower_left", "shape_trouble"]

Array = NDArray[Any]

STRETCH_LIMIT = 0.14
"""Logarithm of the largest stretch that bent frames and rough focal lengths account for."""
SKEW_LIMIT_DEG = 9.0


def round_from_lower_left(corners: Array) -> Array:
    """Corners (4, 2) px ordered counter-clockwise as seen, the lower left one first."""
    d = corners - corners.mean(0)
    order = np.argsort(np.arctan2(-d[:, 1], d[:, 0]))
    ring = corners[order]
    # the bottom side of the area is the one nearest to the photo's bottom and level
    below = [(ring[i] + ring[(i + 1) % 4])[1] for i in range(4)]
    return np.roll(ring, -int(np.argmax(below)), axis=0)


def fit_shape(ring: Array, picture: Picture, area: SquareArea | RectArea) -> tuple[Array, View]:
    """Corners put in the order of `outline_mm`, and the view that they make.

    A rectangle may lie either way round; the way that needs less stretching is taken.
    """
    model = outline_mm(area)
    turns = [0] if isinstance(area, SquareArea) else [0, 1]
    options = []
    for k in turns:
        corners = np.roll(ring, -k, axis=0)
        view = view_of(homography(model, corners), picture.focal_px, picture.centre_px)
        options.append((abs(math.log(view.stretch)), k, corners, view))
    _, _, corners, view = min(options, key=lambda o: (o[0], o[1]))
    return corners, view


def out_of_true(view: View, lift_mm: float = 0.0) -> float:
    """How far a shape is from the one that it should have: about 1 where it is doubtful.

    ``lift_mm`` of the pipes across y over those across x: they are nearer and look longer.
    """
    longer = math.log(view.stretch) - lift_mm / float(camera_mm(view)[2])
    return abs(longer) / 0.07 + abs(view.skew_deg) / 6


def shape_trouble(
    view: View, area: SquareArea | RectArea, evidence: dict[str, Any]
) -> FrameNotFound | None:
    """Does the shape seen contradict the shape given?"""
    if abs(math.log(view.stretch)) > STRETCH_LIMIT:
        w, h = size_mm(area)
        longer = max(w / h * view.stretch**-1, h / w * view.stretch)
        seen = "about as long as wide" if longer < 1.12 else f"about 1 to {longer:.2g}"
        return FrameNotFound(
            f"the frame in the photo is {seen}, but --area says {area.label}",
            "check --area against the frame",
            evidence,
        )
    if abs(view.skew_deg) > SKEW_LIMIT_DEG:
        return FrameNotFound(
            f"the frame's corners are {90 - abs(view.skew_deg):.0f}° and not square",
            "straighten the frame and take the photo again",
            evidence,
        )
    return None
