"""Training of the counting network.

    python -m tillercount.train.counter --data DIR [DIR ...] --out DIR --seconds 540

``--seconds`` is the time of the whole command: loading and the closing work are taken out of it.
Several GPUs: ``torchrun --nproc-per-node N -m tillercount.train.counter ...``. The folder ``out``
receives ``log.jsonl``, ``checkpoint.pt`` (for ``--resume``), ``counter.safetensors`` (the model)
and ``predictions.json`` (the scenes kept out of training).
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TextIO

import torch

from tillercount.errors import InputError
from tillercount.train.closing import close, copy_weights
from tillercount.train.data import (
    CANVAS_PX,
    SHOOTS_SUFFIX,
    Scenes,
    find_scenes,
    group_of,
    held_out,
    load_scenes,
)
from tillercount.train.realphotos import FOLDS, RealPhotos, load_real
from tillercount.train.run import Run
from tillercount.train.schedule import Clock, Group
from tillercount.train.tuning import Tuning, check_can_tune, tune
from tillercount.train.validate import predict_real, predict_scenes, real_summary, summary

__all__ = ["main", "train"]

_RESERVE_S = 40.0
_REPORTED = 150


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Train the counting network on scenes.")
    add = parser.add_argument
    add("--data", nargs="+", type=Path, required=True, help="folders of scenes, shards included")
    add("--real", type=Path, help="packed real photos with plant masks (.npz)")
    add("--out", type=Path, required=True, help="folder for the model, the log and checkpoints")
    add("--seconds", type=float, default=540.0, help="time of the whole command, s")
    add("--later", type=float, default=0.0, help="seconds of stints still to come, for the rate")
    add("--resume", action="store_true", help="go on from OUT/checkpoint.pt")
    add("--init", type=Path, help="start from the weights of this .safetensors model")
    add("--seed", type=int, default=0)
    add("--batch", type=int, default=24, help="crops per step and process, real ones included")
    add("--crop", type=int, default=640, help="side of a crop, px (a multiple of 32)")
    add("--canvas", type=int, default=CANVAS_PX, help="side of a top view, px (multiple of 32)")
    add("--canvas-out", type=int, default=1536, help="the same for scenes held out, px")
    add("--strength", type=float, default=1.0, help="how hard pictures are weathered, 0 to 1")
    add("--restyle", action="store_true", help="show some of it in foreign styles")
    add("--rate", type=float, default=1.5e-3, help="peak learning rate")
    add(
        "--real-share",
        type=float,
        default=0.22,
        help="share of real crops in a batch; 0: real photos are looked at, never trained on",
    )
    add("--fold", type=int, choices=range(FOLDS), help="plots of real photos kept from training")
    add("--held-out", type=float, default=0.06, help="share of stands kept from training")
    add("--workers", type=int, default=min(32, os.cpu_count() or 1), help="reading processes")
    add("--every", type=float, default=60.0, help="seconds between checkpoints and validations")
    add("--reserve", type=float, default=_RESERVE_S, help="seconds kept for the closing work")
    add("--weights-every", type=float, default=1e9, help="seconds between copies of the weights")
    add("--no-close", action="store_true", help="leave out the closing work: weights only")
    add("--views", type=int, default=1, help="mirrored views that a prediction averages: 1, 2, 4")
    add("--steps", type=int, default=10**9, help="stop after so many steps")
    add("--device", help="cpu, cuda or cuda:N; by default the first GPU, if any")
    add("--limit", type=int, help="use only so many scenes")
    add("--tune-seconds", type=float, default=0.0, help="then so long with real photos, six times")
    add("--tune-share", type=float, default=0.3, help="share of real crops while tuning")
    add("--tune-rate", type=float, default=6e-4, help="peak learning rate of tuning")
    add("--compile", action="store_true", help="let torch compile it all (a minute first)")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    try:
        train(_options(arguments))
    except InputError as error:
        print(f"error: {error}", flush=True)
        return 2
    return 0


def _device(name: str | None, group: Group) -> torch.device:
    if name:
        return torch.device(name)
    if torch.cuda.is_available():
        return torch.device("cuda", group.local)
    return torch.device("cpu")


def _split(paths: list[Path], share: float) -> tuple[list[Path], list[Path]]:
    """Scenes to train on, and scenes held out, by stand."""
    kept: list[Path] = []
    out: list[Path] = []
    for path in paths:
        (out if held_out(group_of(path), share) else kept).append(path)
    if not out and len(kept) > 1:
        out.append(kept.pop())
    if not kept:
        raise InputError("every scene is held out of training; give more scenes")
    return kept, out


def train(options: argparse.Namespace) -> Path:
    """Train as the options say; returns the path of the model written.

    Raises
    ------
    InputError
        Something given can't be used.
    """
    options.out.mkdir(parents=True, exist_ok=True)
    with (options.out / "log.jsonl").open("a", encoding="utf-8") as log:
        return _train(options, log)


def _train(options: argparse.Namespace, log: TextIO) -> Path:
    started = time.monotonic()
    group = Group()

    def say(text: str) -> None:
        if group.rank == 0:
            print(f"[{time.monotonic() - started:6.1f} s] {text}", flush=True)

    for name in ("crop", "canvas", "canvas_out"):
        if getattr(options, name) % 32:
            option = f"--{name.replace('_', '-')} {getattr(options, name)}"
            raise InputError(f"{option}: must be a multiple of 32")
    paths = find_scenes(options.data)
    if options.limit:
        paths = paths[: options.limit]
    kept, out = _split(paths, options.held_out)
    # Processes that train together share the cores, and each holds its part of the scenes.
    workers = max(1, options.workers // group.size)
    say(f"{len(kept)} scenes to train on, {len(out)} held out; {workers} reading processes")
    # Reading forks, which must come before the first touch of a GPU.
    mine = kept[group.rank :: group.size]
    scenes = load_scenes(
        mine, canvas_px=options.canvas, shift=True, stems=True, workers=workers, say=say
    )
    held = load_scenes(
        out if group.rank == 0 else out[:1], canvas_px=options.canvas_out, workers=workers, say=say
    )
    without = sum(not path.with_suffix(SHOOTS_SUFFIX).exists() for path in kept)
    if without:
        say(
            f"{without} of {len(kept)} scenes have no map of shoots: votes learn nothing from "
            "them; render them with --stems"
        )
    fold = options.fold
    real = load_real(options.real, fold=fold) if options.real else None
    real_out = load_real(options.real, fold=fold, training=False) if options.real else None
    if not options.real_share:
        real, real_out = None, real or real_out
    device = _device(options.device, group)
    if device.type == "cuda":
        if device.index is not None:
            torch.cuda.set_device(device)
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        torch.backends.cudnn.benchmark = True
    group.join(device)
    run = Run(options, scenes, real, device, group)
    say(
        f"{len(real.names) if real else 0} real photos to train on; on {device}, "
        f"{group.size} processes"
    )
    if options.tune_seconds:
        check_can_tune(run)
    run.start(say)
    clock = Clock(options.seconds, started, options.reserve, run.trained_s, options.later)
    next_check = time.monotonic() + options.every
    next_copy = time.monotonic() + options.weights_every
    mark, mark_step = time.monotonic(), run.step
    while True:
        ended = run.advance(clock.progress, clock.over) or run.step >= options.steps
        if ended:
            break
        if run.step % 50 == 0:
            sums = run.noted()
        if run.step % 50 == 0 and group.rank == 0:
            now = time.monotonic()
            speed = (run.step - mark_step) / max(now - mark, 1e-9)
            line = {k: round(v / (run.step - mark_step), 4) for k, v in sums.items()}
            text = " ".join(f"{k} {v:.3f}" for k, v in line.items())
            say(f"step {run.step} ({clock.progress:.0%}) {speed:.1f} it/s, {text}")
            record = {"step": run.step, "s": round(clock.trained_s, 1), "it_s": round(speed, 2)}
            print(json.dumps({**record, **line}), file=log, flush=True)
            mark, mark_step = now, run.step
        if time.monotonic() >= next_copy and group.rank == 0:
            next_copy = time.monotonic() + options.weights_every
            copy_weights(run)
        # Everyone checks the clock alike only by step; the first process alone does the work.
        if time.monotonic() >= next_check:
            next_check = time.monotonic() + options.every
            if group.rank == 0:
                run.save(clock.trained_s)
                _report(run, held, real_out, device, clock, say, log)
                mark, mark_step = time.monotonic(), run.step
                run.noted()
    run.noted()
    say(f"trained {run.step} steps; closing")
    model = options.out / "counter.safetensors"
    if group.rank == 0:
        copy_weights(run)
        run.save(clock.trained_s)
        _report(run, held, real_out, device, clock, say, log)
    # before the closing work, for which the other processes would have to wait
    if options.tune_seconds:
        tuning = Tuning(options.tune_seconds, options.tune_share, options.tune_rate)
        tune(run, tuning, lambda text: print(f"[card {group.rank}] {text}", flush=True))
    if group.rank == 0 and not options.no_close:
        close(
            run.average.network,
            (scenes, held),
            (real, real_out),
            device,
            options.out,
            {
                "steps": run.step,
                "stints": run.stints,
                "seconds": round(clock.trained_s, 1),
                "seed": options.seed,
                "fold": options.fold,
                "batch": options.batch,
                "crop_px": options.crop,
                "processes": group.size,
                "torch": torch.__version__,
                "skipped_steps": run.skipped,
            },
            views=options.views,
            attribution=run.attribution,
            say=say,
        )
    group.leave()
    return model


def _report(
    run: Run,
    held: Scenes,
    real_out: RealPhotos | None,
    device: torch.device,
    clock: Clock,
    say: Callable[[str], None],
    log: TextIO,
) -> None:
    records, table = predict_scenes(
        run.average.network, held, range(min(_REPORTED, len(held))), device
    )
    figures = summary(records, table)
    if real_out is not None:
        photos = predict_real(run.average.network, real_out, device)
        figures |= {f"real_{k}": v for k, v in real_summary(photos).items()}
        text = json.dumps({"fold": run.options.fold, "photos": photos}, indent=1)
        (run.options.out / "real_held_out.json").write_text(text, "utf-8")
    say("held out: " + ", ".join(f"{k} {v:.3f}" for k, v in figures.items()))
    line = {"step": run.step, "s": round(clock.trained_s, 1), "held_out": figures}
    print(json.dumps(line), file=log, flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
