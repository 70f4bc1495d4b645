"""Which tillers plants have, by their stage and apart from it."""

from __future__ import annotations

import numpy as np
import pytest

from tillercount.scenes.draw import draw_scene
from tillercount.scenes.tillers import LAGS, free_of_stage, tillers_of


def _shoots(haun: float, rng: np.random.Generator) -> float:
    """Shoots to a plant of a stand freed from its stage; mean of 12 plants."""
    drawn = free_of_stage(haun, rng)
    of = [
        tillers_of(haun, drawn["tillering"], drawn["tillers_early"], 0.0, rng) for _ in range(12)
    ]
    return 1 + sum(map(len, of)) / len(of)


def test_freed_stands_have_few_or_many_tillers_at_any_stage() -> None:
    """By the stage there would be 1 to 2 shoots a plant at two leaves and 4 to 7 at seven."""
    rng = np.random.default_rng(0)
    young = [_shoots(2.3, rng) for _ in range(150)]
    old = [_shoots(7.0, rng) for _ in range(150)]
    assert np.quantile(young, 0.9) > 2.5
    assert np.quantile(old, 0.1) < 2.5
    assert max(young + old) < 12


@pytest.mark.parametrize("alike", [0.0, 0.6, 1.0])
def test_no_tiller_is_ahead_of_its_main_stem(alike: float) -> None:
    rng = np.random.default_rng(1)
    for haun in (1.1, 2.0, 4.5):
        leaves = [own for _ in range(40) for _, own in tillers_of(haun, 1.6, 3.5, alike, rng)]
        assert leaves
        assert max(leaves) <= haun - LAGS + 1e-9


def test_some_stands_are_freed_and_some_are_not() -> None:
    early = [
        draw_scene(seed, kind="none", width=64, height=48, overrides={
            "plants_per_ft2": 2.0, "litter_per_m2": 0.0, "stones_per_m2": 0.0,
        }).params["tillers_early"]
        for seed in range(10)
    ]
    assert 1 <= sum(not -0.9 <= one <= 1.6 for one in early) <= 8
