"""How well a finder network does on photos that it wasn't trained on, while it is trained."""

from __future__ import annotations

from typing import Any

import torch
from torch.nn import functional as F

from tillercount.frame.network import FLAT, LONG_SIDE_PX, FinderNet, normalise
from tillercount.train.finder_data import ReducedScenes

__all__ = ["held_out_figures"]


@torch.no_grad()
def held_out_figures(net: FinderNet, scenes: ReducedScenes, long_side_px: int) -> dict[str, Any]:
    """Overlap of the inside map and share of kinds right, on unchanged held-out photos."""
    overlaps, flats, right = [], [], 0
    for i in range(len(scenes)):
        height, width = (int(v) for v in scenes.size[i])
        rgb = scenes.rgb[i : i + 1, :, :height, :width].float()
        planes = torch.cat([rgb, scenes.truth[i : i + 1, :, :height, :width].float()], 1)
        scale = long_side_px / LONG_SIDE_PX
        height, width = (int(v * scale) // 32 * 32 for v in (height, width))
        planes = F.interpolate(planes, (height, width), mode="bilinear", antialias=True)
        maps, kinds = net(normalise(planes[:, :3]))
        right += int(kinds[0, :FLAT].argmax() == scenes.kind[i])
        truth = F.avg_pool2d(planes[:, 3:] / 255, 2)[0]
        if scenes.flat[i] >= 0 and truth[0].sum() > 20:
            lath = (torch.sigmoid(maps[0, 4]) * truth[0]).sum() / truth[0].sum()
            flats.append(float((lath > 0.5) == (scenes.flat[i] > 0.5)))
        for m in (2, 3):
            if truth[m].sum() > 20:
                found = maps[0, m] > 0
                there = truth[m] > 0.5
                union = (found | there).sum().clamp(min=1)
                overlaps.append(float((found & there).sum() / union))
    overlaps.sort()
    n = max(1, len(overlaps))
    return {
        "photos": len(scenes),
        "kind_right": round(right / max(1, len(scenes)), 4),
        "flat_right": round(sum(flats) / max(1, len(flats)), 4),
        "inside_iou_mean": round(sum(overlaps) / n, 4),
        "inside_iou_lowest": [round(v, 3) for v in overlaps[:5]],
    }
