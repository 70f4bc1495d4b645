"""Frames drawn over photos of bare ground, so that the finder sees more frames than were rendered.

Every frame is drawn from its exact distance on the ground plane seen by a tilted pinhole camera:
pipe or lath, any colour, with light and shade, its shadow, leaves of the photo left above it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional as F

from tillercount.frame.network import KINDS
from tillercount.train.finder_views import Dice

__all__ = ["Painted", "paint_frames"]

# what is drawn: a frame, a frame that lost a part, or a thing that is no frame
QUAD, HOOP, STICK, BROKEN_QUAD, LINE, ARC, DISC, NOTHING = range(8)
SHARES = (0.32, 0.24, 0.15, 0.05, 0.06, 0.05, 0.05, 0.08)


@dataclass(frozen=True)
class Painted:
    """Pictures with a drawn frame and their truth.

    rgb (B, 3, h, w) 0..1; truth (B, 4, h, w) as the first four of `MAPS`; weight (B, 4) of each
    map's loss; kind (B,) index into `KINDS`, -100 where it isn't to be learned; flat (B,) as in
    scenes.
    """

    rgb: Tensor
    truth: Tensor
    weight: Tensor
    kind: Tensor
    flat: Tensor


def paint_frames(rgb: Tensor, dice: Dice) -> Painted:
    """Draw one random frame (or a decoy, or nothing) over each picture (B, 3, h, w) 0..1."""
    n, _, height, width = rgb.shape
    shares = torch.tensor(SHARES, device=rgb.device)
    what = torch.multinomial(
        shares.expand(n, -1), 1, replacement=True, generator=dice.generator
    ).squeeze(1)
    x, y, unit = _ground(n, height, width, dice)
    radius = dice.log_uniform(0.007, 0.085, n, 1, 1)
    # a lath is slim for its length, and may reach along the long side of the photo
    straight = ((what == STICK) | (what == LINE)).float()[:, None, None]
    radius = radius * (1 - 0.6 * straight)
    longer = 1 - 0.3 * straight * dice.uniform(0, 1, n, 1, 1)
    x, y, unit = x * longer, y * longer, unit * longer
    aspect = torch.where(
        dice.chance(0.6, n) > 0, torch.ones(n, device=rgb.device), dice.uniform(0.45, 0.95, n)
    )[:, None, None]
    gap = dice.uniform(0, 1, n, 1, 1)
    side, part = _distance(what, x, y, radius, aspect, gap)
    tube = (0.5 + (radius - (side - radius).abs()) / unit).clamp(0, 1) * part
    inner = (0.5 - side / unit).clamp(0, 1)

    # shadow: the same frame, moved away from the light along the ground
    away = dice.uniform(0, 2 * math.pi, n, 1, 1)
    far = radius * dice.uniform(0.3, 3.0, n, 1, 1)
    sx, sy = x - far * torch.cos(away), y - far * torch.sin(away)
    dark_side, dark_part = _distance(what, sx, sy, radius, aspect, gap)
    soft = unit * dice.log_uniform(1.0, 8.0, n, 1, 1)
    shadow = (0.5 + (radius - (dark_side - radius).abs()) / soft).clamp(0, 1) * dark_part
    shadow = shadow * dice.uniform(0.2, 0.75, n, 1, 1) * dice.chance(0.8, n, 1, 1)
    ground = rgb * (1 - shadow)[:, None]

    # leaves of the photo stay above the frame
    smooth = F.avg_pool2d(rgb, 3, 1, 1)
    green = 2 * smooth[:, 1] - smooth[:, 0] - smooth[:, 2]
    leaf = torch.sigmoid((green - 0.07) * 70) * dice.chance(0.85, n, 1, 1)
    hidden = (leaf * tube).sum((1, 2), keepdim=True) / tube.sum((1, 2), keepdim=True).clamp(min=1)
    leaf = leaf * (hidden < 0.6)  # ground that is green all over isn't leaves
    seen = tube * (1 - leaf)
    flat = dice.chance(0.3, n)
    colour = _colour(rgb, x, y, side, radius, away, flat[:, None, None], dice)
    out = ground * (1 - seen)[:, None] + colour * seen[:, None]

    is_quad, is_hoop = (what == QUAD).float(), (what == HOOP).float()
    is_stick, is_broken = (what == STICK).float(), (what == BROKEN_QUAD).float()
    framed = (is_quad + is_hoop + is_broken)[:, None, None]
    truth = torch.stack(
        [
            seen * framed,
            seen * is_stick[:, None, None],
            inner * (is_quad + is_hoop)[:, None, None],
            torch.zeros_like(seen),
        ],
        1,
    )
    weight = torch.ones(n, 4, device=rgb.device)
    weight[:, 2] = 1 - is_broken  # what a frame without one side marks isn't defined
    weight[:, 3] = 1 - is_stick  # the row isn't known on these pictures
    kind = torch.full((n,), KINDS.index("none"), device=rgb.device)
    kind[what == QUAD], kind[what == HOOP] = KINDS.index("quad"), KINDS.index("hoop")
    kind[what == STICK] = KINDS.index("row")
    kind[what == BROKEN_QUAD] = -100
    # a hoop or stick may be flat too, but only for squares is it asked
    flat = torch.where(is_quad > 0, flat, torch.full_like(flat, -1.0))
    return Painted(out.clamp(0, 1), truth, weight, kind, flat)


def _ground(n: int, height: int, width: int, dice: Dice) -> tuple[Tensor, Tensor, Tensor]:
    """Frame coordinates of every pixel (half a side = 1) and the size of a pixel in them."""
    v, u = torch.meshgrid(
        (torch.arange(height, device=dice.device) - (height - 1) / 2) / (max(height, width) / 2),
        (torch.arange(width, device=dice.device) - (width - 1) / 2) / (max(height, width) / 2),
        indexing="ij",
    )
    focal = dice.uniform(1.2, 2.2, n, 1, 1)
    tilt = dice.uniform(0, 1, n, 1, 1) ** 1.5 * math.radians(27)
    azimuth = dice.uniform(0, 2 * math.pi, n, 1, 1)
    ca, sa, ct, st = torch.cos(azimuth), torch.sin(azimuth), torch.cos(tilt), torch.sin(tilt)
    a, b = ca * u + sa * v, ca * v - sa * u
    rx, ry, rz = ct * a + st * focal, b, ct * focal - st * a
    gx, gy = rx / rz - st / ct, ry / rz
    short = min(height, width) / max(height, width)
    half = dice.uniform(0.42, 0.98, n, 1, 1) * short / focal
    room = (1.02 - half * focal / short).clamp(min=0.05) * short / focal
    ox, oy = (dice.uniform(-1, 1, n, 1, 1) * room * 1.15 for _ in range(2))
    turn = dice.uniform(0, 2 * math.pi, n, 1, 1)
    dx, dy = (gx - ox) / half, (gy - oy) / half
    x = torch.cos(turn) * dx + torch.sin(turn) * dy
    y = torch.cos(turn) * dy - torch.sin(turn) * dx
    step_x = torch.hypot(x[:, :, 1:] - x[:, :, :-1], y[:, :, 1:] - y[:, :, :-1])
    unit = F.pad(step_x, (0, 1), mode="replicate")
    return x, y, unit


def _distance(
    what: Tensor, x: Tensor, y: Tensor, radius: Tensor, aspect: Tensor, gap: Tensor
) -> tuple[Tensor, Tensor]:
    """Distance outwards from the inside edge, and 1 where that part of the thing exists."""
    box = torch.maximum(x.abs() - 1, y.abs() - aspect)
    ring = torch.hypot(x, y) - 1
    bar = torch.where(x.abs() < 1, y.abs(), radius * 4)  # a stick, ends cut square
    line = (y - 0.15 * (gap - 0.5) * x**2).abs()  # a hose or cable across the photo
    kind = what[:, None, None]
    side = torch.where((kind == QUAD) | (kind == BROKEN_QUAD), box, ring)
    side = torch.where(kind == STICK, bar, side)
    side = torch.where(kind == LINE, line, side)
    # a plate: everything inside counts as its body
    side = torch.where(kind == DISC, (ring * 2 + 2 * radius).clamp(min=0) + radius * 0.2, side)
    off = (x.abs() - 1 > y.abs() - aspect) & (x > 0)
    turn = torch.atan2(y, x) / (2 * math.pi) + 0.5
    part = torch.ones_like(x)
    part = torch.where((kind == BROKEN_QUAD) & off, torch.zeros_like(x), part)
    part = torch.where((kind == ARC) & (turn > 0.12 + 0.25 * gap), torch.zeros_like(x), part)
    part = torch.where(kind == NOTHING, torch.zeros_like(x), part)
    return side, part


def _colour(
    rgb: Tensor,
    x: Tensor,
    y: Tensor,
    side: Tensor,
    radius: Tensor,
    away: Tensor,
    flat: Tensor,
    dice: Dice,
) -> Tensor:
    """Colour of the pipe or lath at every pixel (B, 3, h, w)."""
    n, _, height, width = rgb.shape
    across = ((side - radius) / radius).clamp(-1, 1)
    turn = torch.atan2(y, x)
    # the light comes from opposite the shadow
    facing = -torch.cos(turn - away)
    up = (1 - across**2).clamp(min=0).sqrt()
    high = dice.uniform(0.4, 1.0, n, 1, 1)
    lit = (facing * across * (1 - high) + up * high).clamp(min=0)
    ambient = dice.uniform(0.25, 0.7, n, 1, 1)
    shine = lit ** dice.log_uniform(4, 40, n, 1, 1) * dice.uniform(0, 0.5, n, 1, 1)
    round_shade = ambient + (1 - ambient) * lit
    shade = (round_shade * (1 - flat) + flat * dice.uniform(0.6, 1.0, n, 1, 1))[:, None]
    first, second = _paint_pot(n, dice), _paint_pot(n, dice)
    bands = torch.sin(turn * torch.floor(dice.uniform(2, 14, n, 1, 1)) * 2)
    two = (dice.chance(0.2, n, 1, 1) * (bands > dice.uniform(-0.3, 0.8, n, 1, 1)))[:, None]
    base = first[:, :, None, None] * (1 - two) + second[:, :, None, None] * two
    dirt = F.interpolate(dice.normal(n, 1, 24, 32), (height, width), mode="bilinear")
    fine = F.interpolate(
        dice.normal(n, 1, height // 2, width // 2), (height, width), mode="nearest"
    )
    mottle = 1 + 0.12 * dirt * dice.uniform(0, 1, n, 1, 1, 1)
    mottle = mottle + 0.08 * fine * dice.uniform(0, 1, n, 1, 1, 1)
    return (base * shade * mottle + (shine * (1 - flat))[:, None]).clamp(0, 1)


def _paint_pot(n: int, dice: Dice) -> Tensor:
    """Colours that frames have: white and grey plastic, wood, and any loud one."""
    hue = dice.uniform(0, 1, n, 1) * 6 - torch.tensor([0.0, 2.0, 4.0], device=dice.device)
    wheel = (torch.minimum(torch.remainder(hue, 6), 6 - torch.remainder(hue, 6)) - 1).clamp(0, 1)
    loud = (1 - dice.uniform(0.3, 1.0, n, 1) * wheel) * dice.uniform(0.35, 1.0, n, 1)
    grey = dice.uniform(0.1, 1.0, n, 1).sqrt() * (1 + 0.04 * dice.normal(n, 3))
    wood_at = dice.uniform(0.45, 1.0, n, 1)
    wood = torch.tensor([0.85, 0.66, 0.45], device=dice.device) * wood_at
    roll = dice.uniform(0, 1, n, 1)
    colour = torch.where(roll < 0.5, loud, torch.where(roll < 0.85, grey, wood))
    return colour.clamp(0, 1)
