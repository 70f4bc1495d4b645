"""Canvases held on the device, and random batches of crops cut from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Generator, Tensor

from tillercount.train.augment import constant, crop_to_canvas, move_points, photometric, warp
from tillercount.train.data import OUTSIDE, Scenes
from tillercount.train.losses import BLOCK_PX, CELL_PX, Targets, block_sums

if TYPE_CHECKING:
    from tillercount.train.realphotos import RealPhotos

__all__ = ["Batch", "RealStore", "RealTargets", "SceneStore", "normalise"]

MEAN = (0.42, 0.38, 0.30)
STD = (0.22, 0.20, 0.18)
_CHUNK = 64
_POINTS = 4096
"""Rows of points are filled up to a multiple of this, so that what is compiled fits every set."""


def normalise(images: Tensor, shown: Tensor | None = None) -> Tensor:
    """Images 0 to 1 as the network wants them; pixels not shown become zero, the mean colour."""
    mean = constant(MEAN, images.device).view(1, 3, 1, 1)
    std = constant(STD, images.device).view(1, 3, 1, 1)
    images = (images - mean) / std
    return images if shown is None else images * shown


@dataclass(frozen=True)
class RealTargets:
    """What is known of m crops of real photos.

    ``plant`` (m, H/2, W/2): 1 plant, 0 not, 255 not judged. ``read`` (m, H/16, W/16): plants per
    block as read by eye; ``judged`` (m, H/16, W/16): 1 where the photo shows the whole block and
    its plants were read.
    """

    plant: Tensor
    read: Tensor
    judged: Tensor


@dataclass(frozen=True)
class Batch:
    """Crops (n, 3, H, W), normalised, with their truth.

    The first ``scenes`` crops have all of it; the rest are ``real``.
    """

    images: Tensor
    targets: Targets
    real: RealTargets | None

    @property
    def scenes(self) -> int:
        """Number of crops cut from scenes."""
        return len(self.targets.classes)


def _on_device(pixels: NDArray[np.uint8], device: torch.device) -> Tensor:
    """Copy in pieces: one copy of many gigabytes needs as much again in staging memory."""
    out = torch.empty(pixels.shape, dtype=torch.uint8, device=device)
    for i in range(0, len(pixels), _CHUNK):
        out[i : i + _CHUNK] = torch.from_numpy(pixels[i : i + _CHUNK])
    return out


class SceneStore:
    """Scenes on the device."""

    def __init__(self, scenes: Scenes, device: torch.device) -> None:
        self.pixels = _on_device(scenes.pixels, device)
        self.canvas_px = scenes.canvas_px
        truths = scenes.truth
        longest = max((len(t.points) for t in truths), default=1)
        longest = -(-max(longest, 1) // _POINTS) * _POINTS
        table = np.zeros((len(truths), longest, 6), dtype=np.float32)
        table[..., 2] = -1
        for row, truth in zip(table, truths, strict=True):
            row[: len(truth.points)] = truth.points
        self.table = torch.from_numpy(table).to(device)

    def __len__(self) -> int:
        return len(self.pixels)

    def crops(
        self, chosen: Tensor, crop_px: int, rng: Generator, strength: float = 1.0, turn: int = 0,
        restyle: bool = False,
    ) -> tuple[Tensor, Targets]:
        """Random crops of the chosen canvases (n,), and their truth.

        ``turn`` and ``restyle`` as in `tillercount.train.augment.photometric`.
        """
        to_canvas = crop_to_canvas(len(chosen), crop_px, self.canvas_px, rng)
        canvas = self.pixels[chosen]
        images = warp(canvas[:, :3].float() / 255, to_canvas, crop_px)
        ids = _classes(canvas[:, 3:4], to_canvas, crop_px, 2)
        images = photometric(images, rng, strength, turn, restyle)
        seen = (ids != OUTSIDE).float()
        judged = (ids < OUTSIDE).float()
        table = self.table[chosen]
        targets = Targets(
            classes=ids.long(),
            points=move_points(table[..., :2], to_canvas),
            kind=table[..., 2],
            visible=table[..., 3],
            owner=move_points(table[..., 4:6], to_canvas),
            shown=_blocks_shown(seen, judged),
            stems=_stems(canvas[:, 4:], to_canvas, crop_px),
        )
        return normalise(images, _full(seen)), targets


class RealStore:
    """Real photos with plant masks on the device, and plants where they were read."""

    def __init__(self, photos: RealPhotos, device: torch.device) -> None:
        self.pixels = _on_device(photos.pixels, device)
        longest = max(1, *(len(r) for r in photos.readings))
        table = np.zeros((len(photos.readings), longest, 3), dtype=np.float32)
        for row, points in zip(table, photos.readings, strict=True):
            row[: len(points)] = points
        self.table = torch.from_numpy(table).to(device)
        self.was_read = torch.tensor([len(r) > 0 for r in photos.readings], device=device)

    def choose(self, m: int, rng: Generator) -> Tensor:
        """Numbers (m,) of random photos, half of them with plants read if there are any."""
        chosen = torch.randint(len(self), (m,), generator=rng, device=rng.device)
        read = self.was_read.nonzero()[:, 0]
        if len(read):
            some = torch.randint(len(read), (m // 2,), generator=rng, device=rng.device)
            chosen[: m // 2] = read[some]
        return chosen[torch.randperm(m, generator=rng, device=rng.device)]

    def __len__(self) -> int:
        return len(self.pixels)

    def crops(
        self, chosen: Tensor, crop_px: int, rng: Generator, strength: float = 1.0, turn: int = 0,
        restyle: bool = False,
    ) -> tuple[Tensor, RealTargets]:
        """Random crops and what is known of them; their scale is uncertain, so it varies more."""
        size = self.pixels.shape[-1]
        to_canvas = crop_to_canvas(
            len(chosen), crop_px, size, rng, scale=(0.65, 1.25), stray_px=96.0
        )
        canvas = self.pixels[chosen]
        images = warp(canvas[:, :3].float() / 255, to_canvas, crop_px)
        images = photometric(images, rng, strength, turn, restyle)
        ids = _classes(canvas[:, 3:], to_canvas, crop_px, 2)
        seen = (ids != OUTSIDE).float()
        plant = torch.where(ids == OUTSIDE, torch.full_like(ids, 255), ids).long()
        table = self.table[chosen]
        rows = crop_px // BLOCK_PX
        at = move_points(table[..., :2], to_canvas)
        read = block_sums(at, table[:, None, :, 2], rows, rows)[:, 0]
        judged = _blocks_shown(seen, seen) * self.was_read[chosen, None, None]
        return normalise(images, _full(seen)), RealTargets(plant, read, judged)


def _classes(ids: Tensor, to_canvas: Tensor, crop_px: int, cell_px: int) -> Tensor:
    """Class (n, h, w) at the centre of each cell; `OUTSIDE` beyond the canvas too."""
    return _nearest(ids, to_canvas, crop_px, cell_px, OUTSIDE)[:, 0]


def _stems(bytes_: Tensor, to_canvas: Tensor, crop_px: int) -> Tensor | None:
    """Row of points (n, h, w) of the shoot shown at the centre of each cell, -1 nobody's."""
    if not bytes_.shape[1]:
        return None
    low, high = _nearest(bytes_, to_canvas, crop_px, CELL_PX, 0).long().unbind(1)
    return low + 256 * high - 1


def _nearest(
    values: Tensor, to_canvas: Tensor, crop_px: int, cell_px: int, beyond: int
) -> Tensor:
    """Whole numbers (n, C, S, S) at the centre of each cell, float; ``beyond`` off the canvas."""
    # a rim of it makes the repeated edge say so
    values = values.float().clone()
    values[:, :, 0] = values[:, :, -1] = beyond
    values[:, :, :, 0] = values[:, :, :, -1] = beyond
    return warp(values, to_canvas, crop_px, cell_px, "nearest").round()


def _blocks_shown(seen: Tensor, judged: Tensor) -> Tensor:
    """Blocks wholly in the photo and not mostly under something that is no part of the stand."""
    size = BLOCK_PX // 2
    whole = torch.nn.functional.avg_pool2d(seen, size) > 0.99
    return (whole & (torch.nn.functional.avg_pool2d(judged, size) > 0.5)).float()


def _full(seen: Tensor) -> Tensor:
    return torch.nn.functional.interpolate(seen[:, None], scale_factor=2.0, mode="nearest")
