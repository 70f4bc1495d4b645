"""Bumps at known places come back as points."""

from __future__ import annotations

import numpy as np
import torch

from tillercount.model.decode import find_points
from tillercount.train.losses import Targets, heat_targets


def _bumps(points: np.ndarray, cells: int = 24) -> torch.Tensor:
    n = len(points)
    targets = Targets(
        classes=torch.zeros(1, 2 * cells, 2 * cells, dtype=torch.long),
        points=torch.tensor(points, dtype=torch.float32)[None],
        kind=torch.zeros(1, n),
        visible=torch.ones(1, n),
        owner=torch.zeros(1, n, 2),
        shown=torch.ones(1, cells // 4, cells // 4),
    )
    heat, used = heat_targets(targets, cells, cells)
    assert used.all()
    return heat[0, 0]


def test_points_come_back_to_a_hundredth_of_a_pixel() -> None:
    """Perfect bumps and offsets give the very points they were drawn from."""
    true = np.array([[10.2, 12.9], [40.0, 41.7], [80.5, 5.25], [-0.4, 60.1]])
    cell = np.floor((true + 0.5) / 4)
    offset = torch.zeros(2, 24, 24)
    for (x, y), (cx, cy) in zip(true, cell.astype(int), strict=True):
        offset[:, cy, cx] = torch.tensor([(x - (cx * 4 + 1.5)) / 4, (y - (cy * 4 + 1.5)) / 4])
    found = find_points(_bumps(true), offset, 0.5)
    assert len(found) == 4
    order = np.lexsort(true.T)
    np.testing.assert_allclose(found[np.lexsort(found[:, :2].T), :2], true[order], atol=0.01)


def test_best_first_and_nothing_below_the_threshold() -> None:
    """Scores fall; weak bumps are left out."""
    heat = torch.zeros(16, 16)
    heat[3, 4], heat[8, 8], heat[12, 2] = 0.6, 0.9, 0.2
    found = find_points(heat, torch.zeros(2, 16, 16), 0.3)
    np.testing.assert_allclose(found, [[33.5, 33.5, 0.9], [17.5, 13.5, 0.6]], rtol=1e-6)


def test_a_flat_top_is_one_point() -> None:
    """Two equal neighbours aren't two plants."""
    heat = torch.zeros(16, 16)
    heat[5, 5] = heat[5, 6] = 0.8
    assert len(find_points(heat, torch.zeros(2, 16, 16), 0.3)) == 1


def test_an_empty_map_has_no_points() -> None:
    assert find_points(torch.zeros(8, 8), torch.zeros(2, 8, 8), 0.3).shape == (0, 3)
