"""Running the network over a top view of any size, piece by piece, with the same answer."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from torch import Tensor, nn

__all__ = ["Tile", "pad_to_stride", "plan_tiles", "run_tiled", "run_views"]

STRIDE = 32
# One piece holds a square foot or a hoop of 13.5 in with its margin, four hold a square of 24 in
# (16 pieces of 896 px took twice as long); 192 px of overlap keep sums within 0.1 % (96 px: 2 %),
# measured on the sample photos.
TILE_PX = 1088
OVERLAP_PX = 192
_CELL = {"classes": 2, "heat": 4, "offset": 4, "rate": 16, "spread": 16}


@dataclass(frozen=True)
class Tile:
    """One piece: pixels read (``top`` .. ``bottom``, exclusive) and the core that is kept."""

    top: int
    bottom: int
    left: int
    right: int
    core_top: int
    core_bottom: int
    core_left: int
    core_right: int


def plan_tiles(
    height: int, width: int, tile_px: int = TILE_PX, overlap_px: int = OVERLAP_PX
) -> list[Tile]:
    """Tiles that cover a picture whose sides are multiples of 32.

    Cores touch without overlapping and together are the whole picture; where a core meets
    another tile, at least ``overlap_px`` of context is read beyond it. Every edge is a multiple
    of 32, so that each cell of every output is computed on the same grid as without tiles.

    Raises
    ------
    ValueError
        Sides or sizes that are no multiples of 32, or tiles too small for their overlap.
    """
    for value in (height, width, tile_px, overlap_px):
        if value % STRIDE or value < 0:
            raise ValueError(f"{value} px is no multiple of {STRIDE}: pad the picture first")
    if tile_px <= 2 * overlap_px:
        raise ValueError(f"tiles of {tile_px} px are too small for {overlap_px} px of overlap")
    rows = _spans(height, tile_px, overlap_px)
    columns = _spans(width, tile_px, overlap_px)
    return [Tile(r[0], r[1], c[0], c[1], r[2], r[3], c[2], c[3]) for r in rows for c in columns]


def _spans(length: int, tile: int, overlap: int) -> list[tuple[int, int, int, int]]:
    """Read start, read end, core start, core end of each tile along one side."""
    if length <= tile:
        return [(0, length, 0, length)]
    # Outer edges need no overlap; cores of equal length waste the least.
    pieces = 2
    while _longest(length, pieces, overlap) > tile:
        pieces += 1
    cuts = [round(i * length / pieces / STRIDE) * STRIDE for i in range(pieces + 1)]
    return [
        (max(0, a - overlap), min(length, b + overlap), a, b) for a, b in itertools.pairwise(cuts)
    ]


def _longest(length: int, pieces: int, overlap: int) -> int:
    cuts = [round(i * length / pieces / STRIDE) * STRIDE for i in range(pieces + 1)]
    return max(min(length, b + overlap) - max(0, a - overlap) for a, b in itertools.pairwise(cuts))


def pad_to_stride(image: Tensor, stride: int = STRIDE) -> Tensor:
    """Picture (3, H, W) with rows and columns of zeros added below and right, to the stride.

    Zero is the mean colour once normalised: to the network it looks like ground that the photo
    doesn't show, which it met in training.
    """
    import torch.nn.functional as F

    height, width = image.shape[-2:]
    return F.pad(image, (0, -width % stride, 0, -height % stride))


def run_tiled(
    network: nn.Module, image: Tensor, tile_px: int = TILE_PX, overlap_px: int = OVERLAP_PX
) -> dict[str, Tensor]:
    """Outputs of the network over a whole picture, activations applied, without batch axis.

    Parameters
    ----------
    image : Tensor
        (3, H, W) float, normalised, sides multiples of 32.

    Returns
    -------
    dict
        ``classes`` (C, H/2, W/2) probabilities; ``heat`` (2, H/4, W/4) probabilities;
        ``offset`` (4, H/4, W/4); ``rate`` and ``spread`` (2, H/16, W/16); ``embedding`` (E,).
    """
    height, width = image.shape[-2:]
    whole: dict[str, Tensor] = {}
    embedding = None
    tiles = plan_tiles(height, width, tile_px, overlap_px)
    said = _context(network, image, tiles)
    for tile in tiles:
        output = network(_piece(image, tile), *said)
        output["classes"] = output["classes"].softmax(1)
        output["heat"] = output["heat"].sigmoid()
        core_px = (tile.core_bottom - tile.core_top) * (tile.core_right - tile.core_left)
        part = output["embedding"][0] * (core_px / (height * width))
        embedding = part if embedding is None else embedding + part
        for name, cell in _CELL.items():
            value = output[name][0]
            if name not in whole:
                whole[name] = value.new_empty((value.shape[0], height // cell, width // cell))
            y, x = (tile.core_top - tile.top) // cell, (tile.core_left - tile.left) // cell
            h = (tile.core_bottom - tile.core_top) // cell
            w = (tile.core_right - tile.core_left) // cell
            top, left = tile.core_top // cell, tile.core_left // cell
            whole[name][:, top : top + h, left : left + w] = value[:, y : y + h, x : x + w]
    assert embedding is not None
    whole["embedding"] = embedding
    return whole


def _piece(image: Tensor, tile: Tile) -> Tensor:
    import torch

    piece = image[None, :, tile.top : tile.bottom, tile.left : tile.right]
    return piece.contiguous(memory_format=torch.channels_last)


def _context(network: nn.Module, image: Tensor, tiles: list[Tile]) -> tuple[Tensor, ...]:
    """What the whole picture says to its pieces, by a network that asks; nothing for one piece."""
    import torch

    context = getattr(network, "context", None)
    if context is None or len(tiles) < 2:
        return ()
    cores = []
    for tile in tiles:
        seen = network.coarsest(_piece(image, tile))  # type: ignore[operator]
        y, x = (tile.core_top - tile.top) // STRIDE, (tile.core_left - tile.left) // STRIDE
        h = (tile.core_bottom - tile.core_top) // STRIDE
        w = (tile.core_right - tile.core_left) // STRIDE
        cores.append(seen[:, :, y : y + h, x : x + w].flatten(2))
    # a weighted mean over places doesn't mind how they lie
    return (context(torch.cat(cores, 2)[..., None]),)


def run_views(
    network: nn.Module,
    image: Tensor,
    views: int = 1,
    tile_px: int = TILE_PX,
    overlap_px: int = OVERLAP_PX,
) -> dict[str, Tensor]:
    """Mean of the outputs over 1, 2 or 4 mirrored views of the picture.

    Raises
    ------
    ValueError
        Another number of views.
    """
    flips: list[tuple[bool, bool]] = {
        1: [(False, False)],
        2: [(False, False), (True, True)],
        4: [(False, False), (True, True), (True, False), (False, True)],
    }.get(views, [])
    if not flips:
        raise ValueError(f"{views} views: 1, 2 or 4 can be averaged")
    total: dict[str, Tensor] = {}
    for down, across in flips:
        axes = [-2] * down + [-1] * across
        output = run_tiled(network, image.flip(axes) if axes else image, tile_px, overlap_px)
        for name, value in output.items():
            if name != "embedding" and axes:
                value = value.flip(axes)
            if name == "offset":
                signs = value.new_tensor([-1.0 if across else 1.0, -1.0 if down else 1.0])
                value = value * signs.repeat(2)[:, None, None]
            total[name] = total[name] + value if name in total else value
    return {name: value / len(flips) for name, value in total.items()}
