"""Edges read within the pipe, by leaves and dark flanks, or along a shadow as dark as it is."""

from __future__ import annotations

import numpy as np
import pytest
from frame.painter import Camera, iou
from frame.test_joint import SQUARE, fitted, sides_of

from tillercount.frame.finder import Picture, picture_of
from tillercount.frame.misread import INTO, in_spreads, spread_px, within_share
from tillercount.frame.outline import outline_mm
from tillercount.frame.side import Side


def test_within_the_pipe_a_place_may_be_further_off() -> None:
    spread = spread_px(0.5, 60.0)
    assert spread[0] < spread[1]
    inner = np.array([True, True, False, False])
    off = in_spreads(np.array([2.0, -2.0, 2.0, -2.0]), inner, spread)
    # outwards of the inner edge, inwards of the outer one
    assert off[0] == -off[3] == pytest.approx(2 / spread[1])
    assert off[2] == -off[1] == pytest.approx(2 / spread[0])
    assert spread_px(0.5, 60.0, 0.0)[1] == pytest.approx(spread[0])


def read_within(side: Side, share: float) -> Side:
    """The side with its inner edge read further out, by a share of the width."""
    return Side(
        side.line, 1.0, 0.0, 1.0, 0.0, side.points, side.width_px,
        side.inner + share * (side.outer - side.inner), side.outer,
    )  # fmt: skip


@pytest.mark.parametrize("turn", [10, 100, 190, 280])
def test_a_dark_flank_on_two_sides_hardly_moves_the_outline(
    monkeypatch: pytest.MonkeyPatch, turn: float
) -> None:
    """Sun from a corner leaves the flanks of two sides in the dark; the other two say so."""
    camera = Camera(distance_mm=560, tilt_deg=9, azimuth_deg=40, turn_deg=turn)
    sides = sides_of("pipe", camera, SQUARE, 30.0, 0.0)
    sides = [read_within(s, 0.08) if i < 2 else s for i, s in enumerate(sides)]
    true = camera.project(outline_mm(SQUARE))
    ours = iou(fitted(sides, camera, SQUARE)[0].corners, true)
    monkeypatch.setattr("tillercount.frame.settling.INTO", 0.0)
    alike = iou(fitted(sides, camera, SQUARE)[0].corners, true)
    assert ours > 0.985
    assert ours > alike + 0.004


def strip(frame: int, ground: int) -> tuple[Picture, tuple[np.ndarray, np.ndarray]]:
    """A level frame 20 px wide, and the places on its two edges."""
    rgb = np.full((120, 400, 3), ground, np.uint8)
    rgb[50:70] = frame
    x = np.linspace(20, 380, 40)
    edges = np.column_stack([x, np.full(40, 50.0)]), np.column_stack([x, np.full(40, 70.0)])
    return picture_of(rgb, 500.0), edges


@pytest.mark.parametrize(("frame", "share"), [(230, INTO), (90, INTO), (40, 0.0)])
def test_what_is_as_dark_as_a_shadow_may_be_read_wider(frame: int, share: float) -> None:
    picture, edges = strip(frame, 140)
    assert within_share(picture, [edges]) == share
    # a side of which hardly anything is seen says nothing
    assert within_share(picture, [(edges[0][:3], edges[1][:3])]) == INTO
