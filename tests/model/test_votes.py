"""Votes of leaves: what gathers where, and what they may change in a network."""

from __future__ import annotations

import numpy as np
import pytest
import torch

from tillercount.model.network import NetworkConfig, build
from tillercount.model.tiles import run_tiled
from tillercount.model.votes import Tally, gather

PLAIN = NetworkConfig(widths=(8, 8, 8, 16, 16), blocks=1, neck=8, counts=3)
VOTING = NetworkConfig(
    widths=(8, 8, 8, 16, 16), blocks=1, neck=8, counts=3, votes=2, looks=2, tally=8
)


def test_what_is_sent_arrives_whole_and_in_its_place() -> None:
    """Against numpy's `add.at` for whole steps; shares of a cell add up; what goes off is lost."""
    rng = np.random.default_rng(4)
    what = rng.uniform(size=(2, 3, 7, 9)).astype(np.float32)
    where = rng.integers(-9, 10, (2, 2, 7, 9)).astype(np.float32)
    want = np.zeros_like(what)
    for n in range(2):
        for y in range(7):
            for x in range(9):
                at_x, at_y = x + int(where[n, 0, y, x]), y + int(where[n, 1, y, x])
                if 0 <= at_x < 9 and 0 <= at_y < 7:
                    np.add.at(want, (n, slice(None), at_y, at_x), what[n, :, y, x])
    got = gather(torch.from_numpy(what), torch.from_numpy(where))
    np.testing.assert_allclose(got.numpy(), want, rtol=1e-5)
    one = torch.zeros(1, 1, 5, 5)
    one[0, 0, 2, 2] = 1
    shared = gather(one, torch.tensor([1.25, -0.5]).view(1, 2, 1, 1).expand(1, 2, 5, 5))[0, 0]
    assert shared.sum() == pytest.approx(1)
    assert shared[1, 3] == shared[2, 3] == pytest.approx(0.375)
    assert shared[1, 4] == pytest.approx(0.125)


def test_goals_that_are_no_numbers_are_lost() -> None:
    """One bad vote must not spoil the sums of others."""
    where = torch.zeros(1, 2, 4, 4)
    where[0, 0, 0, 0], where[0, 1, 1, 1] = float("nan"), float("inf")
    got = gather(torch.ones(1, 1, 4, 4), where)
    assert torch.isfinite(got).all()
    assert got.sum() == 14


def test_a_network_that_gains_votes_sees_at_first_what_it_saw() -> None:
    """Weights of a network without votes: only plants change, by half."""
    torch.manual_seed(1)
    plain, voting = build(PLAIN).eval(), build(VOTING).eval()
    voting.load_state_dict({**voting.state_dict(), **plain.state_dict()})
    x = torch.randn(1, 3, 96, 64)
    before, after = plain(x), voting(x)
    for name in ("heat", "offset", "to_plant", "classes"):
        torch.testing.assert_close(after[name], before[name])
    torch.testing.assert_close(after["looked"], before["rate"][:, :2])
    torch.testing.assert_close(after["rate"][:, 1:], before["rate"][:, 1:])
    both = (after["looked"] + after["tally"]) / 2
    torch.testing.assert_close(after["rate"][:, 0], both[:, 0])
    assert not torch.allclose(after["rate"][:, 0], before["rate"][:, 0])
    assert [v.shape for v in after["stems"]] == [(1, 4, 24, 16)] * 3


def test_votes_learn_from_the_truth_alone() -> None:
    """No count reaches them, so that they go on saying where bases are."""
    network = build(VOTING)
    out = network(torch.randn(2, 3, 64, 64))
    (out["rate"].sum() + out["heat"].sum()).backward(retain_graph=True)
    named = dict(network.named_parameters())
    apart = [n for n in named if n.startswith(("votes.where", "votes.mend", "votes.peek"))]
    assert apart
    assert all(named[n].grad is None for n in apart)
    sum(v.sum() for v in out["stems"]).backward()
    assert all(named[n].grad is not None for n in apart)


def test_the_tally_counts_heaps_of_votes() -> None:
    """A few steps teach it that many heaps are many plants, which leaves' places don't tell."""
    torch.manual_seed(0)
    rng = np.random.default_rng(0)
    tally = Tally(8)
    tally.start()
    adam = torch.optim.Adam(tally.parameters(), 0.02)

    def stand(plants: int) -> tuple[torch.Tensor, torch.Tensor]:
        """Crop everywhere; every cell votes for one of so many bases."""
        bases = rng.uniform(4, 28, (plants, 2))
        y, x = np.mgrid[:32, :32]
        mine = bases[rng.integers(0, plants, (32, 32))]
        way = np.stack([mine[..., 0] - x, mine[..., 1] - y]).astype(np.float32)
        return torch.ones(1, 1, 32, 32), torch.from_numpy(np.concatenate([way, way]))[None]

    def counted(many: list[int]) -> torch.Tensor:
        stands = [stand(n) for n in many]
        crop, votes = (torch.cat([s[k] for s in stands]) for k in (0, 1))
        total: torch.Tensor = tally(crop, votes)[:, 0].sum((1, 2))
        return total

    for _ in range(150):
        many = rng.integers(2, 13, 8).tolist()
        adam.zero_grad()
        ((counted(many).log() - torch.tensor(many).log()) ** 2).mean().backward()
        adam.step()
    tally.eval()
    with torch.no_grad():
        said = counted([2, 4, 6, 8, 12]).numpy()
    assert np.corrcoef(said, [2, 4, 6, 8, 12])[0, 1] > 0.9
    assert said[-1] > 2 * said[0]


@pytest.mark.parametrize(("cells", "alike"), [(8, True), (64, False)])
def test_pieces_of_a_picture_give_the_same_counts(cells: int, alike: bool) -> None:
    """As long as votes aren't longer than what pieces have in common, here 128 px or 32 cells."""
    torch.manual_seed(3)
    network = build(VOTING)
    assert network.votes is not None
    assert network.tally is not None
    for layer in (network.votes.last, network.tally.rate):
        torch.nn.init.normal_(layer.weight, std=0.5)
    with torch.no_grad():
        network.votes.where.bias.copy_(torch.tensor([1.0, -1.0, -1.0, 1.0]) * cells)
    network.fuse()
    image = torch.randn(3, 320, 448)
    with torch.inference_mode():
        whole = run_tiled(network, image, 448, 128)["rate"]
        pieces = run_tiled(network, image, 352, 128)["rate"]
    off = float(((pieces - whole).abs() / whole).max())
    assert (off < 0.01) == alike


def test_a_mended_vote_teaches_the_first_nothing() -> None:
    """Each is held against the truth by itself: the second must not mend the first's loss."""
    network = build(VOTING)
    out = network(torch.randn(2, 3, 64, 64))
    out["stems"][-1].sum().backward()
    named = dict(network.named_parameters())
    assert named["votes.where.weight"].grad is None
    assert named["votes.mend.1.last.weight"].grad is not None
    assert named["votes.mend.0.last.weight"].grad is None
