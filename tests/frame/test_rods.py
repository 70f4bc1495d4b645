"""Rods and hoses that mark no row, and what speaks for rows beside a stick that is one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, paint

from tillercount.area import RowArea
from tillercount.frame.beside import rows_beside
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.row import fit_stick
from tillercount.frame.rowway import STAND_OUT, RowsAlong, rows_along

ROW = RowArea(487.7, 190.5)
CAMERA = Camera(distance_mm=900, turn_deg=15)
ENDS = np.array([[350.0, 450.0], [850.0, 450.0]])


def grainy(seed: int) -> np.ndarray:
    """Ground (900, 1200, 3) whose grain is green in places, without any rows."""
    rng = np.random.default_rng(seed)
    rgb = np.full((900, 1200, 3), 110.0)
    rgb[..., 1] += rng.normal(0, 60, rgb.shape[:2])
    return np.clip(rgb, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_rod_is_no_row_of_its_own(seed: int) -> None:
    """Nothing grows on the rod: that alone agrees with rows along it."""
    rgb = grainy(seed)
    rgb[424:476, 350:850] = 128
    picture = picture_of(rgb, CAMERA.focal_px)
    assert rows_along(picture, ENDS, ROW).stands_out > STAND_OUT
    assert rows_along(picture, ENDS, ROW, width_px=52.0).stands_out < STAND_OUT


def test_the_shape_of_the_photo_is_no_row() -> None:
    """Even green that fills a narrow photo agrees with nothing."""
    rgb = np.full((900, 1200, 3), 110, np.uint8)
    rgb[::7, :, 1] = 190
    picture = picture_of(rgb[300:600], CAMERA.focal_px)
    assert rows_along(picture, ENDS - [0, 300], ROW).fit < 0.05


@pytest.mark.parametrize(
    ("fit", "stands_out", "clear"),
    [(0.14, 2.8, False), (0.14, 3.2, True), (0.3, 2.4, True), (0.3, 2.0, False)],
)
def test_faint_rows_must_stand_out_more(fit: float, stands_out: float, clear: bool) -> None:
    assert RowsAlong(fit, stands_out, 0.0, fit, stands_out).clear == clear


@pytest.mark.parametrize("seed", [2, 3])
@pytest.mark.parametrize("goes_on", [True, False])
def test_a_stick_that_goes_on_beyond_a_clod_has_no_length(goes_on: bool, seed: int) -> None:
    """A rod of 760 mm of which the finder sees the part up to a clod that lies on it."""
    long = RowArea(760.0, ROW.spacing_mm)
    look = Look(tube_mm=20, leaves=500, leaf_over=0.05)
    painted = paint(long, CAMERA, look, seed=seed)
    bare = paint(None, CAMERA, replace(look, leaves=0), seed=seed).rgb
    first, last = painted.stick_px[np.argsort(painted.stick_px[:, 0])]
    way = (last - first) / np.linalg.norm(last - first)
    y, x = np.indices(painted.classes.shape)
    along = (x - first[0]) * way[0] + (y - first[1]) * way[1]
    aside = np.abs((y - first[1]) * way[0] - (x - first[0]) * way[1])
    length = float(np.linalg.norm(last - first))
    clod = (along > 0.64 * length) & (aside < 40)
    clod &= (along < 0.72 * length) | (not goes_on)
    rgb = np.where(clod[..., None], bare, painted.rgb)
    picture = picture_of(rgb, CAMERA.focal_px)
    known = np.where(along < 0.66 * length, painted.classes, 0).astype(np.uint8)
    maps = truth_maps(picture, known, painted.outline_px, "row", wrong=0.3)
    stick = fit_stick(picture, maps)
    assert bool(stick) != goes_on, stick
    if goes_on:
        assert "goes on" in stick.reason
        assert "--corners" in stick.todo
        assert stick.evidence["goes_on"] > 0.3
        assert not find_in_maps(picture, maps, ROW)
    else:
        assert stick.evidence["goes_on"] < 0.1


@pytest.mark.parametrize(("wave_mm", "told"), [(600.0, False), (240.0, True)])
def test_a_period_too_long_for_rows_is_none(wave_mm: float, told: bool) -> None:
    """Green that comes and goes with the ground is strongest at the longest period looked for."""
    rng = np.random.default_rng(5)
    rgb = np.full((900, 1200, 3), 110, np.uint8)
    ends = np.array([[450.0, 450.0], [750.0, 450.0]])
    mm = ROW.length_mm / 300
    share = 0.3 + 0.3 * np.cos(2 * np.pi * (np.arange(900) - 450) * mm / wave_mm)
    rgb[rng.random((900, 1200)) < share[:, None], 1] = 220
    rows = rows_beside(picture_of(rgb, CAMERA.focal_px), ends, ROW)
    assert rows.told == told
    assert rows.contradicted == told
    if told:
        assert rows.period_mm == pytest.approx(wave_mm, rel=0.05)
