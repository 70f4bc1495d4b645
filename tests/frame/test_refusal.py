"""Refusals name the cause that is really there."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from tillercount.area import HoopArea, RectArea, SquareArea
from tillercount.frame import FrameNotFound, find_area
from tillercount.frame.confidence import BY_HAND, doubts_of, unsure
from tillercount.frame.refusal import cut_off, explained, is_blurred
from tillercount.photo import Photo, read_photo

SAMPLES = Path(__file__).parents[2] / "sample_images"
SQUARE = SquareArea(304.8)
SURE = {
    "presence": 1.0,
    "certainty": 1.0,
    "seen": 1.0,
    "missing": 0.0,
    "residual": 0.0,
    "bent": 0.0,
}


def photo_of(rgb: np.ndarray) -> Photo:
    return Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, 2500.0, True)


@pytest.mark.parametrize(
    ("doubt", "says"),
    [
        ({"missing": 0.5}, "30% of the square lies outside the photo"),
        ({"seen": 0.2}, "80% of the square is hidden"),
        ({"least_seen": 0.05}, "one side of the square is nearly hidden"),
        ({"bent": 1.5}, "corners are 4° off a right angle and one pair is 4% too long"),
        ({"width_ratio": 1.55}, "different width"),
        ({"overlap": 0.6}, "don't agree"),
        ({"misfit": 1.3}, "don't lie as those of one square of this size do"),
        ({"lift": 1.2}, "higher above the other than it is thick"),
        ({"presence": 0.4}, "isn't clear enough"),
    ],
)
def test_the_reason_is_what_weighs_most(doubt: dict[str, float], says: str) -> None:
    evidence = {"missing_share": 0.3, "seen_share": 0.2, "skew_deg": -4.4, "stretch": 1.038}
    refusal = unsure(SQUARE, doubts_of(**(SURE | doubt)), evidence)
    assert says in refusal.reason
    assert "--corners" in refusal.todo
    assert "shadow across" not in str(refusal)


def test_corners_outside_are_named_by_side() -> None:
    photo = photo_of(np.zeros((100, 200, 3), np.uint8))
    inside = np.array([[10, 90], [190, 90], [190, 10], [10, 10]], float)
    assert cut_off(inside, photo) == ""
    above = inside + [[0, 0], [0, 0], [0, 0], [0, -30]]
    assert cut_off(above, photo) == "a corner lies outside the photo, at the top"
    both = above + [[0, 0], [30, 0], [0, 0], [0, 0]]
    assert cut_off(both, photo) == "2 corners lie outside the photo, at the top and the right"
    t = np.linspace(0, 2 * np.pi, 64)
    hoop = np.column_stack([100 + 60 * np.cos(t), 50 + 60 * np.sin(t)])
    assert cut_off(hoop, photo) == "it is cut off at the top and the bottom of the photo"


def test_a_cut_off_frame_says_that_corners_may_lie_outside() -> None:
    rng = np.random.default_rng(0)
    photo = photo_of(rng.integers(0, 255, (600, 800, 3), np.uint8))
    outline = [[100, 500], [700, 500], [700, -20], [100, -20]]
    unclear = FrameNotFound("unclear", BY_HAND, {"outline_px": outline})
    said = explained(unclear, photo)
    assert said.reason == "unclear; 2 corners lie outside the photo, at the top"
    assert "below 0, or beyond its 800 × 600 px" in said.todo
    as_before = FrameNotFound("unclear", "do", {"outline_px": [[1, 1], [9, 1], [9, 9], [1, 9]]})
    assert explained(as_before, photo) is as_before


def test_blur_is_told_from_sharp() -> None:
    photo = read_photo(SAMPLES / "creek_field" / "spot_02.jpg")
    assert not is_blurred(photo)
    assert is_blurred(photo_of(cv2.GaussianBlur(photo.rgb, (0, 0), 12)))


def test_the_blurred_sample_is_called_blurred() -> None:
    found = find_area(read_photo(SAMPLES / "creek_field" / "spot_07_blurred.jpg"), SQUARE)
    assert isinstance(found, FrameNotFound)
    assert found.reason.startswith("the photo is blurred")
    # a corner lies outside it too: both remedies at once
    assert found.todo.startswith("step back until the whole frame is in the photo, hold still")
    assert "shadow" not in str(found)


def test_the_thin_frame_under_leaves_says_so() -> None:
    path = SAMPLES / "creek_field" / "spot_02.jpg"
    found = find_area(read_photo(path), SQUARE)
    if isinstance(found, FrameNotFound):  # a better finder may find it
        assert "hidden" in found.reason
        assert "at the top" in found.reason
        assert "may lie outside it: below 0, or beyond its 1600 × 1200 px" in found.todo
    corners = json.loads(path.with_suffix(".json").read_text())["outline_px"]
    assert min(y for _, y in corners) < 0  # and such corners are taken
    assert find_area(read_photo(path), SQUARE, corners=corners)


def test_corners_by_hand_are_offered_only_where_they_help() -> None:
    """No frame, another kind of frame, another shape, or blur: corners by hand help nobody."""
    bare = read_photo(SAMPLES / "creek_field" / "spot_06_no_frame.jpg")
    square = read_photo(SAMPLES / "creek_field" / "spot_01.jpg")
    for photo, area, says in (
        (bare, SQUARE, "no square can be seen"),
        (square, HoopArea(304.8), "the photo shows a square or rectangle"),
        (square, RectArea(304.8, 762.0), "about as long as wide"),
    ):
        refusal = find_area(photo, area)
        assert isinstance(refusal, FrameNotFound)
        assert says in refusal.reason
        assert refusal.todo
        assert "--corners" not in refusal.todo
    cut = {"outline_px": [[10.0, 90.0], [590.0, 90.0], [590.0, 10.0], [10.0, -30.0]]}
    edges = np.zeros((400, 600, 3), np.uint8)
    edges[:, ::40] = 255
    sharp = photo_of(edges)
    shape = explained(FrameNotFound("what lies there isn't round", "check --area", cut), sharp)
    assert "step back" in shape.todo
    assert "--corners" not in shape.todo
    doubt = explained(unsure(SQUARE, doubts_of(**(SURE | {"seen": 0.2})), cut), sharp)
    assert "corners given with --corners may lie outside it" in doubt.todo
