"""A small network with random weights, in a bundle of its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch

from tillercount.model.calibrate import Calibration
from tillercount.model.files import write_bundle
from tillercount.model.network import NetworkConfig, build
from tillercount.model.novelty import Novelty

SMALL = NetworkConfig(widths=(8, 8, 8, 16, 16), blocks=1, neck=8)


@dataclass(frozen=True)
class FakeView:
    """What the counter needs of a top view."""

    rgb: np.ndarray
    valid: np.ndarray
    mm_per_px: float = 0.4


def make_bundle(
    path: Path, *, calibrated: bool = True, config: NetworkConfig = SMALL
) -> Path:
    torch.manual_seed(0)
    network = build(config)
    rng = np.random.default_rng(0)
    info = {
        "name": "small",
        "version": "0",
        "config": config.as_dict(),
        "input": {"mm_per_px": 0.4, "mean": [0.4, 0.4, 0.3], "std": [0.2, 0.2, 0.2]},
        "classes": ["soil", "residue", "crop", "other plants", "frame"],
        "tiles": {"tile_px": 512, "overlap_px": 64, "views": 1},
        "thresholds": {"plant": 0.3, "shoot": 0.3},
        "licence": "Apache-2.0",
        "attribution": "",
        "trained_on": ["nothing: random weights"],
        "training": {},
        "calibration": {},
        "novelty": {},
    }
    extra = {}
    if calibrated:
        true = rng.uniform(1, 60, 80)
        guess = true * np.exp(rng.normal(0, 0.1, 80))
        fitted = Calibration.fit(guess, guess, np.round(true), "made-up counts").as_dict()
        info["calibration"] = {"plants": fitted, "shoots": fitted}
        novelty = Novelty.fit(
            rng.normal(size=(60, SMALL.embedding)), rng.normal(size=(60, SMALL.embedding))
        )
        info["novelty"] = {**novelty.numbers(), "refuse_from": 4.0}
        extra = novelty.tensors()
    write_bundle(path, network.state_dict(), info, extra)
    return path
