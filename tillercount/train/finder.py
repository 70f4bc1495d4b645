"""Train the finder network: ``python -m tillercount.train.finder --data DIR --out DIR``.

Half of every batch are views of scenes with their own frame, half are frames drawn over scenes
without one (or over the ground inside a frame). Everything lies on one accelerator as bytes and
is turned, recoloured and weathered there. A checkpoint is kept, so that a run cut short goes on
with ``--resume``; the weights of the moving average are what is written.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import time
from collections.abc import Sequence
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from tillercount.frame.network import (
    KINDS,
    LONG_SIDE_PX,
    MAPS,
    MEAN,
    NECK,
    STD,
    WIDTHS,
    FinderNet,
    normalise,
)
from tillercount.train.finder_data import CANVAS_PX, ReducedScenes, load_scenes
from tillercount.train.finder_figures import held_out_figures
from tillercount.train.finder_loss import finder_loss
from tillercount.train.finder_paint import paint_frames
from tillercount.train.finder_views import Dice, add_leaves, recolour_tubes, take_views, weather
from tillercount.train.weights import start_from

__all__ = ["main", "train_finder", "write_weights"]

HELD_OUT_EVERY = 25
EMA_DECAY = 0.998
PEAK_RATE = 3e-3


def train_finder(
    scenes: ReducedScenes,
    out: Path,
    *,
    seconds: float,
    batch: int = 48,
    resume: bool = False,
    stint_s: float = math.inf,
    seed: int = 1,
    checkpoint_every_s: float = 45.0,
    say_every: int = 50,
    canvas_px: tuple[int, int] = CANVAS_PX,
    init: Path | None = None,
    peak_rate: float = PEAK_RATE,
) -> Path:
    """Train for so many seconds in all and write ``finder.safetensors``; returns its path.

    Parameters
    ----------
    scenes : ReducedScenes
        All photos; every 25th is held out for the figures printed.
    out : Path
        Folder for the checkpoint, the weights and ``finder.json`` (figures).
    seconds : float
        Time of training in all, earlier and later stints of a resumed run counted in.
    stint_s : float
        Stop after so many seconds of this stint, to be resumed.
    init : Path, optional
        Weights to start from; maps that they lack start from chance.
    """
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    out.mkdir(parents=True, exist_ok=True)
    held = [i for i in range(len(scenes)) if i % HELD_OUT_EVERY == HELD_OUT_EVERY - 1]
    kept = [i for i in range(len(scenes)) if i % HELD_OUT_EVERY != HELD_OUT_EVERY - 1]
    held_out = scenes.subset((held or kept[-1:])[:100]).to(device)
    scenes = scenes.subset(kept).to(device)
    torch.manual_seed(seed)
    net = FinderNet().to(device)
    if init is not None:
        from tillercount.model.files import read_bundle

        start_from(net, read_bundle(init).weights, str(init))
    net.to(memory_format=torch.channels_last)  # type: ignore[call-overload]
    average = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=peak_rate, weight_decay=0.02)
    step, spent = 0, 0.0
    saved = out / "finder_checkpoint.pt"
    if resume and saved.exists():
        state = torch.load(saved, map_location=device, weights_only=True)
        net.load_state_dict(state["net"])
        average.load_state_dict(state["average"])
        optimiser.load_state_dict(state["optimiser"])
        step, spent = int(state["step"]), float(state["spent"])
        print(f"going on from step {step}, {spent:.0f} s spent", flush=True)
    dice = Dice(device, seed + step)
    begun, last_saved, running = time.monotonic() - spent, time.monotonic(), 0.0
    until = min(seconds, spent + stint_s)
    net.train()
    while (elapsed := time.monotonic() - begun) < until:
        share = min(1.0, elapsed / seconds)
        for group in optimiser.param_groups:
            group["lr"] = peak_rate * min(1.0, (step + 1) / 100) * _cosine(share)
        shape = canvas_px if step % 3 else canvas_px[::-1]
        rgb, *target = _batch(scenes, dice, batch, shape)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            maps, kinds = net(normalise(rgb * 255).contiguous(memory_format=torch.channels_last))
        loss = finder_loss(maps.float(), kinds.float(), *target)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()  # type: ignore[no-untyped-call]
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        _follow(average, net, min(EMA_DECAY, (1 + step) / (10 + step)))
        step += 1
        if step % say_every == 0:
            running = float(loss.detach())
            print(f"step {step}  {elapsed:.0f} s  loss {running:.4f}", flush=True)
        if time.monotonic() - last_saved > checkpoint_every_s:
            last_saved = time.monotonic()
            _save(saved, net, average, optimiser, step, last_saved - begun)
            figures = held_out_figures(average, held_out, max(canvas_px))
            print(f"step {step}  held out {figures}", flush=True)
    _save(saved, net, average, optimiser, step, time.monotonic() - begun)
    figures = held_out_figures(average, held_out, max(canvas_px))
    print(f"done at step {step}: held out {figures}", flush=True)
    (out / "finder.json").write_text(
        json.dumps({"steps": step, "scenes": len(kept), "held_out": figures}, indent=1) + "\n"
    )
    return write_weights(
        average,
        out / "finder.safetensors",
        steps=step,
        scenes=len(kept),
        long_side_px=max(canvas_px),
    )


def _save(
    path: Path, net: nn.Module, average: nn.Module, optimiser: torch.optim.Optimizer, step: int,
    spent_s: float,
) -> None:
    """Write the checkpoint in one go."""
    state = {
        "net": net.state_dict(),
        "average": average.state_dict(),
        "optimiser": optimiser.state_dict(),
        "step": step,
        "spent": spent_s,
    }
    torch.save(state, path.with_suffix(".part"))
    path.with_suffix(".part").replace(path)


def write_weights(
    net: FinderNet, path: Path, *, steps: int, scenes: int, long_side_px: int = LONG_SIDE_PX
) -> Path:
    """Write the weights as half-precision safetensors with what a reader needs beside them."""
    from tillercount.model.files import write_bundle

    about = {
        "what": "finder",
        "version": 1,
        "maps": list(MAPS),
        "kinds": list(KINDS),
        "widths": list(WIDTHS),
        "neck": NECK,
        "long_side_px": long_side_px,
        "mean": MEAN,
        "std": STD,
        "steps": steps,
        "scenes": scenes,
    }
    write_bundle(path, net.state_dict(), about)
    return path


def _cosine(share: float) -> float:
    return 0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * share))


def _batch(
    scenes: ReducedScenes, dice: Dice, batch: int, shape: tuple[int, int]
) -> tuple[Tensor, Tensor, Tensor, Tensor, Tensor, Tensor]:
    """One batch: rgb, truth at half size, weight per map, kind, flat, valid at half size."""
    everything = torch.arange(len(scenes), device=dice.device)
    half = batch // 2
    own = dice.pick(everything, half)
    rgb, truth, valid = take_views(scenes, own, dice, shape)
    rgb = recolour_tubes(rgb, truth[:, :2].amax(1, keepdim=True).clamp(0, 1), dice)
    kind, weight = scenes.kind[own].clone(), torch.ones(half, 4, device=dice.device)
    # a frame that the view cuts off too much isn't one that must be found
    area = (truth[:, 2] * valid[:, 0]).mean((1, 2))
    kind[
        (scenes.kind[own] != KINDS.index("none"))
        & (scenes.kind[own] != KINDS.index("row"))
        & (area < 0.04)
    ] = -100
    bare = everything[scenes.kind == KINDS.index("none")]
    grounds = dice.pick(everything, batch - half)
    if len(bare):
        from_bare = dice.chance(0.6, batch - half) > 0
        grounds = torch.where(from_bare, dice.pick(bare, batch - half), grounds)
    ground, _, _ = take_views(scenes, grounds, dice, shape, free=True)
    painted = paint_frames(ground, dice)
    rgb = torch.cat([rgb, painted.rgb])
    truth = torch.cat([truth, painted.truth])
    weight = torch.cat([weight, painted.weight])
    kind = torch.cat([kind, painted.kind])
    flat = torch.cat([scenes.flat[own], painted.flat])
    valid = torch.cat([valid, torch.ones_like(painted.rgb[:, :1])])
    rgb, seen = add_leaves(rgb, truth[:, :2], dice)
    truth = torch.cat([seen, truth[:, 2:]], 1)
    return weather(rgb, dice), F.avg_pool2d(truth, 2), weight, kind, flat, F.avg_pool2d(valid, 2)


@torch.no_grad()
def _follow(average: nn.Module, net: nn.Module, decay: float) -> None:
    """Move the average towards the network, running statistics too."""
    ours, theirs = average.state_dict(), net.state_dict()
    floats = [k for k, v in ours.items() if v.is_floating_point()]
    torch._foreach_lerp_([ours[k] for k in floats], [theirs[k] for k in floats], 1 - decay)
    for name, value in ours.items():
        if not value.is_floating_point():
            value.copy_(theirs[name])


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line of the training."""
    parser = argparse.ArgumentParser(prog="python -m tillercount.train.finder")
    parser.add_argument("--data", nargs="+", type=Path, required=True, help="folders of scenes")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=210.0)
    parser.add_argument("--stint", type=float, default=math.inf, help="stop after so many s")
    parser.add_argument("--batch", type=int, default=48)
    parser.add_argument(
        "--long-side", type=int, default=LONG_SIDE_PX, help="of the photos trained on, px"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=int, default=None, help="use so many scenes only")
    parser.add_argument("--say-every", type=int, default=50)
    parser.add_argument("--resume", action="store_true")
    parser.add_argument("--init", type=Path, help="start from the weights of this .safetensors")
    parser.add_argument("--rate", type=float, default=PEAK_RATE, help="peak learning rate")
    given = parser.parse_args(arguments)
    begun = time.monotonic()
    scenes = load_scenes(given.data, limit=given.limit)
    counts = {name: int((scenes.kind == i).sum()) for i, name in enumerate(KINDS)}
    print(f"{len(scenes)} scenes {counts} read in {time.monotonic() - begun:.1f} s", flush=True)
    path = train_finder(
        scenes,
        given.out,
        seconds=given.seconds,
        batch=given.batch,
        resume=given.resume,
        stint_s=given.stint,
        seed=given.seed,
        say_every=given.say_every,
        canvas_px=(given.long_side * 3 // 4 // 32 * 32, given.long_side),
        init=given.init,
        peak_rate=given.rate,
    )
    print(f"weights in {path}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
