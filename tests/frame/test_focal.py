"""A focal length for photos that don't state one."""

from __future__ import annotations

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, iou, paint

from tillercount.area import HoopArea, SquareArea
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.focal import likely_focal_px
from tillercount.frame.outline import outline_mm
from tillercount.frame.projection import homography

USUAL = 870.0


def estimate(camera: Camera, *, shape_known: bool) -> float:
    model = outline_mm(SquareArea(304.8))
    matrix = homography(model, camera.project(model))
    centre = ((camera.width - 1) / 2, (camera.height - 1) / 2)
    return likely_focal_px(matrix, USUAL, centre, shape_known=shape_known)


@pytest.mark.parametrize(("focal", "distance"), [(870, 700), (1600, 1000), (2400, 1200)])
def test_rough_from_how_people_stand(focal: float, distance: float) -> None:
    camera = Camera(focal_px=focal, distance_mm=distance)
    assert estimate(camera, shape_known=False) == pytest.approx(focal, rel=0.4)


@pytest.mark.parametrize("focal", [870, 1500, 2400])
def test_a_slant_tells_more(focal: float) -> None:
    camera = Camera(focal_px=focal, distance_mm=500 * focal / 870, tilt_deg=24, azimuth_deg=30)
    shape = estimate(camera, shape_known=True)
    assert shape == pytest.approx(focal, rel=0.25)
    blind = estimate(camera, shape_known=False)
    assert abs(np.log(shape / focal)) <= abs(np.log(blind / focal)) + 0.05


@pytest.mark.parametrize(("area", "kind"), [(SquareArea(304.8), "quad"), (HoopArea(343.9), "hoop")])
@pytest.mark.parametrize("focal", [900, 2200])
def test_outline_without_a_stated_focal_length(area, kind: str, focal: float) -> None:
    camera = Camera(focal_px=focal, distance_mm=560 * focal / 900, tilt_deg=5)
    painted = paint(area, camera, Look(), seed=4)
    picture = picture_of(painted.rgb, USUAL, focal_known=False)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, kind, wrong=0.4)
    fit = find_in_maps(picture, maps, area)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.975
    assert not fit.evidence["focal_known"]
