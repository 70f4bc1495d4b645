"""What the finder network is trained for: its maps, the kind of frame, lath or pipe."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional as F

from tillercount.frame.network import FLAT

__all__ = ["finder_loss"]


def finder_loss(
    maps: Tensor,
    kinds: Tensor,
    truth: Tensor,
    weight: Tensor,
    kind: Tensor,
    flat: Tensor,
    valid: Tensor,
) -> Tensor:
    """Cross-entropy that minds the edges, overlap of each map, and the kind of frame."""
    soft = F.max_pool2d(truth, 7, 1, 3) + F.max_pool2d(-truth, 7, 1, 3)  # 1 near every edge
    care = valid * weight[:, :, None, None] * (1 + 3 * soft)
    maps, lath_map = maps[:, :4], maps[:, 4]
    cross = F.binary_cross_entropy_with_logits(maps, truth, reduction="none")
    loss = (cross * care).sum() / care.sum().clamp(min=1)
    found = torch.sigmoid(maps) * valid
    there = truth * valid
    both = (found * there).sum((2, 3))
    dice = 1 - (2 * both + 50) / (found.sum((2, 3)) + there.sum((2, 3)) + 50)
    loss = loss + 0.5 * (dice * weight).sum() / weight.sum().clamp(min=1)
    if bool((kind >= 0).any()):
        loss = loss + 0.15 * F.cross_entropy(kinds[:, :FLAT], kind, ignore_index=-100)
    known = (flat >= 0).float()
    # lath or pipe is asked on the frame's own pixels only
    on_frame = truth[:, 0] * valid[:, 0] * known[:, None, None]
    wanted = flat.clamp(min=0)[:, None, None].expand_as(lath_map)
    cross = F.binary_cross_entropy_with_logits(lath_map, wanted, reduction="none")
    loss = loss + 0.2 * (cross * on_frame).sum() / on_frame.sum().clamp(min=1)
    lath = F.binary_cross_entropy_with_logits(kinds[:, FLAT], flat.clamp(min=0), reduction="none")
    return loss + 0.1 * (lath * known).sum() / known.sum().clamp(min=1)
