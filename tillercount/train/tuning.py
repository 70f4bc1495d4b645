"""After training on scenes alone: short runs with real photos, side by side on all devices.

One run sees every real photo: its weights are the ones to finish and publish. Five more each
leave out the plots of one fold: what they say of those plots is what real photos of plots never
seen can be expected to give. All start from the same weights and use the scenes that their
process already holds, so nothing is read again.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tillercount.errors import InputError
from tillercount.train.closing import copy_weights
from tillercount.train.realphotos import FOLDS, load_real
from tillercount.train.run import Run
from tillercount.train.schedule import Clock, Group
from tillercount.train.validate import predict_real, real_summary

__all__ = ["JOBS", "Tuning", "check_can_tune", "tune"]

_COPY_EVERY = 300

JOBS: tuple[int | None, ...] = (None, *range(FOLDS))
"""The fold that each run leaves out; None leaves out nothing."""


@dataclass(frozen=True)
class Tuning:
    """Seconds of each run, share of real crops in a batch, peak learning rate."""

    seconds: float
    share: float
    rate: float


def tune(trained: Run, settings: Tuning, say: Callable[[str], None]) -> list[Path]:
    """Run this process's share of `JOBS`; returns the folders written, ``OUT/all``, ``OUT/fold0`` …

    Each folder receives ``weights.safetensors``, not yet calibrated, and, for a fold,
    ``real_held_out.json`` with the photos of the plots left out.

    Folds say what photos of plots never seen give only if the weights they start from saw none:
    `check_can_tune` first.
    """
    group = trained.group
    group.share(trained.average.network.state_dict().values())
    written = []
    for fold in JOBS[group.rank :: group.size]:
        written.append(_one(trained, fold, settings, say))
    return written


def check_can_tune(run: Run) -> None:
    """Whether runs with and without each fold will be able to start from this run's weights.

    Raises
    ------
    InputError
        No real photos were given, or the weights have seen some already.
    """
    if run.options.real is None:
        raise InputError("--tune-seconds needs real photos; give them with --real")
    if run.attribution:
        raise InputError(
            "--tune-seconds: the weights to start from have been trained on real photos, so "
            "no fold could be judged by photos never seen; give --real-share 0 and no such --init"
        )


def _one(trained: Run, fold: int | None, settings: Tuning, say: Callable[[str], None]) -> Path:
    name = "all" if fold is None else f"fold{fold}"
    folder = trained.options.out / name
    folder.mkdir(parents=True, exist_ok=True)
    wanted = {
        "out": folder, "fold": fold, "real_share": settings.share, "rate": settings.rate,
        "init": None, "resume": False,
        "compile": False,  # a run is over before that pays
    }
    options = argparse.Namespace(**{**vars(trained.options), **wanted})
    real = load_real(options.real, fold=fold)
    config = trained.network.config
    run = Run(options, trained.scenes, real, trained.device, Group.alone(), config)  # type: ignore[arg-type]
    run.begin_from(trained.average.network.state_dict())
    run.earlier = trained.stints
    clock = Clock(settings.seconds, time.monotonic(), 0.0)
    while not run.advance(clock.progress, clock.over):
        if run.step % 50 == 0:
            parts = {k: v / 50 for k, v in run.noted().items()}
            say(f"{name}: step {run.step}, " + " ".join(f"{k} {v:.3f}" for k, v in parts.items()))
        if run.step % _COPY_EVERY == 0:
            copy_weights(run)
    copy_weights(run)
    left_out = None if fold is None else load_real(options.real, fold=fold, training=False)
    if left_out is not None:
        photos = predict_real(run.average.network, left_out, run.device)
        text = json.dumps({"fold": fold, "photos": photos}, indent=1)
        (folder / "real_held_out.json").write_text(text, "utf-8")
        figures = ", ".join(f"{k} {v:.3f}" for k, v in real_summary(photos).items())
        say(f"{name}: {run.step} steps; plots left out: {figures}")
    else:
        say(f"{name}: {run.step} steps")
    return folder
