"""The last minute of a training run: calibrate, measure, and write the model."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import torch
from torch import nn

from tillercount.errors import InputError
from tillercount.model.calibrate import Calibration
from tillercount.model.files import write_bundle
from tillercount.model.novelty import Novelty
from tillercount.model.tiles import OVERLAP_PX, TILE_PX
from tillercount.train.batches import MEAN, STD, normalise
from tillercount.train.data import MM_PER_PX, Scenes
from tillercount.train.realphotos import RealPhotos
from tillercount.train.thresholds import REACH_MM, best_threshold
from tillercount.train.validate import predict_real, predict_scenes, real_summary, summary

if TYPE_CHECKING:
    from tillercount.train.run import Run

__all__ = ["CLASSES", "REFUSE_FROM", "calibrations", "close", "copy_weights", "make_info"]

CLASSES = ("soil", "residue", "crop", "other plants", "frame")
REFUSE_FROM = 3.0
"""Novelty from which a view is refused; far above what pictures of young stands reach."""
_EMBEDDED = 600
_MATCHED = 120
SOURCE = "rendered scenes of the training kind, stands kept out of training, true outlines"


def make_info(
    config: dict[str, Any], training: dict[str, Any], attribution: str, views: int
) -> dict[str, Any]:
    """Metadata of a model, without calibration.

    ``attribution``: that of the real photos which the weights, or the weights they started from,
    have ever seen; empty if none.
    """
    trained_on = ["rendered scenes (tillercount.scenes)"]
    if attribution:
        trained_on.append(attribution)
    return {
        "name": "counter",
        "version": "2",
        "config": config,
        "input": {"mm_per_px": MM_PER_PX, "mean": list(MEAN), "std": list(STD)},
        "classes": list(CLASSES),
        "tiles": {"tile_px": TILE_PX, "overlap_px": OVERLAP_PX, "views": views},
        "thresholds": {"plant": 0.3, "shoot": 0.3},
        "licence": "CC-BY-SA-4.0" if attribution else "Apache-2.0",
        "attribution": attribution,
        "trained_on": trained_on,
        "training": training,
        "calibration": {},
        "novelty": {},
    }


def copy_weights(run: Run) -> None:
    """Write the averaged weights, not yet calibrated, so that a run cut short leaves a model."""
    network = run.average.network
    training = {"steps": run.step, "fold": run.options.fold, "stints": run.stints}
    info = make_info(network.config.as_dict(), training, run.attribution, run.options.views)  # type: ignore[operator,union-attr]
    write_bundle(run.options.out / "weights.safetensors", network.state_dict(), info)


def close(
    network: nn.Module,
    scenes: tuple[Scenes, Scenes],
    real: tuple[RealPhotos | None, RealPhotos | None],
    device: torch.device,
    folder: Path,
    training: dict[str, Any],
    *,
    views: int,
    attribution: str,
    say: Callable[[str], None] = print,
) -> Path:
    """Write ``counter.safetensors`` and ``predictions.json`` into ``folder``.

    ``scenes`` and ``real`` are each what was trained on and what was held out; ``attribution`` as
    for `make_info`.

    The model is written as soon as it can be, without calibration, and again with it: a run cut
    short here still leaves its weights.
    """
    began = time.monotonic()
    trained, held = scenes
    path = folder / "counter.safetensors"
    config = network.config.as_dict()  # type: ignore[operator,union-attr]
    info = make_info(config, training, attribution, views)
    if real[1] is not None:
        info["training"]["plots_held_out"] = sorted(set(real[1].plots))
    write_bundle(path, network.state_dict(), info)
    say(f"model written, not yet calibrated: {path}")
    records, table = predict_scenes(
        network, held, range(len(held)), device, views=views, exact=True, points=True
    )
    figures = summary(records, table)
    if real[1] is not None:
        photos = predict_real(network, real[1], device, exact=True)
        figures |= {f"real_{k}": v for k, v in real_summary(photos).items()}
    say("held out: " + ", ".join(f"{k} {v:.3f}" for k, v in figures.items()))
    for k, name in enumerate(("plant", "shoot")):
        pictures = [r["points"][k] for r in records[:_MATCHED]]
        threshold, matching = best_threshold(pictures, REACH_MM / MM_PER_PX)
        info["thresholds"][name] = threshold
        figures[f"{name}_points_f1"] = matching.f1
    for record in records:
        del record["points"]
    info["training"]["held_out"] = {**figures, "scenes": len(records)}
    (folder / "predictions.json").write_text(json.dumps({"scenes": records}), "utf-8")
    extra: dict[str, Any] = {}
    try:
        info["calibration"] = calibrations(records, SOURCE)
    except InputError as error:
        say(f"not calibrated: {error}")
    few = range(0, len(trained), max(1, len(trained) // _EMBEDDED))
    known, _ = predict_scenes(network, trained, few, device)
    embeddings = [r["embedding"] for r in known]
    if real[0] is not None:
        embeddings += real_embeddings(network, real[0].pixels, device)
    if len(embeddings) >= 8 and records:
        novelty = Novelty.fit(np.array(embeddings), np.array([r["embedding"] for r in records]))
        info["novelty"] = {**novelty.numbers(), "refuse_from": REFUSE_FROM}
        extra = novelty.tensors()
    write_bundle(path, network.state_dict(), info, extra)
    say(
        f"model written: {path} ({path.stat().st_size / 1e6:.1f} MB, "
        f"closing took {time.monotonic() - began:.1f} s)"
    )
    return path


def calibrations(records: list[dict[str, Any]], source: str) -> dict[str, Any]:
    """Calibration of plants and shoots from records of `predict_scenes`.

    Raises
    ------
    InputError
        Too few scenes with a marked area.
    """
    marked = [r for r in records if r["kind"] != "none" and r["whole"]]
    return {
        name: Calibration.fit(
            [r["count"][k] for r in marked],
            [r["variance"][k] for r in marked],
            [r["true"][k] for r in marked],
            source,
        ).as_dict()
        for k, name in enumerate(("plants", "shoots"))
    }


@torch.no_grad()
def real_embeddings(
    network: nn.Module, pixels: np.ndarray, device: torch.device
) -> list[list[float]]:
    """Embeddings of real photos (n, 4, S, S)."""
    found = []
    for photo in pixels:
        side = photo.shape[-1] // 32 * 32
        part = torch.from_numpy(np.ascontiguousarray(photo[None, :3, :side, :side])).to(device)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            output = network(normalise(part.float() / 255))
        found.append(output["embedding"][0].tolist())
    return found
