"""Network, optimiser, data and randomness of one training process, and one step of it."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from typing import Any

import torch
from torch import Generator, Tensor, nn

from tillercount.model.network import NetworkConfig, build
from tillercount.train.batches import Batch, RealStore, SceneStore
from tillercount.train.data import Scenes
from tillercount.train.objective import losses
from tillercount.train.realphotos import ATTRIBUTION, RealPhotos
from tillercount.train.restyle import restyle_features
from tillercount.train.schedule import Average, Group, learning_rate
from tillercount.train.weights import start_from

__all__ = ["Run"]

SHAPE = NetworkConfig(
    widths=(32, 64, 128, 224, 320), neck=96, counts=3, context=4, votes=8, looks=2, tally=32
)
"""Shape of a network that starts afresh."""
_CLIP = 5.0
_ASK_EVERY = 10
"""Steps between two questions to the group whether somebody's time is over."""


class Run:
    """Network, optimiser, data and randomness of one process."""

    def __init__(
        self,
        options: argparse.Namespace,
        scenes: Scenes | SceneStore,
        real: RealPhotos | None,
        device: torch.device,
        group: Group,
        config: NetworkConfig | None = None,
    ) -> None:
        """``config`` gives the shape of a network whose weights come later (`begin_from`)."""
        self.options, self.device, self.group = options, device, group
        # Without the processor's own instructions half precision is many times slower.
        self.half = device.type == "cuda" or "avx512_bf16" in _processor()
        torch.manual_seed(options.seed)
        self.attribution = ATTRIBUTION if real is not None else ""
        self.earlier: list[dict[str, Any]] = []
        self._checkpoint: dict[str, Any] | None = None
        self._weights: Mapping[str, Tensor] | None = None
        shape = config or self._starting_point()
        self.network = _placed(device, shape)
        self.average = Average(self.network, _placed(device, shape))
        if options.restyle:
            restyle_features(self.network.stages)  # type: ignore[arg-type]
        decay: list[nn.Parameter] = []
        plain: list[nn.Parameter] = []
        for parameter in self.network.parameters():
            (decay if parameter.ndim > 1 else plain).append(parameter)
        self.optimiser = torch.optim.AdamW(
            [{"params": decay, "weight_decay": 0.02}, {"params": plain, "weight_decay": 0.0}],
            lr=options.rate,
            fused=True,
        )
        self.forward: Callable[..., Any] = self.network
        self.losses = losses
        if options.compile:  # with the device's work recorded once and played back
            self.forward = torch.compile(self.network, mode="reduce-overhead")
            self.losses = torch.compile(losses)
        self.rng = Generator(device=device)
        self.rng.manual_seed(options.seed * 1009 + group.rank + 1)
        self.scenes = scenes if isinstance(scenes, SceneStore) else SceneStore(scenes, device)
        self.real = RealStore(real, device) if real is not None and len(real.names) else None
        self.step = self.skipped = 0
        self.trained_s = 0.0
        self.order = torch.zeros(0, dtype=torch.int64, device=device)
        self._sums: dict[str, Tensor] = {}
        self._lost: Tensor | None = None
        self._progress: float | None = None

    def _starting_point(self) -> NetworkConfig | dict[str, Any]:
        """Shape of the network; reads the checkpoint or the weights that it starts from."""
        checkpoint = self.options.out / "checkpoint.pt"
        if self.options.resume and checkpoint.exists():
            state = torch.load(checkpoint, map_location="cpu", weights_only=True)
            self._checkpoint = state
            self.attribution = self.attribution or str(state.get("attribution", ""))
            self.earlier = list(state.get("earlier", []))
            return dict(state["config"])
        if self.options.init:
            from tillercount.model.files import read_bundle

            bundle = read_bundle(self.options.init)
            self._weights = bundle.weights
            self.attribution = self.attribution or str(bundle.info.get("attribution", ""))
            before = bundle.info.get("training", {})
            # a bundle from before stints were kept says at least how long its last one was
            self.earlier = list(before.get("stints", [{"steps": before.get("steps")}]))
            gained = ("counts", "votes", "looks", "tally")
            return {**bundle.info["config"], **{k: getattr(SHAPE, k) for k in gained}}
        return SHAPE

    def start(self, say: Callable[[str], None]) -> None:
        """Fresh, from a model's weights, or from a checkpoint; the same in every process."""
        options, state = self.options, self._checkpoint
        if state is not None:
            self.network.load_state_dict(state["network"])
            self.average.network.load_state_dict(state["average"])
            self.optimiser.load_state_dict(state["optimiser"])
            self.step, self.trained_s = int(state["step"]), float(state["trained_s"])
            self.skipped = int(state.get("skipped", 0))
            self.rng.manual_seed(options.seed * 1009 + self.group.rank + 1 + 7919 * self.step)
            say(f"going on from step {self.step}, {self.trained_s:.0f} s trained")
        else:
            if options.resume:
                say(f"no {options.out / 'checkpoint.pt'} yet; starting anew")
            if self._weights is not None:
                start_from(self.network, self._weights, f"--init {options.init}")
                self.begin_from(self.network.state_dict())
                say(f"weights of {options.init}")
        self._checkpoint = self._weights = None
        self.group.share(self.network.state_dict().values())
        self.group.share(self.average.network.state_dict().values())

    @property
    def stints(self) -> list[dict[str, Any]]:
        """What these weights were trained on, stint by stint; a stint begins from weights."""
        real = 0 if self.real is None or not self.options.real_share else len(self.real)
        return [
            *self.earlier,
            {
                "steps": self.step,
                "crops": self.step * self.options.batch * self.group.size,
                "scenes": len(self.scenes) * self.group.size,
                "real_photos": real,
            },
        ]

    def begin_from(self, weights: Mapping[str, Tensor]) -> None:
        """Start from the weights of a network of the same shape."""
        self.network.load_state_dict(weights)
        self.average.network.load_state_dict(weights)

    def save(self, trained_s: float) -> None:
        """Write the checkpoint in one go."""
        path = self.options.out / "checkpoint.pt"
        state = {
            "config": self.network.config.as_dict(),  # type: ignore[operator,union-attr]
            "network": self.network.state_dict(),
            "average": self.average.network.state_dict(),
            "optimiser": self.optimiser.state_dict(),
            "step": self.step,
            "trained_s": trained_s,
            "skipped": self.skipped,
            "earlier": self.earlier,
            "attribution": self.attribution,
        }
        torch.save(state, path.with_suffix(".part"))
        path.with_suffix(".part").replace(path)

    def batch(self) -> Batch:
        """The next random batch."""
        n, crop, how = self.options.batch, self.options.crop, self.options
        m = round(n * self.options.real_share) if self.real is not None else 0
        while len(self.order) < n - m:
            many = len(self.scenes)
            shuffled = torch.randperm(many, generator=self.rng, device=self.device)
            self.order = torch.cat([self.order, shuffled])
        index, self.order = self.order[: n - m], self.order[n - m :]
        with torch.no_grad():
            images, targets = self.scenes.crops(
                index, crop, self.rng, how.strength, self.step, how.restyle
            )
            if not m or self.real is None:
                return Batch(images, targets, None)
            index = self.real.choose(m, self.rng)
            more, known = self.real.crops(
                index, crop, self.rng, how.strength, self.step, how.restyle
            )
            return Batch(torch.cat([images, more]), targets, known)

    def advance(self, progress: float, stop: bool) -> bool:
        """One step; whether the group agrees to stop, which it asks itself only now and then.

        No value of the loss is looked at, so that the next batch can be made while this one is
        worked on. A step with gradients that aren't finite is left out and counted.
        """
        self.network.train()
        batch = self.batch()
        images = batch.images.contiguous(memory_format=torch.channels_last)
        with torch.autocast(self.device.type, torch.bfloat16, enabled=self.half):
            output = self.forward(images)
        parts = self.losses(output, batch)
        total = torch.stack(list(parts.values())).sum()
        self.optimiser.zero_grad(set_to_none=True)
        total.backward()  # type: ignore[no-untyped-call]
        norm, agreed = self._share_gradients(stop, progress)
        if self.group.size == 1 or self._progress is None:
            self._progress = progress
        for settings in self.optimiser.param_groups:
            settings["lr"] = learning_rate(self.step, self._progress, self.options.rate)
        self._move(torch.isfinite(norm))
        self.average.update(self.step)
        self._note(dict(zip([*parts, "norm"], [*(v.detach() for v in parts.values()), norm],
                            strict=True)))
        self.step += 1
        if self.group.size == 1:
            return stop
        if self.step % _ASK_EVERY:
            return False
        # All processes learn at the rate of their mean progress, or their weights would part.
        wishes, self._progress = agreed.tolist()
        return wishes > 0

    def _move(self, good: Tensor) -> None:
        """A step of the optimiser, unless the gradients aren't finite.

        The fused optimiser looks at that on the device, as it does for scaled gradients.
        """
        self.optimiser.found_inf = (~good).float()  # type: ignore[attr-defined]
        self.optimiser.step()

    def _share_gradients(self, stop: bool, progress: float) -> tuple[Tensor, Tensor]:
        """Mean gradients of the group, clipped; their norm; mean wish to stop and mean progress."""
        grads = [p.grad for p in self.network.parameters() if p.grad is not None]
        own = [grads[0].new_full((1,), float(value)) for value in (stop, progress)]
        flat = self.group.mean(torch.cat([g.flatten() for g in grads] + own))
        mean, agreed = flat[:-2], flat[-2:]
        norm = torch.linalg.vector_norm(mean)
        mean = mean * (_CLIP / (norm + 1e-6)).clamp(max=1.0)
        pieces = torch.split(mean, [g.numel() for g in grads])
        torch._foreach_copy_(grads, [m.view(g.shape) for m, g in zip(pieces, grads, strict=True)])
        return norm, agreed

    def _note(self, values: dict[str, Tensor]) -> None:
        for name, value in values.items():
            finite = torch.nan_to_num(value, 0.0, 0.0, 0.0)
            self._sums[name] = finite + self._sums.get(name, 0.0)
        lost = (~torch.isfinite(values["norm"])).to(torch.int64)
        self._lost = lost if self._lost is None else self._lost + lost

    def noted(self) -> dict[str, float]:
        """Sums of the parts of the loss since this was last asked; waits for the device.

        Raises
        ------
        RuntimeError
            Most steps so far had gradients that aren't finite.
        """
        sums = {name: float(value) for name, value in self._sums.items()}
        self._sums = {}
        lost = int(self._lost) if self._lost is not None else 0
        self._lost = None
        if lost:
            self.skipped += lost
            print(f"step {self.step}: {lost} steps not finite ({self.skipped} so far)", flush=True)
            if self.skipped > 200 and self.skipped > self.step // 2:
                raise RuntimeError("most steps aren't finite: lower --rate")
            if not all(torch.isfinite(b).all() for b in self.network.buffers()):
                raise RuntimeError(
                    "the network's running means aren't finite any more: go on from the last "
                    "checkpoint with --resume and a lower --rate"
                )
        return sums


def _processor() -> str:
    """What the processor can do, where the system says so."""
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:
            return file.read(20_000)
    except OSError:
        return ""


def _placed(device: torch.device, config: NetworkConfig | dict[str, Any]) -> nn.Module:
    network: nn.Module = build(config).to(device)
    network.to(memory_format=torch.channels_last)  # type: ignore[call-overload]
    return network
