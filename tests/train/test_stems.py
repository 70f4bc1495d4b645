"""What training is told of every leaf: whose it is, through files, crops and the loss."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import torch

from tests.train.fake_scenes import paint_scene, paint_scenes
from tillercount.model.network import NetworkConfig, build
from tillercount.train.batches import Batch, RealTargets, SceneStore
from tillercount.train.data import find_scenes, load_scenes
from tillercount.train.likeness import picture_paths
from tillercount.train.losses import stem_loss
from tillercount.train.objective import losses

VOTING = NetworkConfig(
    widths=(8, 8, 8, 16, 16), blocks=1, neck=8, counts=3, votes=2, looks=2, tally=8
)


def quiet(*_: object) -> None:
    return None


@pytest.fixture
def store(tmp_path: Path) -> SceneStore:
    paint_scenes(tmp_path, 3)
    paths = find_scenes([tmp_path])
    scenes = load_scenes(paths, canvas_px=416, stems=True, say=quiet)
    return SceneStore(scenes, torch.device("cpu"))


def test_crops_name_the_shoot_that_each_leaf_belongs_to(store: SceneStore) -> None:
    """However a crop is turned, mirrored and scaled; leaves are 8 to 20 mm long, 63 px at most."""
    rng = torch.Generator().manual_seed(3)
    for _ in range(4):
        _, targets = store.crops(torch.tensor([0, 1, 2]), 256, rng, 0.0)
        assert targets.stems is not None
        n, y, x = (targets.stems >= 0).nonzero(as_tuple=True)
        assert len(n) > 50
        row = targets.stems[n, y, x]
        assert (targets.kind[n, row] == 1).all()
        here = torch.stack([x, y], -1) * 4 + 1.5
        far = (targets.points[n, row] - here).norm(dim=-1)
        assert float(far.max()) < 63
        # a neighbour in the list would be anywhere in the stand
        other = (targets.points[n, (row + 1) % targets.points.shape[1]] - here).norm(dim=-1)
        assert float(far.median()) < 0.5 * float(other.median())


def _batch(store: SceneStore, real: bool) -> Batch:
    rng = torch.Generator().manual_seed(5)
    images, targets = store.crops(torch.tensor([0, 1, 2]), 256, rng, 0.0)
    if not real:
        return Batch(images, targets, None)
    plant = torch.zeros(1, 128, 128, dtype=torch.long)
    known = RealTargets(plant, torch.full((1, 16, 16), 0.1), torch.ones(1, 16, 16))
    return Batch(torch.cat([images, images[:1]]), targets, known)


def _plain(output: dict[str, Any]) -> dict[str, Any]:
    """The same without gradients, so that losses are plain numbers."""
    return {
        name: [one.detach() for one in value] if isinstance(value, list) else value.detach()
        for name, value in output.items()
    }


def test_every_vote_is_held_against_the_truth(store: SceneStore) -> None:
    """The first and each mended one weigh the same; both heads learn to count."""
    torch.manual_seed(0)
    batch = _batch(store, real=False)
    output = _plain(build(VOTING)(batch.images))
    parts = losses(output, batch)
    each = [float(stem_loss(votes, batch.targets)) for votes in output["stems"]]
    assert len(each) == 3
    assert float(parts["stems"]) == pytest.approx(0.5 * np.mean(each))
    worse = {**output, "stems": [*output["stems"][:-1], output["stems"][-1] + 9]}
    assert float(losses(worse, batch)["stems"]) > float(parts["stems"]) + 0.1
    for head, name in (("looked", "count"), ("tally", "tally")):
        more = losses({**output, head: output[head] * 3}, batch)
        assert {k for k in parts if float(more[k]) != float(parts[k])} == {name}


def test_both_heads_learn_from_plants_read_on_real_photos(store: SceneStore) -> None:
    torch.manual_seed(0)
    batch = _batch(store, real=True)
    output = _plain(build(VOTING)(batch.images))
    read = float(losses(output, batch)["read"])
    for head in ("looked", "tally"):
        many = output[head].clone()
        many[3:] = many[3:] * 20
        assert float(losses({**output, head: many}, batch)["read"]) > read
        few = output[head].clone()
        few[:3] = few[:3] * 20  # scenes have no part in it
        assert float(losses({**output, head: few}, batch)["read"]) == pytest.approx(read)


def test_scenes_without_maps_teach_votes_nothing(tmp_path: Path) -> None:
    paint_scene(tmp_path, "a", 1)
    (tmp_path / "a.shoots.png").unlink()
    scenes = load_scenes([tmp_path / "a.json"], canvas_px=416, stems=True, say=quiet)
    store = SceneStore(scenes, torch.device("cpu"))
    _, targets = store.crops(torch.tensor([0]), 256, torch.Generator().manual_seed(1), 0.0)
    votes = torch.randn(1, 4, 64, 64)
    assert float(stem_loss(votes, targets)) == 0
    assert float(stem_loss(votes, replace(targets, stems=None))) == 0


def test_maps_of_scenes_are_no_photos(tmp_path: Path) -> None:
    paint_scene(tmp_path, "a", 1)
    assert [path.name for path in picture_paths(tmp_path)] == ["a.jpg"]
