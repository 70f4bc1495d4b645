"""Foreign styles change texture and colour, never where things are."""

from __future__ import annotations

import torch

from tillercount.model.network import NetworkConfig, build
from tillercount.train.restyle import mix_styles, random_filters, restyle_features


def _images(n: int) -> torch.Tensor:
    rng = torch.Generator().manual_seed(1)
    images = torch.rand((n, 3, 48, 48), generator=rng) * 0.2 + 0.3
    images[:, 1, 16:32, 20:26] += 0.4
    return images


def test_two_of_five_pictures_are_filtered_and_keep_their_mean() -> None:
    images = _images(10)
    for turn in range(8):  # every size of filter twice
        out = random_filters(images, torch.Generator().manual_seed(turn), turn)
        changed = (out != images).flatten(1).any(1)
        assert changed.tolist() == [(2 * i + turn) % 5 < 2 for i in range(10)]
        assert torch.allclose(out.mean((2, 3)), images.mean((2, 3)), atol=0.03)
        assert out.min() >= 0
        assert out.max() <= 1


def test_a_filter_leaves_the_leaf_where_it_is() -> None:
    images = _images(1)
    seen = []
    for turn in (0, 5, 10, 15):
        for seed in range(5):
            out = random_filters(images, torch.Generator().manual_seed(seed), turn)[0]
            flat = (out - out.mean((1, 2), keepdim=True)).abs().sum(0)
            inside, outside = flat[18:30, 21:25].mean(), flat[:, :12].mean()
            seen.append(bool(inside > 1.5 * outside))
    assert sum(seen) > 0.7 * len(seen)


def test_styles_come_from_another_picture_of_the_batch() -> None:
    torch.manual_seed(3)
    features = torch.randn(16, 8, 10, 10) * torch.linspace(0.5, 3, 16).view(-1, 1, 1, 1)
    mixed = mix_styles(features)
    changed = ((mixed - features).abs().amax((1, 2, 3)) > 1e-3).float().mean()
    assert 0.1 < changed < 0.8
    # within a picture and channel it is a straight line: places keep their order
    order = features.flatten(2).argsort(-1)
    assert torch.equal(mixed.flatten(2).argsort(-1), order)


def test_only_training_mixes_styles() -> None:
    network = build(NetworkConfig(widths=(8, 8, 8, 8, 8), neck=8, counts=3))
    x = torch.randn(4, 3, 64, 64)
    network.eval()
    before = network(x)["rate"]
    restyle_features(network.stages)
    assert torch.equal(network(x)["rate"], before)
    network.train()
    for norm in network.modules():  # its own means would differ from call to call otherwise
        if isinstance(norm, torch.nn.BatchNorm2d):
            norm.eval()
    torch.manual_seed(0)
    rates = [network(x)["rate"] for _ in range(3)]
    assert not (torch.equal(rates[0], rates[1]) and torch.equal(rates[1], rates[2]))
