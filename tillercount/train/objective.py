"""What a batch is learnt by: the parts of the loss, weighted."""

from __future__ import annotations

from typing import Any

import torch
from torch import Tensor

from tillercount.train.batches import Batch
from tillercount.train.losses import (
    block_counts,
    count_loss,
    mask_loss,
    other_loss,
    point_loss,
    spread_loss,
    stem_loss,
    surface_loss,
)

__all__ = ["losses"]


def losses(output: dict[str, Any], batch: Batch) -> dict[str, Tensor]:
    """The parts of the loss, already weighted."""
    n, targets = batch.scenes, batch.targets
    rate, spread = output["rate"][:n], output["spread"][:n]
    kinds, rows, columns = rate.shape[1:]
    wanted = block_counts(targets.points, targets.kind, rows, columns, kinds)
    heat, offset = point_loss(
        output["heat"][:n], output["offset"][:n], output["to_plant"][:n], targets
    )
    parts = {
        "surface": surface_loss(output["classes"][:n], targets.classes),
        "heat": heat,
        "offset": 0.2 * offset,
        "count": count_loss(output.get("looked", rate)[:n, :2], wanted[:, :2], targets.shown),
        "spread": 0.1 * spread_loss(rate[:, :2], spread, wanted[:, :2], targets.shown),
    }
    if "stems" in output:
        parts["stems"] = 0.5 * stem_loss(torch.stack(output["stems"])[:, :n], targets)
    if "tally" in output:
        parts["tally"] = count_loss(output["tally"][:n], wanted[:, :2], targets.shown)
    if rate.shape[1] > 2:
        parts["others"] = 0.3 * other_loss(rate[:, 2], wanted[:, 2], targets.shown)
    if batch.real is not None:
        real = batch.real
        parts["real"] = mask_loss(output["classes"][n:], real.plant)
        both = [output[k][n:, :1] for k in ("looked", "tally") if k in output]
        each = [
            count_loss(seen, real.read[:, None], real.judged)
            for seen in both or [output["rate"][n:, :1]]
        ]
        parts["read"] = 0.5 * torch.stack(each).sum()
    return parts
