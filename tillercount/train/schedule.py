"""Time budget, learning rate, weight averaging and gradient exchange of a training run."""

from __future__ import annotations

import math
import os
import time
from collections.abc import Iterable

import torch
from torch import Tensor, nn

__all__ = ["Average", "Clock", "Group", "learning_rate"]


class Clock:
    """How far through its time budget a run is, earlier stints included.

    ``budget_s`` is the whole command's time from ``started_s`` (monotonic seconds) on: loading
    before training and the closing work after it (``reserve_s``) are taken out of it.
    ``later_s`` is the time of stints still to come, with which the run goes on.
    """

    def __init__(
        self, budget_s: float, started_s: float, reserve_s: float, earlier_s: float = 0.0,
        later_s: float = 0.0,
    ) -> None:
        now = time.monotonic()
        self._begin = now
        self._earlier, self._later = earlier_s, later_s
        self._here = max(1.0, budget_s - (now - started_s) - reserve_s)

    @property
    def trained_s(self) -> float:
        """Seconds of training so far, in all stints."""
        return self._earlier + time.monotonic() - self._begin

    @property
    def progress(self) -> float:
        """Share of the whole training time that has gone by, 0 to 1."""
        return min(1.0, self.trained_s / (self._earlier + self._here + self._later))

    @property
    def over(self) -> bool:
        """Whether this stint's time is up."""
        return time.monotonic() - self._begin >= self._here


def learning_rate(step: int, progress: float, peak: float, warmup: int = 200) -> float:
    """Linear warm-up over steps, then a cosine down to 1 % over the time budget."""
    rise = min(1.0, (step + 1) / warmup)
    fall = 0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * min(1.0, progress)))
    return peak * rise * fall


class Average:
    """Running average of a network's weights and statistics, kept in a copy of it."""

    def __init__(self, network: nn.Module, average: nn.Module, decay: float = 0.999) -> None:
        self.network = average
        self.decay = decay
        self.network.load_state_dict(network.state_dict())
        self.network.eval().requires_grad_(False)
        # asked for once: these share their memory with the networks
        ours, theirs = average.state_dict().values(), network.state_dict().values()
        pairs = list(zip(ours, theirs, strict=True))
        self._moving = [p for p in pairs if p[0].dtype.is_floating_point]
        self._numbers = [p for p in pairs if not p[0].dtype.is_floating_point]

    @torch.no_grad()
    def update(self, step: int) -> None:
        """Move towards the network; early on, faster."""
        keep = min(self.decay, (1 + step) / (10 + step))
        torch._foreach_lerp_([a for a, _ in self._moving], [b for _, b in self._moving], 1 - keep)
        if self._numbers:
            torch._foreach_copy_([a for a, _ in self._numbers], [b for _, b in self._numbers])


class Group:
    """The processes that train together; one process needs nothing of it."""

    def __init__(self) -> None:
        self.size = int(os.environ.get("WORLD_SIZE", "1"))
        self.rank = int(os.environ.get("RANK", "0"))
        self.local = int(os.environ.get("LOCAL_RANK", "0"))

    @classmethod
    def alone(cls) -> Group:
        """A group of this process only, whatever the others do."""
        group = cls()
        group.size, group.rank = 1, 0
        return group

    def join(self, device: torch.device) -> None:
        """Meet the others; after loading, so that forked readers never meet the device."""
        if self.size > 1:
            backend = "nccl" if device.type == "cuda" else "gloo"
            torch.distributed.init_process_group(backend)

    def leave(self) -> None:
        """Part in good order."""
        if self.size > 1:
            torch.distributed.destroy_process_group()

    def share(self, tensors: Iterable[Tensor]) -> None:
        """Give everyone the first process's values."""
        if self.size > 1:
            for tensor in tensors:
                torch.distributed.broadcast(tensor, 0)

    def mean(self, flat: Tensor) -> Tensor:
        """The mean over the group of a vector, in place."""
        if self.size > 1:
            torch.distributed.all_reduce(flat)
            flat /= self.size
        return flat
