"""Frames that fill little of the photo."""

from __future__ import annotations

import numpy as np
import pytest
from frame.painter import Camera, Look, iou, paint
from frame.test_finder import photo_of

from tillercount.area import HoopArea, SquareArea
from tillercount.frame import find_area
from tillercount.frame.closer import look_closer
from tillercount.frame.finder import Maps, Picture, picture_of

LENS_PX = 2500.0
"""A phone's main lens on 3,000 by 2,250 px: 26 mm equivalent has about as much."""


@pytest.mark.parametrize("at", [(0.0, 0.0), (180.0, -120.0)], ids=["middle", "aside"])
@pytest.mark.parametrize("area", [SquareArea(304.8), HoopArea(343.9)], ids=lambda a: a.kind)
def test_a_frame_seen_from_waist_height(area, at: tuple[float, float]) -> None:
    camera = Camera(
        width=3000, height=2250, focal_px=LENS_PX, distance_mm=1000, tilt_deg=6, aim_mm=at
    )
    painted = paint(area, camera, Look(leaves=260, tint=(0.45, 0.36, 0.28)), seed=3)
    wide = np.ptp(painted.outline_px[:, 1]) / camera.height
    assert wide < 0.5
    fit = find_area(photo_of(painted.rgb, camera.focal_px), area)
    assert fit, fit
    assert iou(fit.outline_px, painted.outline_px) > 0.98


def test_a_window_keeps_its_place_in_the_photo() -> None:
    rgb = np.random.default_rng(0).integers(0, 255, (900, 1200, 3), dtype=np.uint8)
    whole = picture_of(rgb, 1000.0)
    part = picture_of(rgb, 1000.0, window=(300, 200, 900, 650))
    assert part.shape == (450, 600)
    np.testing.assert_array_equal(part.rgb, rgb[200:650, 300:900])
    for point in ([0, 0], [10, 20]):
        here = part.to_photo @ [*point, 1]
        assert here[:2] == pytest.approx(np.add(point, [300, 200]))
    # the camera's axis meets both at the same place of the photo
    axis = [(p.to_photo @ [*p.centre_px, 1])[:2] for p in (whole, part)]
    assert axis[0] == pytest.approx(axis[1])
    assert part.focal_px == whole.focal_px


class _SeesNearOnly:
    """A finder that sees the inside of a hoop in windows of the photo, and nothing in the whole."""

    def __init__(self, middle: tuple[float, float], radius: float, photo_wide: int) -> None:
        self.middle, self.radius, self.photo_wide = np.array(middle), radius, photo_wide
        self.looks: list[Picture] = []

    def __call__(self, picture: Picture) -> Maps:
        self.looks.append(picture)
        whole = picture.shape[1] * picture.per_px[0] > self.photo_wide - 1
        height, width = picture.shape
        y, x = np.mgrid[0:height:4, 0:width:4]
        px = np.stack([x, y], -1) * picture.per_px + picture.corner_px
        inside = np.where(np.hypot(*np.moveaxis(px - self.middle, -1, 0)) < self.radius, 5.0, -5.0)
        nothing = np.full_like(inside, -5.0)
        none = 0.9 if whole else 0.05
        return Maps(
            nothing, nothing, inside.astype(np.float32), nothing, np.diag([0.25, 0.25, 1.0]),
            {"none": none, "quad": 0.0, "hoop": 1 - none, "row": 0.0}, 0.0,
        )


@pytest.mark.parametrize(("down_px", "looks"), [(0, 2), (70, 3), (-70, 3)])
def test_what_is_seen_in_the_middle_alone_is_not_cut_by_its_border(
    down_px: int, looks: int
) -> None:
    """The middle is 563 by 422 px of 1024 by 768; a hoop 300 px wide fits with its pipe or not."""
    rgb = np.random.default_rng(1).integers(0, 255, (768, 1024, 3), dtype=np.uint8)
    finder = _SeesNearOnly((512, 384 + down_px), 135, 1024)
    picture, _ = look_closer(photo_of(rgb, 900.0), finder, "hoop")  # type: ignore[arg-type]
    assert len(finder.looks) == looks
    left, top = picture.corner_px
    right, bottom = np.array([left, top]) + np.array(picture.shape[::-1]) * picture.per_px
    pipe = 135 * 1.3  # with what lies beside it
    assert left < 512 - pipe
    assert right > 512 + pipe
    assert top < 384 + down_px - pipe
    assert bottom > 384 + down_px + pipe
