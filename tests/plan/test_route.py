"""Walking order against all orders, and against what a round should be."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tillercount.plan.route import walking_order


def length(where: np.ndarray) -> float:
    return float(np.hypot(*np.diff(where, axis=0).T).sum())


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("start", [None, (-50.0, 20.0)])
def test_against_all_orders_of_seven(seed: int, start: tuple[float, float] | None) -> None:
    where = np.random.default_rng(seed).uniform(0, 1000, (7, 2))
    order, walk = walking_order(where, start)
    ends = [] if start is None else [start]
    ways = (np.array([*ends, *where[list(p)], *ends]) for p in itertools.permutations(range(7)))
    best = min(length(way) for way in ways)
    assert walk == pytest.approx(best, rel=0.02)
    assert walk >= best - 1e-6
    assert walk == pytest.approx(length(np.array([*ends, *where[order], *ends])))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 40), st.integers(0, 1000))
def test_every_spot_once(n: int, seed: int) -> None:
    order, walk = walking_order(np.random.default_rng(seed).uniform(0, 1000, (n, 2)))
    assert sorted(order) == list(range(n))
    assert walk >= 0


def test_a_circle_is_walked_round() -> None:
    angle = np.random.default_rng(0).permutation(24) / 24 * 2 * np.pi
    where = 100 * np.column_stack([np.cos(angle), np.sin(angle)])
    _, walk = walking_order(where, (100.0, 0.0))
    assert walk == pytest.approx(24 * 2 * 100 * np.sin(np.pi / 24))


def test_two_hundred_spots_are_ordered_well() -> None:
    """A good open way through n random spots is near 0.7124 √(n A) (Beardwood et al. 1959;
    the constant from Johnson & McGeoch), a few per cent longer at n = 200 for the edges."""
    where = np.random.default_rng(1).uniform(0, 1000, (200, 2))
    _, walk = walking_order(where)
    assert 0.70 < walk / np.sqrt(200 * 1e6) < 0.82


def test_spots_on_one_place() -> None:
    order, walk = walking_order(np.zeros((5, 2)))
    assert sorted(order) == [0, 1, 2, 3, 4]
    assert walk == 0
