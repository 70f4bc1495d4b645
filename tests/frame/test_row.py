"""Sticks beside rows: ends under leaves, rows that run another way, rods that are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, paint

from tillercount.area import RowArea
from tillercount.frame.beside import row_side_mm, rows_beside
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.row import fit_stick
from tillercount.frame.rowresult import LARGEST_OTHER_SIDE
from tillercount.frame.rowway import STAND_OUT, rows_along

ROW = RowArea(487.7, 190.5)
CAMERA = Camera(distance_mm=900, turn_deg=15)


def look_at(look: Look, seed: int = 2):
    painted = paint(ROW, CAMERA, look, seed=seed)
    picture = picture_of(painted.rgb, CAMERA.focal_px)
    maps = truth_maps(picture, painted.classes, painted.outline_px, "row", wrong=0.3)
    return painted, picture, maps


def ends_of(picture, maps) -> np.ndarray:
    stick = fit_stick(picture, maps)
    assert stick
    return stick.ends


def turned(ends: np.ndarray, degrees: float) -> np.ndarray:
    angle = np.deg2rad(degrees)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return ends.mean(0) + (ends - ends.mean(0)) @ spin.T


def test_an_end_deep_under_leaves_is_refused() -> None:
    bare, _, _ = look_at(Look(tube_mm=20, leaves=300, leaf_over=0.2))
    ground = np.linalg.inv(bare.ground_to_photo)
    end = np.append(bare.stick_px[1], 1) @ ground.T
    x, y = end[:2] / end[2]
    inwards = 1 - 50 / np.hypot(x, y)
    heap = ((float(x * inwards), float(y * inwards), 85.0), (float(x), float(y), 85.0))
    _, picture, maps = look_at(Look(tube_mm=20, leaves=300, leaf_over=0.2, heap=heap))
    fit = find_in_maps(picture, maps, ROW)
    assert not fit
    assert "under leaves" in fit.reason
    assert "--corners" in fit.todo


@pytest.mark.parametrize("degrees", [-75, -45, -20, -10, 0, 10, 20, 45, 75])
def test_rows_that_run_another_way_are_noticed(degrees: float) -> None:
    painted, picture, _ = look_at(Look(tube_mm=16, leaves=700, leaf_over=0.3))
    seen = rows_along(picture, turned(painted.stick_px, degrees), ROW)
    assert seen.turned_deg == pytest.approx(-degrees, abs=5)
    assert seen.clear == (degrees == 0)
    assert seen.another_way == (degrees != 0)


@pytest.mark.parametrize("seed", [2, 3])
@pytest.mark.parametrize("degrees", [0, 20, 45, 75])
def test_a_rod_across_the_rows_is_not_counted_by(degrees: float, seed: int) -> None:
    look = Look(tube_mm=16, leaves=700, leaf_over=0.3, row_angle_deg=degrees)
    _, picture, maps = look_at(look, seed)
    fit = find_in_maps(picture, maps, ROW)
    assert bool(fit) == (degrees == 0)
    if not fit:
        assert "rows" in fit.reason


@pytest.mark.parametrize("said_mm", [127.0, 254.0])
def test_a_row_spacing_that_the_photo_contradicts_is_refused(said_mm: float) -> None:
    _, picture, maps = look_at(Look(tube_mm=16, leaves=700, leaf_over=0.3))
    assert find_in_maps(picture, maps, ROW)
    assert rows_beside(picture, ends_of(picture, maps), ROW).period_mm == pytest.approx(
        190.5, rel=0.1
    )
    fit = find_in_maps(picture, maps, RowArea(ROW.length_mm, said_mm))
    assert not fit
    assert "apart" in fit.reason
    assert "--area" in fit.todo


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_the_row_is_found_where_plants_are_few(seed: int) -> None:
    """Ten strokes beside the stick don't say where the row is; the rows around it do."""
    painted, picture, maps = look_at(Look(tube_mm=16, leaves=160, leaf_over=0.3), seed)
    ends = painted.stick_px[np.argsort(painted.stick_px[:, 0])]
    along = ends[1] - ends[0]
    scale = ROW.length_mm / np.linalg.norm(along)
    up = np.array([along[1], -along[0]]) / np.linalg.norm(along)
    truth = float((painted.outline_px.mean(0) - ends.mean(0)) @ up * scale)
    offset, _ = row_side_mm(picture, maps, ends, 16 / scale, ROW)
    assert offset == pytest.approx(truth, abs=15)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_wrong_end_is_noticed_by_the_rows(seed: int) -> None:
    """Half the stick taken for all of it doubles the scale: the rows don't fall on each other."""
    painted, picture, _ = look_at(Look(tube_mm=16, leaves=700, leaf_over=0.3), seed)
    first, last = painted.stick_px
    assert rows_along(picture, painted.stick_px, ROW).stands_out > 2 * STAND_OUT
    for share in (0.62, 0.75):
        wrong = np.array([first, first + share * (last - first)])
        assert not rows_along(picture, wrong, ROW).clear


def test_chance_seldom_makes_rows_of_few_plants() -> None:
    """Twenty strokes that stand in no rows, and sticks that lie among them anyhow."""
    clear = []
    for seed in range(12):
        painted = paint(None, CAMERA, Look(leaves=20, leaf_over=0.0), seed=seed)
        picture = picture_of(painted.rgb, CAMERA.focal_px)
        for degrees in (0, 60, 120):
            ends = turned(np.array([[350.0, 450.0], [850.0, 450.0]]), degrees)
            clear.append(rows_along(picture, ends, ROW).clear)
    assert np.mean(clear) <= 0.15


@pytest.mark.parametrize("tint", [(0.46, 0.52, 0.40), (0.62, 0.44, 0.30)])
def test_rows_are_told_on_greenish_and_on_red_ground(tint: tuple[float, float, float]) -> None:
    painted, picture, _ = look_at(Look(tube_mm=16, leaves=500, leaf_over=0.3, tint=tint))
    assert rows_along(picture, painted.stick_px, ROW).clear


@pytest.mark.parametrize(("off", "sure"), [(0.25, True), (0.37, True), (0.5, False)])
def test_only_midway_between_two_rows_it_isnt_clear_which_is_meant(off: float, sure: bool) -> None:
    painted, picture, maps = look_at(Look(tube_mm=16, leaves=500, leaf_over=0.3))
    ends = painted.stick_px[np.argsort(painted.stick_px[:, 0])]
    row = painted.outline_px.mean(0)
    across = ends.mean(0) - row
    ends = ends + across * (off / 0.25 - 1)
    scale = ROW.length_mm / np.linalg.norm(ends[1] - ends[0])
    _, evidence = row_side_mm(picture, maps, ends, 16 / scale, ROW)
    assert (evidence["other_side"] <= LARGEST_OTHER_SIDE) == sure


@pytest.mark.parametrize(("width_mm", "found"), [(34, True), (58, False)])
def test_a_board_is_no_row_stick(width_mm: float, found: bool) -> None:
    _, picture, maps = look_at(Look(tube_mm=width_mm, leaves=500, leaf_over=0.1))
    fit = find_in_maps(picture, maps, ROW)
    assert bool(fit) == found
    if not fit:
        assert "wide" in fit.reason
        assert "--area" in fit.todo


def test_a_stick_the_finder_is_unsure_of_is_read_from_the_photo() -> None:
    painted, picture, maps = look_at(Look(tube_mm=20, leaves=500, leaf_over=0.1))
    faint = replace(maps, stick=maps.stick * np.float32(0.6) - np.float32(4.0))
    assert faint.stick.max() < 0
    fit = fit_stick(picture, faint)
    assert fit
    truth = painted.stick_px[np.argsort(painted.stick_px[:, 0])]
    assert np.abs(fit.ends - truth).max() < 0.02 * np.linalg.norm(truth[1] - truth[0])
    nothing = replace(maps, stick=np.full_like(maps.stick, -6.0))
    assert not fit_stick(picture, nothing)
