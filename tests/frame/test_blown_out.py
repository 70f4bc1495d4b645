"""Lath or pipe where the frame is blown out: what is left of the brightness still tells."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tillercount.frame.finder import picture_of
from tillercount.frame.shading import Shading, flat_chance, shading_across


def strip(profile: np.ndarray, wide: int) -> Shading | None:
    """Shading of a level side whose colours across are given (wide,) or (wide, 3)."""
    rgb = np.full((160, 200, 3), 90.0)
    rgb[40 : 40 + wide] = profile.reshape(wide, 1, -1)
    rgb += np.random.default_rng(0).normal(0, 3, rgb.shape)
    along = np.linspace(20, 180, 40)
    inner = np.column_stack([along, np.full(40, 39.5)])
    seen = np.clip(np.round(rgb), 0, 255).astype(np.uint8)
    return shading_across(picture_of(seen, 200.0), inner, inner + [0, wide])


def across(wide: int) -> np.ndarray:
    return (np.arange(wide) - (wide - 1) / 2) / (wide / 2)


def cylinder(sun_deg: float, wide: int = 60) -> Shading | None:
    up = np.arcsin(across(wide))
    sun = np.clip(np.cos(up - math.radians(sun_deg)), 0, 1)
    sky = (1 + np.cos(up)) / 2
    return strip(100 * sky + 340 * sun, wide)


def lath(face: float, share: float = 0.2, wide: int = 60) -> Shading | None:
    """A blown top beside an inner face that takes up this share of the width."""
    return strip(np.where(across(wide) < 2 * share - 1, face, 400.0), wide)


@pytest.mark.parametrize("sun_deg", [35, 50, 60, 70])
def test_the_flank_of_a_blown_out_pipe_falls_off(sun_deg: float) -> None:
    pipe = cylinder(sun_deg)
    assert pipe is not None
    assert pipe.step > 0.3
    assert pipe.uneven is None
    assert flat_chance([pipe] * 4, 2.0) < flat_chance([None] * 4, 2.0) / 2


@pytest.mark.parametrize("face", [110.0, 160.0, 220.0])
def test_the_face_of_a_blown_out_lath_is_one_level(face: float) -> None:
    side = lath(face)
    assert side is not None
    assert side.step < -0.4
    assert flat_chance([side] * 2 + [None] * 2, 0.0) > 2 * flat_chance([None] * 4, 0.0)


def test_a_blurred_edge_is_no_flank() -> None:
    """Blown from edge to edge, with three pixels of blur at each."""
    wide = 16
    profile = np.full(wide, 255.0)
    profile[:2] = profile[-2:][::-1] = [150, 225]
    assert strip(profile, wide) is None


def test_one_side_that_is_partly_blown_doesnt_decide() -> None:
    side = lath(160.0)
    assert flat_chance([side, None, None, None], 0.0) == flat_chance([None] * 4, 0.0)


def test_sides_that_are_seen_in_full_count_alone() -> None:
    even = Shading(0.0, 0.02)
    pipe = cylinder(60)
    assert flat_chance([even, even, pipe, pipe], 0.0) == flat_chance([even, even], 0.0)


def test_white_stripes_that_are_blown_out_dont_make_a_pipe_even() -> None:
    """Stripes of white, blown out in every channel, and of cyan, which has hardly any red."""
    wide = 60
    rgb = np.full((160, 200, 3), 90.0)
    up = np.arcsin(across(wide))
    light = 30 + 220 * np.clip(np.cos(up - math.radians(45)), 0, 1)
    cyan = np.stack([np.full(wide, 22.0), 0.9 * light + 60, light + 60], 1)
    for first in range(0, 200, 20):
        rgb[40 : 40 + wide, first : first + 9] = 400.0
        rgb[40 : 40 + wide, first + 9 : first + 20] = cyan[:, None]
    rgb += np.random.default_rng(0).normal(0, 5, rgb.shape)
    along = np.linspace(20, 180, 80)
    inner = np.column_stack([along, np.full(80, 39.5)])
    seen = np.clip(np.round(rgb), 0, 255).astype(np.uint8)
    pipe = shading_across(picture_of(seen, 200.0), inner, inner + [0, wide])
    assert pipe is None or pipe.uneven is None
    assert flat_chance([pipe] * 4, 2.0) < 0.5
