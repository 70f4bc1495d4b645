"""How evenly a stand came up."""

from __future__ import annotations

import numpy as np
import pytest

from tillercount.scenes.draw import draw_scene
from tillercount.scenes.emergence import LEAST, Emergence, draw_emergence


def _leaves(stand: Emergence, many: int = 2000) -> np.ndarray:
    rng = np.random.default_rng(1)
    return np.array([stand.leaves(rng) for _ in range(many)])


def test_an_even_stand_has_its_mean_and_spread() -> None:
    leaves = _leaves(Emergence(4.0))
    assert leaves.mean() == pytest.approx(4.0, abs=0.03)
    assert leaves.std() == pytest.approx(0.3, abs=0.02)


def test_late_plants_are_behind_and_never_ahead() -> None:
    leaves = _leaves(Emergence(5.0, spread=0.0, late=0.4, late_by=3.0))
    assert (leaves < 5.0).mean() == pytest.approx(0.4, abs=0.04)
    assert leaves.max() == 5.0
    assert leaves.min() >= 2.0
    assert leaves[leaves < 5.0].mean() == pytest.approx(3.5, abs=0.1)


def test_every_plant_that_came_up_can_be_seen() -> None:
    assert _leaves(Emergence(0.5, spread=1.2, late=0.5, late_by=4.0)).min() == LEAST


def test_stands_just_coming_up_and_uneven_ones_are_drawn() -> None:
    drawn = [draw_emergence(np.random.default_rng(i)) for i in range(400)]
    haun = np.array([d["haun"] for d in drawn])
    assert haun.min() < 0.8
    assert haun.max() > 7.5
    late = np.array([d["late"] for d in drawn])
    assert (late == 0).mean() == pytest.approx(0.6, abs=0.08)
    assert max(d["emergence_spread"] for d in drawn) > 0.8
    assert draw_emergence(np.random.default_rng(5)) == draw_emergence(np.random.default_rng(5))


def test_a_scene_says_how_evenly_it_came_up_and_can_be_told() -> None:
    told = {"haun": 5.0, "emergence_spread": 0.1, "late": 0.5, "late_by": 3.5}
    scene = draw_scene(31, kind="square", width=160, height=120, overrides=told)
    assert {k: scene.params[k] for k in told} == told
    main = scene.shoots.leaves[np.unique(scene.shoots.plant, return_index=True)[1]]
    assert (main < 4.5).mean() > 0.25
    assert (main > 4.7).mean() > 0.25
