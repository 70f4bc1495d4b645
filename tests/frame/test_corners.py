"""Corners of frames of pipe: ends beyond them, and which pair lies on top."""

from __future__ import annotations

import numpy as np
import pytest
from frame.oracle import truth_maps

from tillercount.frame.corners import Corners, read_corners
from tillercount.frame.finder import Maps, Picture, picture_of
from tillercount.frame.joint import Made, likelihoods
from tillercount.frame.lines import Line

SIZE, WIDE, MM = 300.0, 20.0, 2.0
PX = 900
MIDDLE = (PX - 1) / 2


def drawn(beyond_mm: float, upper: str | None, *, left_out: bool = False) -> tuple[Picture, Maps]:
    """A square of round pipes, lit along one flank, from straight above, 2 px to a mm.

    ``beyond_mm``: how far pipes go on beyond the outer edges; ``upper``: which pair is drawn last,
    those that run along ``x`` or along ``y``; neither where they meet in a corner piece.
    ``left_out``: in the photo only as far as the inside edges.
    """
    rng = np.random.default_rng(0)
    mm = (np.arange(PX) - MIDDLE) / MM
    x, y = np.meshgrid(mm, -mm)
    rgb = np.full((PX, PX, 3), (120.0, 95.0, 75.0))
    pipe = np.zeros((PX, PX), bool)
    for along in ("y", "x") if upper == "x" else ("x", "y"):
        run, over = (x, y) if along == "x" else (y, x)
        away = (np.abs(over) - SIZE / 2) / WIDE
        body = (away > 0) & (away < 1) & (np.abs(run) < SIZE / 2 + WIDE + beyond_mm)
        light = 230 - 130 * np.abs((over / WIDE) % 1 - 0.3)
        rgb[body] = light[body][:, None] * [1.0, 0.97, 0.9]
        pipe |= body
    if upper is None:
        # a round piece of its own in each corner: neither pipe's shading goes on
        corner = (np.abs(x) > SIZE / 2) & (np.abs(y) > SIZE / 2) & pipe
        rgb[corner] = (190.0, 184.0, 171.0)
    rgb = np.clip(rgb + rng.normal(0, 4, rgb.shape), 0, 255).astype(np.uint8)
    half = SIZE / 2 * MM
    ring = MIDDLE + half * np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]])
    classes = np.where(pipe, 4, 0).astype(np.uint8)
    if left_out:
        edge = round(MIDDLE - half) - 1
        keep = slice(edge, PX - edge)
        rgb, classes, ring = rgb[keep, keep], classes[keep, keep], ring - edge
    picture = picture_of(rgb, 900.0)
    return picture, truth_maps(picture, classes, ring, "quad")


def corners_of(picture: Picture, maps: Maps) -> Corners:
    middle = (picture.shape[0] - 1) / 2
    half = SIZE / 2 * MM
    inner = tuple(
        Line(np.array(n, float), middle * sum(n) + half)
        for n in ((0, 1), (1, 0), (0, -1), (-1, 0))
    )
    return read_corners(picture, maps, inner, (SIZE, SIZE), WIDE)


@pytest.mark.parametrize("upper", ["x", "y"])
def test_pipes_across_each_other_go_on_beyond_the_corner(upper: str) -> None:
    seen = corners_of(*drawn(25.0, upper))
    assert seen.crossed > 3
    assert seen.y_upper > 3 if upper == "y" else seen.y_upper < -3


def test_pipes_that_end_at_the_corner_are_hardly_crossed() -> None:
    seen = corners_of(*drawn(0.0, None))
    assert seen.crossed < -1.5
    assert abs(seen.y_upper) < 2


def test_corners_outside_the_photo_say_nothing() -> None:
    assert corners_of(*drawn(25.0, "x", left_out=True)) == Corners()


def made(kind: str, cost: float) -> Made:
    return Made(kind, cost, np.zeros((4, 2)), 20.0, 10.0, 0.0, 0.0, ())


def test_what_the_corners_say_moves_the_odds_and_never_the_chance_of_a_lath() -> None:
    kinds = [made("pipe", 0.0), made("across x", 1.0), made("across y", 1.0), made("lath", 9.0)]
    before = likelihoods(kinds, 0.2)
    assert likelihoods(kinds, 0.2, Corners()) == pytest.approx(before)
    after = likelihoods(kinds, 0.2, Corners(crossed=3.0, y_upper=4.0))
    assert after.sum() == pytest.approx(1)
    assert after[3] == pytest.approx(0.2)
    # pipes along y lie across x
    assert after[1] > 0.7 > 0.05 > after[2]
    # the odds of either pair together against none rise by just what was said
    ratio = (after[1] + after[2]) / after[0] / ((before[1] + before[2]) / before[0])
    assert np.log(ratio) == pytest.approx(3.0, abs=1e-6)
    assert likelihoods(kinds, 0.2, Corners(crossed=-3.0))[0] > 0.93 * 0.8
