"""Outlines on the ground."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tillercount.area import HoopArea, RectArea, RowArea, SquareArea
from tillercount.frame.outline import circle_in, outline_mm


def enclosed(ring: np.ndarray) -> float:
    """Signed, positive where the ring runs counter-clockwise."""
    x, y = ring.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


@pytest.mark.parametrize(
    "area", [SquareArea(304.8), RectArea(254, 508), HoopArea(343.9), RowArea(487.7, 190.5)]
)
def test_an_outline_encloses_its_area(area) -> None:
    assert enclosed(outline_mm(area)) == pytest.approx(area.area_m2 * 1e6)
    assert enclosed(outline_mm(area, points=64)) == pytest.approx(area.area_m2 * 1e6)


def test_a_hoop_lies_in_its_square() -> None:
    """Seen straight on: radius half the side, about its middle."""
    corners = np.array([[100, 100], [300, 100], [300, 300], [100, 300]], dtype=float)
    circle = circle_in(corners)
    np.testing.assert_allclose(np.hypot(*(circle - 200).T), 100, rtol=1e-4)
    assert -enclosed(circle) == pytest.approx(math.pi * 100**2) or enclosed(
        circle
    ) == pytest.approx(math.pi * 100**2)
