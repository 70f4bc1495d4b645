"""Width of drawn leaves whose width is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tillercount.strokes import stroke_width_mm


def leaves(width_px: int, number: int = 25) -> np.ndarray:
    """Straight leaves of an exact width in all directions."""
    rng = np.random.default_rng(3)
    y, x = np.mgrid[:900, :900].astype(float)
    mask = np.zeros((900, 900), bool)
    for i in range(number):
        turn = rng.uniform(0, math.pi)
        dx, dy = x - 90 - 180 * (i % 5), y - 90 - 180 * (i // 5)
        along = dx * math.cos(turn) + dy * math.sin(turn)
        across = dy * math.cos(turn) - dx * math.sin(turn)
        mask |= (np.abs(along) < 70) & (np.abs(across) < width_px / 2)
    return mask


@pytest.mark.parametrize("width_px", [5, 9, 13, 19])
def test_leaves_that_lie_apart(width_px: int) -> None:
    assert stroke_width_mm(leaves(width_px), 0.4) == pytest.approx(width_px * 0.4, abs=0.6)


def test_width_goes_with_the_scale() -> None:
    mask = leaves(9)
    assert stroke_width_mm(mask, 0.4 * 2.54) == pytest.approx(2.54 * stroke_width_mm(mask, 0.4))


def test_too_little_to_measure() -> None:
    assert math.isnan(stroke_width_mm(np.zeros((100, 100), bool), 0.4))
    assert math.isnan(stroke_width_mm(leaves(9, number=0), 0.4))
