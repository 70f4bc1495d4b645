"""Pipe or lath: where it can't be told and matters, the confidence says so."""

from __future__ import annotations

import numpy as np
import pytest
from frame.oracle import truth_maps
from frame.painter import Camera, Look, iou, paint
from frame.test_joint import fitted, sides_of

from tillercount.area import SquareArea
from tillercount.frame import build, find
from tillercount.frame.confidence import LEAST_CONFIDENCE
from tillercount.frame.find import find_in_maps
from tillercount.frame.finder import picture_of
from tillercount.frame.joint import off_by_kind

SQUARE = SquareArea(304.8)


def test_how_likely_an_outline_is_off_for_the_kind_of_frame() -> None:
    camera = Camera(distance_mm=400)
    made = fitted(sides_of("pipe", camera, SQUARE, 24.0, 0.0), camera, SQUARE)
    pipe, lath = made[0], made[-1]
    even = np.array([0.7, 0.3])
    assert iou(pipe.corners, lath.corners) < 0.96
    assert off_by_kind([pipe, lath], even, pipe.corners) == pytest.approx(0.3)
    assert off_by_kind([pipe, lath], even, lath.corners) == pytest.approx(0.7)
    middle = (pipe.corners + lath.corners) / 2
    assert off_by_kind([pipe, lath], even, middle) == pytest.approx(1.0)
    # from further up it matters less
    far = Camera(distance_mm=1600, focal_px=3000)
    made = fitted(sides_of("pipe", far, SQUARE, 12.0, 0.0), far, SQUARE)
    assert off_by_kind([made[0], made[-1]], even, made[0].corners) == 0


def test_doubt_about_the_kind_lowers_the_confidence(monkeypatch: pytest.MonkeyPatch) -> None:
    painted = paint(SQUARE, Camera(distance_mm=450), Look(leaves=0, tube_mm=26), seed=1)
    picture = picture_of(painted.rgb, painted.camera.focal_px)
    maps = truth_maps(picture, painted.classes, painted.inside_edge_px, "quad")
    tries = []
    region = find.find_region
    monkeypatch.setattr(find, "find_region", lambda *a: tries.append(a) or region(*a))

    def sure_if(flat: float, starts: int = 1) -> float:
        monkeypatch.setattr(build, "flat_chance", lambda shading, fits: flat)
        tries.clear()
        fit = find_in_maps(picture, maps, SQUARE)
        assert fit, fit
        # another start tells the kind no better
        assert len(tries) == starts
        return fit.confidence

    sure = sure_if(0.0)
    assert sure > 0.97
    assert sure_if(0.25) == pytest.approx(0.75 * sure, rel=0.02)
    # a toss-up is said, and isn't refused for it
    assert sure_if(0.5) == pytest.approx(0.65 * sure, rel=0.02)
    # not even where there are other doubts that alone wouldn't do it
    others = build.doubts_of
    monkeypatch.setattr(build, "doubts_of", lambda **seen: {**others(**seen), "presence": 0.7})
    assert sure_if(0.5, starts=4) == pytest.approx(LEAST_CONFIDENCE, rel=0.002)
