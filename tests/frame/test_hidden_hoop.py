"""Hoops that the finder sees in part: a stretch of another colour, a ragged inside, or open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, Picture, iou, paint

from tillercount.area import HoopArea
from tillercount.frame import find, hoop
from tillercount.frame.edges import Edges, read_edges
from tillercount.frame.ellipse import ellipse_points
from tillercount.frame.finder import Maps, picture_of
from tillercount.frame.hoop import fit_hoop
from tillercount.frame.hoopjudge import HoopFit
from tillercount.frame.region import find_region, pipe_rim

HOOP = HoopArea(343.9)
CAMERA = Camera(distance_mm=640, tilt_deg=4)


def maps_of(painted: Picture) -> tuple:
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    return picture, truth_maps(picture, painted.classes, painted.inside_edge_px, "hoop", wrong=0.3)


def turn_of(x: np.ndarray, y: np.ndarray, painted: Picture) -> np.ndarray:
    """Directions from the hoop's middle, degrees clockwise as seen."""
    middle = painted.inside_edge_px.mean(0)
    return np.degrees(np.arctan2(y - middle[1], x - middle[0])) % 360


def turn_of_cells(maps: Maps, painted: Picture) -> np.ndarray:
    y, x = np.indices(maps.tube.shape)
    grid = maps.to_picture
    return turn_of(x * grid[0, 0] + grid[0, 2], y * grid[1, 1] + grid[1, 2], painted)


@pytest.mark.parametrize("there", [True, False])
def test_a_stretch_in_a_colour_that_the_finder_does_not_know(there: bool) -> None:
    """The photo has the last word: pipe of another colour is pipe, and bare ground isn't."""
    painted = paint(HOOP, CAMERA, Look(leaves=30, shadow=0.2), seed=1)
    y, x = np.nonzero(painted.classes == 4)
    here = (turn_of(x, y, painted) > 20) & (turn_of(x, y, painted) < 140)
    rgb = painted.rgb.copy()
    if there:
        rgb[y[here], x[here]] = rgb[y[here], x[here]] * np.array([0.66, 0.36, 0.30])
    else:
        bare = paint(None, CAMERA, Look(leaves=0), seed=1).rgb
        turn = turn_of(*np.indices(rgb.shape[:2])[::-1], painted)
        rgb[(turn > 20) & (turn < 140)] = bare[(turn > 20) & (turn < 140)]
    painted = replace(painted, rgb=rgb)
    picture, maps = maps_of(painted)
    turn = turn_of_cells(maps, painted)
    tube = np.where((turn > 15) & (turn < 145), -5.0, maps.tube).astype(np.float32)
    fit = find.find_in_maps(picture, replace(maps, tube=tube), HOOP)
    assert bool(fit) is there, fit
    if fit:
        assert fit.evidence["looked_again"]
        assert iou(fit.outline_px, painted.outline_px) > 0.98
    else:
        assert "isn't there" in fit.reason


def test_an_inside_that_leaks_out_all_around() -> None:
    """Where the inside has no rim to speak of, that of the pipe is started from."""
    painted = paint(HOOP, CAMERA, Look(leaves=60), seed=2)
    picture, maps = maps_of(painted)
    leak = np.abs(np.sin(np.radians(turn_of_cells(maps, painted) * 3.5))) > 0.5
    maps = replace(maps, inside=np.where(leak, np.maximum(maps.inside, 4.0), maps.inside))
    region = find_region(maps.inside, maps, picture)
    assert region is not None
    fit = fit_hoop(picture, maps, region)
    assert isinstance(fit, HoopFit), fit
    rim = pipe_rim(maps, region.centre_px)
    edge = painted.inside_edge_px
    assert np.median(np.linalg.norm(rim[:, None] - edge, axis=2).min(1)) < 2 * maps.cell_px
    off = np.linalg.norm(fit.inner[:, None] - dense(edge), axis=2).min(1)
    assert np.median(off) < 2


def test_a_clearly_open_hoop_is_no_hoop_however_it_is_started() -> None:
    painted = paint(HOOP, CAMERA, Look(leaves=0, missing_arc=(30, 82)), seed=3)
    picture, maps = maps_of(painted)
    fit = find.find_in_maps(picture, maps, HOOP)
    assert not fit
    assert fit.evidence["open"]
    assert "isn't there" in fit.reason
    assert find.find_in_maps(*maps_of(paint(HOOP, CAMERA, Look(leaves=0), seed=3)), HOOP)


def test_edges_lie_where_they_were_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A nearly round ring may be numbered from anywhere each time that it is fitted."""
    painted = paint(HOOP, Camera(distance_mm=640), Look(leaves=60), seed=4)
    picture, maps = maps_of(painted)
    region = find_region(maps.inside, maps, picture)
    assert region is not None
    calls = 0

    def turned(conic: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
        nonlocal calls
        calls += 1
        points, normals = ellipse_points(conic, n)
        return np.roll(points, 67 * calls, 0), np.roll(normals, 67 * calls, 0)

    def bump(points: np.ndarray) -> np.ndarray:
        turn = turn_of(*points.T, painted)
        return (turn > 10) & (turn < 40)

    def read(picture, maps, points: np.ndarray, normals: np.ndarray, **kwargs) -> Edges:
        """Edges, with a stretch that a shadow has moved inwards."""
        edges = read_edges(picture, maps, points, normals, **kwargs)
        return replace(edges, inner=edges.inner - 8.0 * bump(points))

    monkeypatch.setattr(hoop, "ellipse_points", turned)
    monkeypatch.setattr(hoop, "read_edges", read)
    fit = fit_hoop(picture, maps, region)
    assert isinstance(fit, HoopFit)
    middle = painted.inside_edge_px.mean(0)
    radius = np.linalg.norm(painted.inside_edge_px - middle, axis=1).mean()
    off = np.linalg.norm(fit.inner - middle, axis=1) - radius
    moved = bump(fit.inner)
    assert moved.sum() > 12
    assert np.median(off[moved]) == pytest.approx(-8, abs=2)
    assert (np.abs(off[~moved]) < 2).mean() > 0.95


def dense(ring: np.ndarray) -> np.ndarray:
    """A closed ring (N, 2) with ten places for each."""
    t = np.arange(10)[:, None, None] / 10
    return (ring * (1 - t) + np.roll(ring, -1, 0) * t).reshape(-1, 2)
