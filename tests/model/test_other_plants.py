"""Other plants (weeds): counted by networks that can, None by those that can't."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.model.small import SMALL, FakeView, make_bundle
from tillercount.model import Counter
from tillercount.model.maps import block_share


def test_a_network_with_two_counts_cannot_tell(bundle_path: Path, view: FakeView) -> None:
    counter = Counter.load(bundle_path)
    assert not counter.counts_other_plants
    maps = counter.predict(view)
    assert maps.other_density is None
    assert maps.count_inside(np.ones((150, 210))).other_plants is None


def test_a_network_with_three_counts_tells(tmp_path: Path, view: FakeView) -> None:
    counter = Counter.load(make_bundle(tmp_path / "3.safetensors", config=replace(SMALL, counts=3)))
    assert counter.counts_other_plants
    maps = counter.predict(view)
    assert maps.other_density is not None
    assert maps.other_density.shape == maps.plant_density.shape == (10, 14)
    assert not np.allclose(maps.other_density, maps.shoot_density)
    inside = np.zeros((150, 210))
    inside[20:90, 30:200] = 1.0
    found = maps.count_inside(inside)
    share = block_share(inside)
    assert found.other_plants == pytest.approx(float((maps.other_density * share).sum()), rel=1e-5)
    # the other counts are what they are without it
    without = replace(maps, other_density=None).count_inside(inside)
    assert (without.plants, without.shoots) == (found.plants, found.shoots)


def test_a_model_made_before_counts_were_named(tmp_path: Path) -> None:
    """Configurations without the number of counts are of two."""
    from tillercount.model.network import build

    older = {name: value for name, value in SMALL.as_dict().items() if name != "counts"}
    assert build(older).config.counts == 2
