"""The contract of the counting network."""

from __future__ import annotations

import pytest
import torch

from tillercount.model.network import NetworkConfig, build

SMALL = NetworkConfig(widths=(8, 8, 8, 16, 16), blocks=1, neck=8)


@pytest.mark.parametrize(("height", "width"), [(32, 32), (64, 160), (224, 96)])
def test_outputs_have_the_promised_shapes(height: int, width: int) -> None:
    """Any size that is a multiple of 32 goes through, each output at its own stride."""
    output = build(SMALL)(torch.zeros(2, 3, height, width))
    assert output["classes"].shape == (2, 5, height // 2, width // 2)
    assert output["heat"].shape == (2, 2, height // 4, width // 4)
    assert output["offset"].shape == (2, 4, height // 4, width // 4)
    assert output["to_plant"].shape == (2, 2, height // 4, width // 4)
    assert output["rate"].shape == (2, 2, height // 16, width // 16)
    assert output["spread"].shape == (2, 2, height // 16, width // 16)
    assert output["embedding"].shape == (2, SMALL.embedding)
    assert (output["rate"] > 0).all()
    assert (output["spread"] > 0).all()


def test_every_weight_of_the_means_learns_and_the_spread_stays_apart() -> None:
    """Gradients reach every weight; the variance's gradient reaches nothing but its own head."""
    network = build(SMALL)
    output = network(torch.randn(2, 3, 64, 64))
    output["spread"].sum().backward(retain_graph=True)
    touched = {name for name, p in network.named_parameters() if p.grad is not None}
    assert touched == {n for n, _ in network.named_parameters() if n.startswith("spread")}
    sum(value.sum() for name, value in output.items() if name != "embedding").backward()
    assert all(p.grad is not None for p in network.parameters())


@pytest.mark.parametrize("classes", [2, 7])
def test_other_numbers_of_classes(classes: int) -> None:
    """The number of surface classes is the configuration's."""
    network = build(NetworkConfig(classes=classes, widths=SMALL.widths, blocks=1, neck=8))
    assert network(torch.zeros(2, 3, 64, 64))["classes"].shape[1] == classes


@pytest.mark.parametrize("shape", [(1, 3, 33, 64), (1, 4, 32, 32), (3, 32, 32), (1, 3, 0, 32)])
def test_a_wrong_input_is_refused(shape: tuple[int, ...]) -> None:
    """The error names what was wrong."""
    with pytest.raises(ValueError, match="input"):
        build(SMALL)(torch.zeros(shape))


def test_the_error_names_a_size_that_works() -> None:
    """33 x 70 px: 64 x 96 would do."""
    with pytest.raises(ValueError, match="pad it to 64 x 96"):
        build(SMALL)(torch.zeros(1, 3, 33, 70))


def test_state_goes_round() -> None:
    """The same weights give the same answer."""
    torch.manual_seed(1)
    one = build(SMALL).eval()
    two = build(one.config.as_dict()).eval()
    two.load_state_dict(one.state_dict())
    x = torch.randn(1, 3, 64, 64)
    for name, value in one(x).items():
        assert torch.equal(value, two(x)[name])


def test_folding_the_normalisation_changes_nothing() -> None:
    """Fused and plain networks agree, also with statistics that aren't 0 and 1."""
    torch.manual_seed(2)
    network = build(SMALL)
    for _ in range(3):
        network(torch.randn(2, 3, 64, 64) * 2 + 1)
    network.eval()
    x = torch.randn(1, 3, 64, 96)
    with torch.no_grad():
        before = network(x)
        after = network.fuse()(x)
    assert not any(isinstance(m, torch.nn.BatchNorm2d) for m in network.modules())
    for name, value in before.items():
        torch.testing.assert_close(after[name], value, rtol=1e-3, atol=1e-4)


def test_the_full_network_has_the_size_it_should() -> None:
    """3.5 million weights: 7.0 MB in half precision."""
    count = sum(p.numel() for p in build().parameters())
    assert 3.3e6 < count < 3.7e6


def _rates_far_from_a_change(context: int) -> tuple[torch.Tensor, torch.Tensor]:
    """Rates at the far end of a long strip, before and after its near end was painted over."""
    torch.manual_seed(0)
    network = build(NetworkConfig(widths=(8, 8, 8, 8, 8), neck=8, context=context)).eval()
    if network.context is not None:
        torch.nn.init.normal_(network.context.last.weight, std=0.3)
    strip = torch.rand((1, 3, 32, 1600))
    painted = strip.clone()
    painted[..., :32] = 4.0
    with torch.inference_mode():
        return network(strip)["rate"][..., -4:], network(painted)["rate"][..., -4:]


def test_counts_of_a_block_hang_on_the_whole_picture_only_by_the_context() -> None:
    before, after = _rates_far_from_a_change(0)
    assert torch.equal(before, after)
    before, after = _rates_far_from_a_change(2)
    assert (before - after).abs().max() > 1e-5


def test_the_context_starts_by_saying_nothing() -> None:
    network = build(NetworkConfig(widths=(8, 8, 8, 8, 8), neck=8, context=3)).eval()
    said = network.context(torch.rand((2, 8, 3, 5)))
    assert said.shape == (2, 16, 1, 1)
    assert not said.any()
