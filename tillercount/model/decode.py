"""From the network's bumps to points that a person can edit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from torch import Tensor

__all__ = ["CELL_PX", "find_points"]

CELL_PX = 4


def find_points(heat: Tensor, offset: Tensor, threshold: float) -> NDArray[np.float64]:
    """Points (N, 3): x, y in pixels of the picture and score, best first.

    A point is a cell that is the highest of its 3 x 3 neighbourhood and at least ``threshold``;
    the offset places it inside its cell.

    Parameters
    ----------
    heat : Tensor
        (h, w) probabilities, one cell per 4 x 4 pixels.
    offset : Tensor
        (2, h, w), x and y of the base minus the cell's centre, in cells.
    threshold : float
        Lowest score kept, 0 to 1.
    """
    import torch
    import torch.nn.functional as F

    padded = heat[None, None]
    best = F.max_pool2d(padded, 3, stride=1, padding=1)[0, 0]
    peak = (heat >= best) & (heat >= threshold)
    # Two equal neighbours are one bump: the earlier one in reading order stands for both.
    y, x = torch.nonzero(peak, as_tuple=True)
    score = heat[y, x]
    order = torch.argsort(score, descending=True, stable=True)
    y, x, score = y[order], x[order], score[order]
    shift = offset[:, y, x].clamp(-1.0, 1.0)
    px = (x + shift[0]) * CELL_PX + (CELL_PX - 1) / 2
    py = (y + shift[1]) * CELL_PX + (CELL_PX - 1) / 2
    points = torch.stack([px, py, score], 1).double().numpy()
    cells = torch.stack([x, y], 1).numpy()
    return points[_first_of_ties(cells, points[:, 2])]


def _first_of_ties(cells: NDArray[np.int64], score: NDArray[np.float64]) -> NDArray[np.bool_]:
    keep = np.ones(len(cells), dtype=bool)
    seen: dict[tuple[int, int], float] = {}
    for i, (x, y) in enumerate(cells.tolist()):
        around = ((x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1))
        if any(seen.get(cell) == score[i] for cell in around):
            keep[i] = False
        else:
            seen[(x, y)] = score[i]
    return keep
