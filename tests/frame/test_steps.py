"""The clearest step of colour near an edge, on profiles whose edge is known exactly."""

from __future__ import annotations

import numpy as np
import pytest

from tillercount.frame.steps import REACH, REACH_PX, at_steps, clearest, step_sizes

STEP_PX = 0.5
FIRST_PX = -20.25
WIDTH_PX = 24.0
ROWS = 60


def profiles(
    start: float, stop: float, frame: float, *, flank: float = 0.0, noise: float = 4.0
) -> np.ndarray:
    """Profiles (N, T, 3) of ground at 100, and a frame from ``start`` to ``stop`` px, blurred by
    a pixel, whose ``flank`` px at the start are darker than the rest by a fifth."""
    rng = np.random.default_rng(3)
    at = FIRST_PX + (np.arange(160) + 0.5) * STEP_PX
    covered = np.clip(at - start + 0.5, 0, 1) * np.clip(stop - at + 0.5, 0, 1)
    dark = np.clip(start + flank - at + 0.5, 0, 1) if flank else np.zeros(len(at))
    light = 100 * (1 - covered) + frame * covered * (1 - dark / 5)
    out = light[None, :, None] + rng.normal(0, noise, (ROWS, len(at), 3))
    return out.astype(np.float32)


@pytest.mark.parametrize("frame", [30.0, 200.0])
@pytest.mark.parametrize("off", [-0.9, 0.0, 0.9])
def test_edges_read_a_little_off_come_to_the_step(frame: float, off: float) -> None:
    rgb = profiles(0.3, 24.1, frame)
    read = np.full(ROWS, 0.3 + off), np.full(ROWS, 24.1 - off)
    start, stop = at_steps(rgb, FIRST_PX, STEP_PX, read, WIDTH_PX)
    assert np.median(start) == pytest.approx(0.3, abs=0.15)
    assert np.median(stop) == pytest.approx(24.1, abs=0.15)


def test_a_dark_flank_that_fell_out_of_the_run_belongs_to_the_frame() -> None:
    rgb = profiles(0.0, 24.0, 220.0, flank=1.5)
    read = np.full(ROWS, 1.5), np.full(ROWS, 24.0)
    start, _ = at_steps(rgb, FIRST_PX, STEP_PX, read, WIDTH_PX)
    assert np.median(start) < 0.6


def test_a_clearer_step_out_of_reach_is_left_alone() -> None:
    """The rim of a deep shadow four pixels beside a frame that is hardly lighter than it."""
    rgb = profiles(0.0, 24.0, 125.0, noise=1.0)
    shaded = FIRST_PX + (np.arange(rgb.shape[1]) + 0.5) * STEP_PX
    rgb[:, shaded < -4] = 240
    read = np.full(ROWS, 0.5), np.full(ROWS, 24.0)
    start, _ = at_steps(rgb, FIRST_PX, STEP_PX, read, WIDTH_PX)
    assert np.median(start) == pytest.approx(0.0, abs=0.3)
    assert np.abs(start - 0.5).max() <= max(REACH_PX, REACH * WIDTH_PX) + STEP_PX


def test_a_leaf_over_one_profile_moves_none() -> None:
    rgb = profiles(0.0, 24.0, 200.0)
    rgb[30, 30:60] = (30, 90, 20)
    read = np.zeros(ROWS), np.full(ROWS, 24.0)
    start, _ = at_steps(rgb, FIRST_PX, STEP_PX, read, WIDTH_PX)
    assert np.abs(start - np.median(start)).max() < 0.8


def test_a_larger_step_counts_more_than_a_nearer_one_only_without_the_lean() -> None:
    sizes = np.zeros((1, 81), np.float32)
    sizes[0, 42], sizes[0, 49] = 50, 58
    edge = np.array([0.0])
    near, _ = clearest(sizes, -20.0, STEP_PX, edge, 5.0)
    far, size = clearest(sizes, -20.0, STEP_PX, edge, 5.0, nearer=0.0)
    assert near[0] == pytest.approx(1.0, abs=STEP_PX)
    assert far[0] == pytest.approx(4.5, abs=STEP_PX)
    assert size[0] == 58


def test_sizes_are_zero_where_one_side_isnt_there() -> None:
    sizes = step_sizes(profiles(0.0, 24.0, 200.0, noise=0.0), STEP_PX)
    assert sizes.shape == (ROWS, 161)
    assert not sizes[:, :6].any()
    assert not sizes[:, -1].any()
    assert sizes.max() == pytest.approx(100 * np.sqrt(3), rel=0.1)
