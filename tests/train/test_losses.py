"""Targets drawn from known points, and losses that are least at the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import torch
from hypothesis import given
from hypothesis import strategies as st

from tillercount.train.losses import (
    Targets,
    block_counts,
    count_loss,
    mask_loss,
    point_loss,
    spread_loss,
    stem_loss,
    surface_loss,
)


@given(st.lists(st.tuples(st.floats(24, 104), st.floats(24, 104)), min_size=0, max_size=30))
def test_shared_bases_add_up(points: list[tuple[float, float]]) -> None:
    """However bases are shared between blocks, their sum is their number."""
    where = torch.tensor(points or [(0.0, 0.0)])[None]
    kind = torch.zeros(1, where.shape[1]) if points else -torch.ones(1, 1)
    total = block_counts(where, kind, 8, 8)
    assert total[0, 0].sum() == pytest.approx(len(points), abs=1e-4)
    assert total[0, 1].sum() == 0


def test_a_base_at_a_block_centre_counts_there_alone() -> None:
    """Block (2, 1) has its centre at (1 * 16 + 7.5, 2 * 16 + 7.5)."""
    total = block_counts(torch.tensor([[[23.5, 39.5]]]), torch.ones(1, 1), 4, 4)
    assert total[0, 1, 2, 1] == 1
    assert total.sum() == 1


def _targets(points: torch.Tensor, size: int) -> Targets:
    n = points.shape[1]
    return Targets(
        classes=torch.zeros(1, size // 2, size // 2, dtype=torch.long),
        points=points,
        kind=torch.ones(1, n),
        visible=torch.ones(1, n),
        owner=points + 6.0,
        shown=torch.ones(1, size // 16, size // 16),
    )


def test_stem_loss_is_least_where_leaves_point_at_their_bases() -> None:
    """Votes for the plant, then for the shoot; leaves of nobody and crops without any don't count.

    Cell (3, 5) has its centre at (3 * 4 + 1.5, 5 * 4 + 1.5).
    """
    targets = _targets(torch.tensor([[[21.0, 33.0], [40.2, 10.9]]]), 64)
    stems = torch.full((1, 16, 16), -1)
    stems[0, 5, 3], stems[0, 9, 12] = 0, 1
    votes = torch.zeros(1, 4, 16, 16)
    for x, y, row in ((3, 5, 0), (12, 9, 1)):
        here = torch.tensor([x * 4 + 1.5, y * 4 + 1.5])
        votes[0, 2:, y, x] = (targets.points[0, row] - here) / 4
        votes[0, :2, y, x] = (targets.owner[0, row] - here) / 4
    known = replace(targets, stems=stems)
    assert float(stem_loss(votes, known)) == pytest.approx(0, abs=1e-5)
    elsewhere = votes.clone()
    elsewhere[0, :, 0, 0] = 50
    assert torch.equal(stem_loss(elsewhere, known), stem_loss(votes, known))
    swapped = torch.cat([votes[:, 2:], votes[:, :2]], 1)
    off = votes.clone()
    off[0, 0, 5, 3] += 3
    worse = float(stem_loss(off, known))
    assert 0.05 < worse < float(stem_loss(swapped, known))
    # three cells that are missed matter less on a long way
    far = replace(known, owner=targets.owner + 200)
    there = votes.clone()
    there[:, :2] += 50
    nearly = there.clone()
    nearly[0, 0, 5, 3] += 3
    assert float(stem_loss(there, far)) == pytest.approx(0, abs=1e-5)
    assert float(stem_loss(nearly, far)) < worse / 2
    nobody = replace(known, stems=torch.full((1, 16, 16), -1))
    assert float(stem_loss(off, nobody)) == 0 == float(stem_loss(off, targets))


def test_point_loss_is_least_at_the_truth() -> None:
    """Right bumps, offsets and vectors cost almost nothing; wrong ones more."""
    points = torch.tensor([[[21.0, 33.0], [40.2, 10.9]]])
    targets = _targets(points, 64)
    heat = torch.full((1, 2, 16, 16), -12.0)
    offset, vector = torch.zeros(1, 4, 16, 16), torch.zeros(1, 2, 16, 16)
    for x, y in points[0].tolist():
        cx, cy = int((x + 0.5) // 4), int((y + 0.5) // 4)
        heat[0, 1, cy, cx] = 12.0
        shift = torch.tensor([x - (cx * 4 + 1.5), y - (cy * 4 + 1.5)]) / 4
        offset[0, 2:, cy, cx] = shift
        vector[0, :, cy, cx] = shift + 1.5
    right = point_loss(heat, offset, vector, targets)
    assert right[0] < 1e-3
    assert right[1] < 1e-5
    assert point_loss(heat.flip(-1), offset, vector, targets)[0] > 1
    assert point_loss(heat, offset + 0.3, vector, targets)[1] > 0.1
    assert point_loss(heat, offset, vector + 2, targets)[1] > 0.01


def test_hidden_bases_are_counted_but_not_pointed_at() -> None:
    """A base that nothing shows makes no bump."""
    from dataclasses import replace

    from tillercount.train.losses import heat_targets

    targets = _targets(torch.tensor([[[21.0, 33.0]]]), 64)
    hidden = replace(targets, visible=torch.zeros(1, 1))
    assert heat_targets(targets, 16, 16)[0].max() == 1
    assert heat_targets(hidden, 16, 16)[0].max() == 0
    assert block_counts(hidden.points, hidden.kind, 4, 4).sum() == pytest.approx(1)


@pytest.mark.parametrize("factor", [0.6, 0.9, 1.1, 1.6])
def test_count_loss_is_least_at_the_truth(factor: float) -> None:
    torch.manual_seed(0)
    wanted = torch.rand(2, 2, 16, 16) * 0.4
    shown = torch.ones(2, 16, 16)
    assert count_loss(wanted * factor, wanted, shown) > count_loss(wanted, wanted, shown)


def test_what_the_photo_doesnt_show_costs_nothing() -> None:
    """Blocks outside the photo take no part."""
    wanted = torch.rand(1, 2, 16, 16)
    shown = torch.ones(1, 16, 16)
    shown[:, :, 8:] = 0
    other = wanted.clone()
    other[..., 8:] += 3
    assert count_loss(other, wanted, shown) == count_loss(wanted, wanted, shown)


def test_spread_learns_the_variance() -> None:
    """Where errors of the whole crop have variance 9, the variances come to sum to about 9."""
    rng = np.random.default_rng(0)
    n, blocks = 400, 4
    wanted = torch.zeros(n, 2, blocks, blocks)
    errors = torch.tensor(rng.normal(0, 3.0 / blocks, (n, 2, blocks, blocks)), dtype=torch.float32)
    raw = torch.zeros(1, requires_grad=True)
    optimiser = torch.optim.Adam([raw], 0.1)
    shown = torch.ones(n, blocks, blocks)
    for _ in range(150):
        spread = torch.nn.functional.softplus(raw) * torch.ones_like(wanted)
        loss = spread_loss(errors, spread, wanted, shown)
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
    variance = float(torch.nn.functional.softplus(raw.detach())) * blocks**2
    assert variance == pytest.approx(9, rel=0.15)


def test_surface_losses_prefer_the_truth() -> None:
    """Five classes; and plant against ground, where crop or other plants are all the same."""
    torch.manual_seed(1)
    classes = torch.randint(0, 5, (2, 16, 16))
    classes[:, :2] = 255
    right = torch.nn.functional.one_hot(classes.clamp(max=4), 5).movedim(-1, 1) * 12.0
    assert surface_loss(right, classes) < 0.01 < surface_loss(right.roll(1, 1), classes)
    plant = torch.isin(classes, torch.tensor([2, 3])).long()
    plant[:, :2] = 255
    swapped = right[:, [0, 1, 3, 2, 4]]
    ground = classes == 4
    plant[ground] = 255
    assert mask_loss(right, plant) == pytest.approx(float(mask_loss(swapped, plant)), abs=1e-5)
    assert mask_loss(right, plant) < 0.01 < mask_loss(right.roll(2, 1), plant)
