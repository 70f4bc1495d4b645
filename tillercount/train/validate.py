"""Counts, cover and embeddings of scenes kept out of training, as the finished model sees them."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn

from tillercount.model.decode import find_points
from tillercount.model.tiles import run_views
from tillercount.train.batches import normalise
from tillercount.train.data import OUTSIDE, SEEN_FROM, Scenes, SceneTruth
from tillercount.train.realphotos import RealPhotos

__all__ = [
    "confusion",
    "iou",
    "predict_real",
    "predict_scenes",
    "real_summary",
    "summary",
    "view_of",
]

MARGIN_PX = 50
_STEP = 32


def view_of(inside: NDArray[np.float32], canvas_px: int) -> tuple[slice, slice]:
    """Rows and columns of the canvas that a top view of the marked area would show.

    The marked area with 20 mm around it, widened to multiples of 32 px; the whole canvas where
    nothing is marked.
    """
    block = canvas_px // len(inside)
    spans = []
    for axis in (1, 0):
        marked = np.flatnonzero(inside.max(axis=axis) > 0)
        if not len(marked):
            spans.append(slice(0, canvas_px))
            continue
        low = (int(marked[0]) * block - MARGIN_PX) // _STEP * _STEP
        high = -(-(int(marked[-1] + 1) * block + MARGIN_PX) // _STEP) * _STEP
        spans.append(slice(max(0, low), min(canvas_px, high)))
    return spans[0], spans[1]


def confusion(predicted: Tensor, true: Tensor, classes: int) -> Tensor:
    """Counts (true, predicted) of judged pixels."""
    judged = true < classes
    index = true[judged].long() * classes + predicted[judged].long()
    return torch.bincount(index, minlength=classes**2).view(classes, classes)


def iou(table: NDArray[np.float64]) -> NDArray[np.float64]:
    """Intersection over union per class of a confusion table; NaN where a class never occurs."""
    both = np.diag(table)
    either = table.sum(0) + table.sum(1) - both
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(table.sum(1) > 0, both / np.maximum(either, 1), np.nan)


@contextlib.contextmanager
def _no_tuning() -> Iterator[None]:
    """Pictures of many sizes: trying every algorithm for each would take longer than it saves."""
    before = torch.backends.cudnn.benchmark
    torch.backends.cudnn.benchmark = False
    try:
        yield
    finally:
        torch.backends.cudnn.benchmark = before


@torch.no_grad()
@_no_tuning()
def predict_scenes(
    network: nn.Module,
    scenes: Scenes,
    chosen: Iterable[int],
    device: torch.device,
    *,
    views: int = 1,
    classes: int = 5,
    exact: bool = False,
    points: bool = False,
) -> tuple[list[dict[str, Any]], NDArray[np.float64]]:
    """One record per scene, and the confusion table (true, predicted) of all of them.

    A record holds name, kind, whole, true and predicted plants and shoots inside the marked
    area, their variances and the embedding; with ``points``, for plants and shoots each, the
    points seen (N, 3) and the visible true bases (M, 2) in the view. ``exact``: full precision
    on a GPU too.
    """
    half = device.type == "cuda" and not exact
    records: list[dict[str, Any]] = []
    table = torch.zeros((classes, classes), dtype=torch.long, device=device)
    network.eval()
    for i in chosen:
        truth = scenes.truth[i]
        rows, columns = view_of(truth.inside, scenes.canvas_px)
        pixels = torch.from_numpy(np.ascontiguousarray(scenes.pixels[i][:, rows, columns]))
        pixels = pixels.to(device)
        shown = (pixels[3] != OUTSIDE).float()
        image = normalise(pixels[None, :3].float() / 255, shown[None, None])[0]
        with torch.autocast(device.type, torch.bfloat16, enabled=half):
            output = run_views(network, image, views, tile_px=2048)
        inside = torch.from_numpy(
            np.ascontiguousarray(truth.inside[_blocks(rows), _blocks(columns)])
        ).to(device)
        rate = (output["rate"] * inside).sum((1, 2)).tolist()
        spread = (output["spread"] * inside).sum((1, 2)).tolist()
        labels = pixels[3, ::2, ::2]
        table += confusion(output["classes"].argmax(0), labels, classes)
        records.append(
            {
                "name": truth.name,
                "group": truth.group,
                "kind": truth.kind,
                "whole": truth.whole,
                "true": [float(c) for c in truth.counts],
                "count": rate,
                "variance": spread,
                "embedding": [round(float(e), 5) for e in output["embedding"].tolist()],
            }
        )
        if points:
            records[-1]["points"] = _points(output, truth, rows, columns)
    return records, table.cpu().numpy().astype(np.float64)


def _points(
    output: dict[str, Tensor], truth: SceneTruth, rows: slice, columns: slice
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    heat, offset = output["heat"].float().cpu(), output["offset"].float().cpu()
    origin = np.array([columns.start, rows.start])
    size = np.array([columns.stop, rows.stop]) - origin
    found = []
    for k in (0, 1):
        true = truth.points[(truth.points[:, 2] == k) & (truth.points[:, 3] >= SEEN_FROM)]
        here = true[:, :2] - origin
        here = here[np.all((here >= 0) & (here < size), axis=1)]
        seen = find_points(heat[k], offset[2 * k : 2 * k + 2], 0.1)
        found.append((seen, here.astype(np.float64)))
    return found


def _blocks(span: slice) -> slice:
    return slice(span.start // 16, span.stop // 16)


def summary(records: list[dict[str, Any]], table: NDArray[np.float64]) -> dict[str, float]:
    """Relative RMSE and bias of plants and shoots, and mean IoU of the classes that occur."""
    result: dict[str, float] = {}
    marked = [r for r in records if r["kind"] != "none" and r["whole"]]
    for k, name in enumerate(("plants", "shoots")):
        true = np.array([r["true"][k] for r in marked])
        count = np.array([r["count"][k] for r in marked])
        if not len(true) or true.mean() <= 0:
            continue
        result[f"{name}_rel_rmse"] = float(np.sqrt(np.mean((count - true) ** 2)) / true.mean())
        result[f"{name}_bias"] = float((count.mean() - true.mean()) / true.mean())
    values = iou(table)
    result["miou"] = float(np.nanmean(values)) if np.isfinite(values).any() else 0.0
    result["crop_iou"] = float(values[2]) if np.isfinite(values[2]) else 0.0
    return result


@torch.no_grad()
@_no_tuning()
def predict_real(
    network: nn.Module, photos: RealPhotos, device: torch.device, *, exact: bool = False
) -> list[dict[str, Any]]:
    """One record per real photo: plant pixels said and true, and plants counted and read."""
    network.eval()
    half = device.type == "cuda" and not exact
    records: list[dict[str, Any]] = []
    for name, plot, photo, readings in zip(
        photos.names, photos.plots, photos.pixels, photos.readings, strict=True
    ):
        side = photo.shape[-1]
        pixels = torch.from_numpy(np.ascontiguousarray(photo)).to(device)
        image = normalise(pixels[None, :3].float() / 255)
        image = nn.functional.pad(image, (0, -side % _STEP, 0, -side % _STEP))[0]
        with torch.autocast(device.type, torch.bfloat16, enabled=half):
            output = run_views(network, image, tile_px=2048)
        said = output["classes"][2:4].sum(0) > 0.5
        said = said.repeat_interleave(2, 0).repeat_interleave(2, 1)[:side, :side]
        true = pixels[3] > 0
        blocks = -(-side // 16)
        records.append(
            {
                "name": name,
                "plot": plot,
                "both": int((said & true).sum()),
                "either": int((said | true).sum()),
                "cover": float(said.float().mean()),
                "true_cover": float(true.float().mean()),
                "plants": float(output["rate"][0, :blocks, :blocks].sum()),
                "read": float(readings[:, 2].sum()) if len(readings) else None,
            }
        )
    return records


def real_summary(records: list[dict[str, Any]]) -> dict[str, float]:
    """Plant IoU, cover and plants against the readings, over records of `predict_real`.

    ``plants`` is None where a photo wasn't counted.
    """
    result = {
        "plant_iou": sum(r["both"] for r in records) / max(1, sum(r["either"] for r in records)),
        "cover_bias": float(np.mean([r["cover"] - r["true_cover"] for r in records])),
    }
    result["cover_r"] = _correlation(
        np.array([r["cover"] for r in records]), np.array([r["true_cover"] for r in records])
    )
    read = np.array(
        [
            (r["read"], r["plants"])
            for r in records
            if r["read"] is not None and r["plants"] is not None
        ]
    )
    if len(read) > 2:
        true, said = read.T
        result |= {
            "read": len(read),
            "plants_rel_rmse": float(np.sqrt(np.mean((said - true) ** 2)) / true.mean()),
            "plants_bias": float((said - true).mean() / true.mean()),
            "plants_r": _correlation(true, said),
        }
    return result


def _correlation(a: NDArray[np.floating[Any]], b: NDArray[np.floating[Any]]) -> float:
    """Pearson's r; not a number for fewer than three pairs or where one side never changes."""
    if len(a) < 3 or not np.ptp(a) or not np.ptp(b):
        return math.nan
    return float(np.corrcoef(a, b)[0, 1])
