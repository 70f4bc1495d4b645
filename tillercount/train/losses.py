"""Targets drawn from points, and the losses that compare the network's outputs with them.

Points are in crop pixels (centre of the top-left pixel is (0, 0)). All losses are computed in
float32, whatever the network ran in.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
import torch.nn.functional as F
from torch import Tensor

from tillercount.train.augment import constant

__all__ = [
    "Targets",
    "block_counts",
    "block_sums",
    "count_loss",
    "heat_targets",
    "mask_loss",
    "other_loss",
    "point_loss",
    "spread_loss",
    "stem_loss",
    "surface_loss",
]

BLOCK_PX = 16
CELL_PX = 4
SIGMA_CELLS = 1.5
_FAR_CELLS = 96.0
_NEAR_CELLS = 2.0
_BY_WAY = 0.2
# Crop and other plants cover less of most photos than soil does; they matter more.
CLASS_WEIGHT = (1.0, 1.5, 2.0, 3.0, 1.5)


@dataclass(frozen=True)
class Targets:
    """Truth of a batch of n crops.

    ``classes`` (n, H/2, W/2) long, above 4 where not judged; ``points`` (n, P, 2);
    ``kind`` (n, P) 0 plant, 1 shoot, 2 another plant, -1 filler; ``visible`` (n, P) share;
    ``owner`` (n, P, 2), base of the plant that a shoot belongs to; ``shown`` (n, H/16, W/16), 1
    where the photo shows the whole block; ``stems`` (n, H/4, W/4) long, the row of points that
    holds the shoot whose leaf is there, -1 where nobody's or not known; None: never known.
    """

    classes: Tensor
    points: Tensor
    kind: Tensor
    visible: Tensor
    owner: Tensor
    shown: Tensor
    stems: Tensor | None = None


def block_counts(
    points: Tensor, kind: Tensor, rows: int, columns: int, kinds: int = 2
) -> Tensor:
    """Points of each kind per block (n, kinds, rows, columns), shared between neighbours."""
    weight = torch.stack([(kind == k).float() for k in range(kinds)], 1)
    return block_sums(points, weight, rows, columns)


def block_sums(points: Tensor, weight: Tensor, rows: int, columns: int) -> Tensor:
    """Sums per block (n, K, rows, columns) of points (n, P, 2) with weights (n, K, P).

    A base counts in the four blocks whose centres surround it, by bilinear weights: a base near
    the edge of a block is then no leap for the network, and sums over regions stay right.
    """
    n = len(points)
    kinds = weight.shape[1]
    total = points.new_zeros((n, kinds, rows * columns))
    u = (points - (BLOCK_PX - 1) / 2) / BLOCK_PX
    first = u.floor()
    part = u - first
    for dy in (0, 1):
        for dx in (0, 1):
            x, y = first[..., 0] + dx, first[..., 1] + dy
            wx = part[..., 0] if dx else 1 - part[..., 0]
            wy = part[..., 1] if dy else 1 - part[..., 1]
            ok = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
            where = (y.clamp(0, rows - 1) * columns + x.clamp(0, columns - 1)).long()
            part_here = torch.where(ok, wx * wy, torch.zeros_like(wx))[:, None] * weight
            total.scatter_add_(2, where[:, None].expand(-1, kinds, -1), part_here)
    return total.view(n, kinds, rows, columns)


def heat_targets(targets: Targets, rows: int, columns: int) -> tuple[Tensor, Tensor]:
    """Bumps (n, 2, rows, columns), 1 at the cell of each visible base; and which points they are.

    The second result (n, P) is true for points that are visible and lie on the crop.
    """
    points, kind = targets.points, targets.kind
    n = len(points)
    cell = torch.floor((points + 0.5) / CELL_PX)
    on = (
        (cell[..., 0] >= 0) & (cell[..., 0] < columns) & (cell[..., 1] >= 0) & (cell[..., 1] < rows)
    )
    used = on & (kind >= 0) & (kind <= 1) & (targets.visible >= 0.02)
    where = _cell_number(cell, used, rows, columns) + (kind == 1) * (rows * columns)
    dots = points.new_zeros((n, 2 * rows * columns))
    dots.scatter_reduce_(1, where, used.float(), "amax")
    # A bump is a product of one along and one across, so the highest of all bumps at a cell is
    # found by the one, then the other.
    reach = 4
    step = torch.arange(-reach, reach + 1, device=points.device)
    bump = torch.exp(-(step**2).float() / (2 * SIGMA_CELLS**2))
    heat = F.pad(dots.view(n, 2, rows, columns), (reach,) * 4)
    heat = (heat.unfold(3, 2 * reach + 1, 1) * bump).amax(-1)
    heat = (heat.unfold(2, 2 * reach + 1, 1) * bump).amax(-1)
    return heat, used


def _cell_number(cell: Tensor, used: Tensor, rows: int, columns: int) -> Tensor:
    """Number (n, P) of each point's cell; fillers get any cell, each another one.

    Thousands of them at the same cell would be written there one after the other.
    """
    x, y = cell[..., 0].clamp(0, columns - 1), cell[..., 1].clamp(0, rows - 1)
    filler = torch.arange(cell.shape[1], device=cell.device) % (rows * columns)
    return torch.where(used, (y * columns + x).long(), filler)


def point_loss(
    heat: Tensor, offset: Tensor, to_plant: Tensor, targets: Targets
) -> tuple[Tensor, Tensor]:
    """Penalty-reduced focal loss of the bumps (Law and Deng 2018), and L1 of the offsets.

    Cells that the photo doesn't show are left out.
    """
    n, _, rows, columns = heat.shape
    bumps, used = heat_targets(targets, rows, columns)
    shown = F.interpolate(targets.shown[:, None], (rows, columns), mode="nearest")
    sure = bumps > 0.999
    p = heat.sigmoid()
    hit = F.logsigmoid(heat) * (1 - p) ** 2
    miss = F.logsigmoid(-heat) * p**2 * (1 - bumps) ** 4
    focal = -(torch.where(sure, hit, miss) * shown).sum() / (sure.sum() + n)

    points = targets.points
    cell = torch.floor((points + 0.5) / CELL_PX)
    where = _cell_number(cell, used, rows, columns)
    middle = cell * CELL_PX + (CELL_PX - 1) / 2
    is_shoot = (targets.kind == 1) & used
    many = used.sum() + n
    both = _at(offset, where)
    mine = torch.where(is_shoot[..., None], both[..., 2:], both[..., :2])
    near = (mine - (points - middle) / CELL_PX).abs() * used[..., None]
    wanted = ((targets.owner - middle) / CELL_PX).clamp(-20, 20)
    far = F.smooth_l1_loss(_at(to_plant, where), wanted, reduction="none") * is_shoot[..., None]
    return focal, near.sum() / many + 0.1 * far.sum() / many


def stem_loss(votes: Tensor, targets: Targets) -> Tensor:
    """How far leaves' votes (n, 4, h, w) fall from the bases of their plant and their shoot; the
    mean where there are several (m, n, 4, h, w).

    The distance that is missed (L1) goes by the way there: where a leaf's tip hangs, an inch is
    less than close to the base. Every crop with leaves counts alike.
    """
    stems = targets.stems
    if stems is None:
        return votes.sum() * 0.0
    rows, columns = stems.shape[1:]
    known = (stems >= 0).flatten(1)
    row = stems.clamp(min=0).flatten(1)[..., None].expand(-1, -1, 2)
    both = torch.cat([targets.owner.gather(1, row), targets.points.gather(1, row)], 2)
    line_y = torch.arange(rows, device=votes.device).float()
    line_x = torch.arange(columns, device=votes.device).float()
    y, x = torch.meshgrid(line_y, line_x, indexing="ij")
    here = torch.stack([x, y], -1).view(1, -1, 2) * CELL_PX + (CELL_PX - 1) / 2
    wanted = ((both - here.repeat(1, 1, 2)) / CELL_PX).clamp(-_FAR_CELLS, _FAR_CELLS)
    missed = (votes.flatten(-2).transpose(-1, -2) - wanted).abs()
    off = torch.stack([missed[..., :2].sum(-1), missed[..., 2:].sum(-1)], -1)
    way = torch.stack([wanted[..., :2].norm(dim=-1), wanted[..., 2:].norm(dim=-1)], -1)
    share = off / (_NEAR_CELLS + _BY_WAY * way)
    each = (share.sum(-1) * known).sum(-1) / known.sum(1).clamp(min=1)
    return (each.sum(-1) / known.any(1).sum().clamp(min=1)).mean()


def _at(maps: Tensor, where: Tensor) -> Tensor:
    """Values (n, P, C) of maps (n, C, rows, columns) at cell numbers (n, P)."""
    n, channels = maps.shape[:2]
    index = where[:, None].expand(-1, channels, -1)
    return maps.reshape(n, channels, -1).gather(2, index).transpose(1, 2)


def count_loss(rate: Tensor, wanted: Tensor, shown: Tensor) -> Tensor:
    """Poisson likelihood of each block, and errors of sums over ever larger windows.

    Errors of sums are divided by the root of the true sum, their natural size, from 13 mm
    windows to the whole crop; for the whole crop the relative error counts too, since the count
    of the marked area is what the network is for.
    """
    mask = shown[:, None]
    rate, wanted = rate * mask, wanted * mask
    loss = _poisson(rate, wanted, mask)
    for size in (2, 4, 8, 16):
        if min(rate.shape[-2:]) < size:
            break
        area = size * size
        p = F.avg_pool2d(rate, size, max(1, size // 2)) * area
        t = F.avg_pool2d(wanted, size, max(1, size // 2)) * area
        loss = loss + 0.5 * F.smooth_l1_loss(p / (t + 1).sqrt(), t / (t + 1).sqrt())
    p, t = rate.sum((2, 3)), wanted.sum((2, 3))
    loss = loss + 0.5 * F.smooth_l1_loss(p / (t + 1).sqrt(), t / (t + 1).sqrt())
    return loss + 2.0 * F.smooth_l1_loss((p + 1).log(), (t + 1).log(), beta=0.1)


def _poisson(rate: Tensor, wanted: Tensor, shown: Tensor) -> Tensor:
    """Negative log-likelihood of the blocks shown, per thing that is there."""
    likelihood = (rate - wanted * torch.log(rate + 1e-6)) * shown
    return likelihood.sum() / (wanted.sum() + len(rate))


def other_loss(rate: Tensor, wanted: Tensor, shown: Tensor) -> Tensor:
    """`count_loss` of one channel (n, rows, columns) without its demand on the whole crop.

    For other plants: many crops have none, and how few of them there are isn't what the network
    is for.
    """
    rate, wanted = rate * shown, wanted * shown
    loss = _poisson(rate, wanted, shown)
    p, t = rate.sum((1, 2)), wanted.sum((1, 2))
    return loss + 0.5 * F.smooth_l1_loss(p / (t + 1).sqrt(), t / (t + 1).sqrt())


def spread_loss(rate: Tensor, spread: Tensor, wanted: Tensor, shown: Tensor) -> Tensor:
    """Gaussian likelihood of window sums, weighted by the root of the variance.

    The weight is that of Seitzer et al. 2022 (arXiv 2203.09168) with exponent 0.5. The count is
    taken as it stands: only the variance learns here.
    """
    mask = shown[:, None]
    rate, wanted = rate.detach() * mask, wanted * mask
    spread = spread * mask
    rows, columns = rate.shape[-2:]
    terms = []
    for part in (2, 1):
        height, width = rows // part, columns // part
        if height < 2 or width < 2:
            continue
        area = height * width
        error = F.avg_pool2d(rate - wanted, (height, width)) * area
        variance = F.avg_pool2d(spread, (height, width)) * area + 1e-3
        nll = 0.5 * (error**2 / variance + variance.log())
        terms.append((nll * variance.detach().sqrt()).mean())
    return torch.stack(terms).sum()


def surface_loss(logits: Tensor, classes: Tensor) -> Tensor:
    """Weighted cross-entropy plus soft Dice over the classes that occur; (n, C, h, w) logits."""
    count = logits.shape[1]
    judged = classes < count
    weight = constant((*CLASS_WEIGHT, *(1.0,) * count)[:count], logits.device)
    target = torch.where(judged, classes, torch.zeros_like(classes))
    ce = F.cross_entropy(logits, target, weight=weight, reduction="none")
    scale = weight[target] * judged
    ce = (ce * judged).sum() / (scale.sum() + 1)
    p = logits.softmax(1) * judged[:, None]
    t = F.one_hot(target, count).movedim(-1, 1) * judged[:, None]
    overlap = 2 * (p * t).sum((0, 2, 3)) + 1
    dice = 1 - overlap / (p.sum((0, 2, 3)) + t.sum((0, 2, 3)) + 1)
    present = (t.sum((0, 2, 3)) > 0).float()
    return ce + (dice * present).sum() / (present.sum() + 1e-6)


def mask_loss(logits: Tensor, plant: Tensor) -> Tensor:
    """Loss of "plant or not" where only that is known: plant (n, h, w) 0, 1 or 255 unknown.

    Crop and other plants together are "plant"; soil and residue are "not"; the frame has no
    part in it, since these photos show none.
    """
    judged = plant < 2
    log_p = logits.log_softmax(1)
    log_plant = torch.logsumexp(log_p[:, 2:4], 1)
    log_ground = torch.logsumexp(log_p[:, :2], 1)
    is_plant = plant == 1
    nll = -torch.where(is_plant, 1.5 * log_plant, log_ground) * judged
    loss = nll.sum() / (judged.sum() + 1)
    p = log_plant.exp() * judged
    t = (is_plant & judged).float()
    dice = 1 - (2 * (p * t).sum() + 1) / (p.sum() + t.sum() + 1)
    return loss + dice
