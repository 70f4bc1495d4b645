"""Straight lines through points that aren't all good."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.frame.lines import Line, fit_line, four_lines, meet


@given(st.floats(0, 3.14), st.floats(-500, 500), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_line_through_noise_and_strays(turn: float, offset: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    normal = np.array([np.cos(turn), np.sin(turn)])
    along = np.array([-normal[1], normal[0]])
    points = normal * offset + np.outer(np.linspace(-300, 300, 120), along)
    points = points + rng.normal(0, 0.5, points.shape)
    points[::6] += normal * 40
    line = fit_line(points)
    side = np.sign(line.normal @ normal)
    assert abs(line.normal @ along) < 0.002
    assert side * line.offset == pytest.approx(offset, abs=0.4)


def test_where_lines_meet() -> None:
    a, b = Line(np.array([1.0, 0]), 5.0), Line(np.array([0, 1.0]), -2.0)
    np.testing.assert_allclose(meet(a, b), [5, -2])
    assert not np.isfinite(meet(a, Line(np.array([1.0, 0]), 9.0))).any()
    turned = a.facing_away_from(np.array([9.0, 0]))
    assert turned.normal[0] == -1
    assert turned.offset == -5


def test_a_square_rim_falls_into_its_four_sides() -> None:
    rng = np.random.default_rng(2)
    t = np.arange(0, 400, 2.0)
    zero = np.zeros_like(t)
    rim = np.vstack(
        [
            np.column_stack([t, zero]),
            np.column_stack([zero + 400, t]),
            np.column_stack([400 - t, zero + 400]),
            np.column_stack([zero, 400 - t]),
        ]
    ) + rng.normal(0, 0.7, (800, 2))
    found = four_lines(rim, tolerance_px=4, rng=rng)
    assert len(found) == 4
    assert sum(n for _, n in found) > 780
    ends = sorted(round(abs(line.offset)) for line, _ in found)
    assert ends == [0, 0, 400, 400]


def test_a_circle_is_not_made_of_four_lines() -> None:
    rng = np.random.default_rng(3)
    t = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    rim = 300 * np.column_stack([np.cos(t), np.sin(t)])
    found = four_lines(rim, tolerance_px=4, rng=rng)
    assert sum(n for _, n in found) < 0.7 * len(rim)
