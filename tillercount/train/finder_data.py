"""Scenes on disk, reduced to what the finder network learns from."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from torch import Tensor

from tillercount.errors import InputError
from tillercount.frame.network import KINDS, LONG_SIDE_PX

__all__ = ["CANVAS_PX", "ReducedScenes", "load_scenes"]

CANVAS_PX = (LONG_SIDE_PX * 3 // 4, LONG_SIDE_PX)
"""Height and width that every photo is brought to; an upright photo is laid on its side."""

FRAME_CLASS = 4
EDGE_SUPERSAMPLE = 4
KIND_OF_AREA = {"none": "none", "square": "quad", "rect": "quad", "hoop": "hoop", "row": "row"}


@dataclass(frozen=True)
class ReducedScenes:
    """Many photos with their truth, as bytes, ready to lie on the accelerator.

    rgb (N, 3, h, w); truth (N, 4, h, w) shares 0..255 of the first four of `MAPS`; size (N, 2)
    height and width of the photo inside the canvas (the rest is empty); kind (N,) index into
    `KINDS`; flat (N,) 1 a lath, 0 a pipe, -1 neither known;
    centre (N, 2) and radius (N,) of a disc free of any frame, in canvas pixels; names.
    """

    rgb: Tensor
    truth: Tensor
    size: Tensor
    kind: Tensor
    flat: Tensor
    centre: Tensor
    radius: Tensor
    names: tuple[str, ...]

    def __len__(self) -> int:
        return int(self.rgb.shape[0])

    def to(self, device: torch.device) -> ReducedScenes:
        """The same scenes on another device."""
        return ReducedScenes(
            self.rgb.to(device),
            self.truth.to(device),
            self.size.to(device),
            self.kind.to(device),
            self.flat.to(device),
            self.centre.to(device),
            self.radius.to(device),
            self.names,
        )

    def subset(self, index: Sequence[int]) -> ReducedScenes:
        """Some of the scenes, by position."""
        at = torch.as_tensor(list(index), dtype=torch.long, device=self.rgb.device)
        return ReducedScenes(
            self.rgb[at],
            self.truth[at],
            self.size[at],
            self.kind[at],
            self.flat[at],
            self.centre[at],
            self.radius[at],
            tuple(self.names[i] for i in index),
        )


def load_scenes(
    folders: Sequence[Path], *, limit: int | None = None, threads: int | None = None
) -> ReducedScenes:
    """Read every scene of these folders, reduced to `CANVAS_PX`.

    Raises
    ------
    InputError
        No scene is found, or one of them can't be read.
    """
    records = sorted(p for folder in folders for p in Path(folder).glob("*.json"))
    records = [p for p in records if p.with_suffix(".jpg").exists()][:limit]
    if not records:
        raise InputError(
            f"no scene (a .jpg with its .json) in {', '.join(map(str, folders))}; "
            "render some first or name another folder"
        )
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        items = list(pool.map(_load_one, records))
    return ReducedScenes(
        rgb=torch.stack([torch.from_numpy(i[0]) for i in items]),
        truth=torch.stack([torch.from_numpy(i[1]) for i in items]),
        size=torch.tensor([i[2] for i in items], dtype=torch.float32),
        kind=torch.tensor([i[3] for i in items], dtype=torch.long),
        flat=torch.tensor([i[4] for i in items], dtype=torch.float32),
        centre=torch.tensor([i[5] for i in items], dtype=torch.float32),
        radius=torch.tensor([i[6] for i in items], dtype=torch.float32),
        names=tuple(p.stem for p in records),
    )


def _load_one(record: Path) -> tuple[Any, ...]:
    try:
        truth = json.loads(record.read_text())
        kind = KIND_OF_AREA[truth["area"]["kind"]]
        with Image.open(record.with_suffix(".jpg")) as photo:
            full = photo.size
            photo.draft("RGB", (LONG_SIDE_PX, LONG_SIDE_PX))
            rgb = photo.convert("RGB")
        with Image.open(record.with_suffix(".png")) as classes:
            tube = (np.asarray(classes) == FRAME_CLASS).astype(np.uint8) * 255
    except (OSError, KeyError, ValueError) as error:
        raise InputError(f"scene {record}: can't be read ({error}); render it again") from error
    scale = min(LONG_SIDE_PX / max(full), CANVAS_PX[0] / min(full))
    width, height = (max(1, round(scale * s)) for s in full)
    small = np.asarray(rgb.resize((width, height), Image.Resampling.BOX))
    seen = np.asarray(Image.fromarray(tube).resize((width, height), Image.Resampling.BOX))
    maps = np.zeros((4, height, width), np.uint8)
    maps[1 if kind == "row" else 0] = seen
    per_px = np.array([width / full[0], height / full[1]])
    outline = truth.get("inside_edge_px") if kind in ("quad", "hoop") else truth.get("outline_px")
    if kind != "none" and outline:
        # pixel centres are whole numbers in the photo; reduce about the photo's own corner
        points = (np.asarray(outline, float) + 0.5) * per_px
        maps[3 if kind == "row" else 2] = _filled(points, height, width)
    centre, radius = _free_disc(maps, kind)
    image = small.transpose(2, 0, 1)
    if height > width:
        image, maps = np.rot90(image, axes=(1, 2)), np.rot90(maps, axes=(1, 2))
        centre = (centre[1], width - 1 - centre[0])
        height, width = width, height
    return (
        _on_canvas(image),
        _on_canvas(maps),
        (height, width),
        KINDS.index(kind),
        _flat(truth) if kind == "quad" else 0.0 if kind == "hoop" else -1.0,
        centre,
        radius,
    )


def _flat(truth: dict[str, Any]) -> float:
    """1 where the inside edge is seen on the ground itself, as a lath's is."""
    edge, ground = (np.asarray(truth[k], float) for k in ("inside_edge_px", "outline_px"))
    return float(np.abs(edge - ground).max() < 1e-3 * np.ptp(ground))


def _filled(points: NDArray[np.float64], height: int, width: int) -> NDArray[np.uint8]:
    """Share of every pixel inside a polygon, 0..255; points (N, 2) from the photo's corner."""
    k = EDGE_SUPERSAMPLE
    big = Image.new("L", (width * k, height * k))
    ImageDraw.Draw(big).polygon([(float(x * k), float(y * k)) for x, y in points], fill=255)
    return np.asarray(big.resize((width, height), Image.Resampling.BOX))


def _free_disc(maps: NDArray[np.uint8], kind: str) -> tuple[tuple[float, float], float]:
    """Centre (x, y) and radius in px of a disc that holds no part of a frame."""
    height, width = maps.shape[1:]
    if kind == "none":
        return (width / 2, height / 2), float(np.hypot(width, height) / 2)
    from scipy import ndimage

    pad = np.pad(maps[:2].max(0) < 8, 1)
    distance = ndimage.distance_transform_edt(pad)[1:-1, 1:-1]
    y, x = np.unravel_index(int(np.argmax(distance)), distance.shape)
    return (float(x), float(y)), float(distance[y, x])


def _on_canvas(planes: NDArray[np.uint8]) -> NDArray[np.uint8]:
    out = np.zeros((planes.shape[0], *CANVAS_PX), np.uint8)
    out[:, : planes.shape[1], : planes.shape[2]] = planes[:, : CANVAS_PX[0], : CANVAS_PX[1]]
    return out
