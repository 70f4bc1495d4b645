"""Random views of scenes, and what a field does to a picture, all on the accelerator."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

from tillercount.train.finder_data import ReducedScenes

__all__ = ["Dice", "add_leaves", "recolour_tubes", "take_views", "weather"]

LEAVES = 14
GREY = (0.299, 0.587, 0.114)


class Dice:
    """Random numbers on one device from one generator."""

    def __init__(self, device: torch.device, seed: int) -> None:
        self.device = device
        self.generator = torch.Generator(device=device)
        self.generator.manual_seed(seed)

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """Uniform between low and high."""
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.generator)

    def log_uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """Uniform in the logarithm."""
        return self.uniform(math.log(low), math.log(high), *shape).exp()

    def normal(self, *shape: int) -> Tensor:
        """Standard normal."""
        return torch.randn(shape, device=self.device, generator=self.generator)

    def chance(self, p: float, *shape: int) -> Tensor:
        """1.0 with probability p, else 0.0."""
        return (self.uniform(0, 1, *shape) < p).float()

    def pick(self, choices: Tensor, n: int) -> Tensor:
        """n of these, with repetition."""
        at = torch.randint(len(choices), (n,), device=self.device, generator=self.generator)
        return choices[at]


def take_views(
    scenes: ReducedScenes, index: Tensor, dice: Dice, shape: tuple[int, int], *, free: bool = False
) -> tuple[Tensor, Tensor, Tensor]:
    """Random projective views of some scenes.

    ``free`` looks only at the part that holds no frame. Returns rgb (B, 3, h, w) 0..1, truth
    (B, 4, h, w) 0..1 and valid (B, 1, h, w), 1 where the view lies in the photo.
    """
    n, (height, width) = len(index), shape
    canvas_h, canvas_w = scenes.rgb.shape[-2:]
    half = max(height, width) / 2
    finer = max(canvas_h, canvas_w) / max(height, width)
    size = scenes.size[index]
    if free:
        at = scenes.centre[index]
        reach = scenes.radius[index]
        zoom = (reach / math.hypot(height, width) * 2).clamp(max=1.4 * finer)
        zoom = (zoom * dice.uniform(0.65, 0.9, n)).clamp(min=0.2 * finer)
        angle = dice.uniform(0, 2 * math.pi, n)
        lean = 0.05
    else:
        at = torch.stack([size[:, 1], size[:, 0]], 1) / 2
        at = at + dice.uniform(-0.14, 0.14, n, 2) * size[:, [1, 0]]
        zoom = dice.log_uniform(0.66, 1.25, n) * finer
        angle = dice.uniform(-0.35, 0.35, n) + (math.pi / 2) * torch.floor(
            dice.uniform(0, 4, n)
        ) * dice.chance(0.4, n)
        lean = 0.14
    y, x = torch.meshgrid(
        torch.arange(height, device=dice.device) - (height - 1) / 2,
        torch.arange(width, device=dice.device) - (width - 1) / 2,
        indexing="ij",
    )
    x, y = x.expand(n, -1, -1), y.expand(n, -1, -1)
    flip = 1 - 2 * dice.chance(0.5, n)
    squeeze = dice.log_uniform(0.9, 1.11, n)
    tip = dice.uniform(-lean, lean, n, 2) / half
    w = 1 + tip[:, 0, None, None] * x + tip[:, 1, None, None] * y
    u = (flip * squeeze * zoom)[:, None, None] * x / w
    v = (zoom / squeeze)[:, None, None] * y / w
    cos, sin = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
    px = at[:, 0, None, None] + cos * u - sin * v
    py = at[:, 1, None, None] + sin * u + cos * v
    # mirror at the photo's own border, which need not be the canvas border
    limit_x, limit_y = size[:, 1, None, None] - 1, size[:, 0, None, None] - 1
    valid = (px >= 0) & (px <= limit_x) & (py >= 0) & (py <= limit_y)
    px, py = _mirror(px, limit_x), _mirror(py, limit_y)
    grid = torch.stack([2 * (px + 0.5) / canvas_w - 1, 2 * (py + 0.5) / canvas_h - 1], -1)
    planes = torch.cat([scenes.rgb[index], scenes.truth[index]], 1).float() / 255
    out = F.grid_sample(planes, grid, mode="bilinear", padding_mode="border", align_corners=False)
    return out[:, :3], out[:, 3:], valid[:, None].float()


def _mirror(p: Tensor, limit: Tensor) -> Tensor:
    p = torch.remainder(p, 2 * limit)
    return torch.minimum(p, 2 * limit - p)


def recolour_tubes(rgb: Tensor, tube: Tensor, dice: Dice, p: float = 0.5) -> Tensor:
    """Another colour for the frame itself, its light and shade kept. tube (B, 1, h, w) share."""
    n = len(rgb)
    grey = (rgb * rgb.new_tensor(GREY)[None, :, None, None]).sum(1, keepdim=True)
    area = tube.sum((2, 3), keepdim=True).clamp(min=1)
    mean = (grey * tube).sum((2, 3), keepdim=True) / area
    colour = dice.uniform(0.05, 1.0, n, 3, 1, 1)
    new = (grey / mean.clamp(min=0.05)).clamp(0.2, 2.5) * colour
    on = dice.chance(p, n, 1, 1, 1) * tube
    return rgb * (1 - on) + new.clamp(0, 1) * on


def add_leaves(rgb: Tensor, seen: Tensor, dice: Dice, p: float = 0.5) -> tuple[Tensor, Tensor]:
    """Leaf-like strips across the picture; what they cover is no longer seen.

    seen (B, C, h, w): visible shares (tube, stick), reduced where a leaf lies over them.
    """
    n, _, height, width = rgb.shape
    y, x = torch.meshgrid(
        torch.arange(height, device=rgb.device, dtype=rgb.dtype),
        torch.arange(width, device=rgb.device, dtype=rgb.dtype),
        indexing="ij",
    )
    some = dice.chance(p, n)
    base_hue = dice.uniform(0.0, 1.0, n)
    for _ in range(LEAVES):
        on = some * dice.chance(0.6, n)
        centre = dice.uniform(0, 1, n, 2) * rgb.new_tensor([width, height])
        angle = dice.uniform(0, math.pi, n)
        length = dice.uniform(0.05, 0.3, n) * width
        thick = dice.log_uniform(1.2, 8.0, n)
        bend = dice.uniform(-0.5, 0.5, n) / length
        dx, dy = x - centre[:, 0, None, None], y - centre[:, 1, None, None]
        cos, sin = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
        along, across = cos * dx + sin * dy, cos * dy - sin * dx
        across = across - bend[:, None, None] * along**2
        t = (along / length[:, None, None] + 0.5).clamp(0, 1)
        half = thick[:, None, None] * (1 - t**2) * 0.5
        inside = (along.abs() < 0.5 * length[:, None, None]).float()
        alpha = ((half - across.abs()) + 0.5).clamp(0, 1) * inside * on[:, None, None]
        alpha = alpha[:, None]
        shade = dice.uniform(0.2, 0.75, n)
        green = torch.stack([0.45 + 0.5 * base_hue, torch.ones_like(shade), 0.35 * base_hue], 1)
        colour = (green * shade[:, None])[:, :, None, None]
        light = 1 + 0.25 * (across / half.clamp(min=0.5)).clamp(-1, 1)[:, None]
        rgb = rgb * (1 - alpha) + (colour * light).clamp(0, 1) * alpha
        seen = seen * (1 - alpha)
    return rgb, seen


def weather(rgb: Tensor, dice: Dice) -> Tensor:
    """Light, colour, shadow, blur and noise of a phone photo in a field."""
    n, _, height, width = rgb.shape
    y, x = torch.meshgrid(
        torch.linspace(-1, 1, height, device=rgb.device),
        torch.linspace(-1, 1, width, device=rgb.device),
        indexing="ij",
    )
    angle = dice.uniform(0, 2 * math.pi, n, 1, 1)
    ramp = torch.cos(angle) * x + torch.sin(angle) * y
    # a person's or a vehicle's shadow: one side of a line, with a soft edge
    soft = dice.log_uniform(2.0, 60.0, n, 1, 1)
    shadow = torch.sigmoid((ramp - dice.uniform(-0.8, 0.8, n, 1, 1)) * soft)
    dark = dice.uniform(0.3, 0.75, n, 1, 1) * dice.chance(0.25, n, 1, 1)
    rgb = rgb * (1 - dark * shadow)[:, None]
    rgb = rgb * (1 + dice.uniform(-0.25, 0.25, n, 1, 1) * ramp)[:, None]
    grey = (rgb * rgb.new_tensor(GREY)[None, :, None, None]).sum(1, keepdim=True)
    rgb = grey + (rgb - grey) * dice.uniform(0.5, 1.5, n, 1, 1, 1)
    rgb = rgb * dice.log_uniform(0.85, 1.18, n, 3, 1, 1)
    strong = dice.chance(0.15, n, 1, 1, 1)
    rgb = rgb * (1 - strong) + strong * rgb * dice.log_uniform(0.5, 1.6, n, 3, 1, 1)
    mean = rgb.mean((1, 2, 3), keepdim=True)
    rgb = (rgb - mean) * dice.log_uniform(0.65, 1.4, n, 1, 1, 1) + mean
    rgb = rgb * dice.log_uniform(0.6, 1.5, n, 1, 1, 1)
    rgb = rgb.clamp(1e-4, 1) ** dice.log_uniform(0.7, 1.4, n, 1, 1, 1)
    rgb = _blur(rgb, dice)
    grain = dice.normal(n, 3, height, width) * dice.log_uniform(0.003, 0.05, n, 1, 1, 1)
    return (rgb + grain).clamp(0, 1)


def _blur(rgb: Tensor, dice: Dice) -> Tensor:
    """Gaussian blur of up to 1.6 px for two photos of five."""
    n, channels = rgb.shape[:2]
    sigma = dice.uniform(0.3, 1.6, n)
    offset = torch.arange(-4, 5, device=rgb.device, dtype=rgb.dtype)
    kernel = torch.exp(-0.5 * (offset[None] / sigma[:, None]) ** 2)
    kernel = kernel / kernel.sum(1, keepdim=True)
    keep = 1 - dice.chance(0.4, n)[:, None]
    kernel = kernel * (1 - keep) + (offset == 0).float()[None] * keep
    kernel = kernel.repeat_interleave(channels, 0)
    flat = rgb.reshape(1, n * channels, *rgb.shape[2:])
    flat = F.conv2d(flat, kernel[:, None, :, None], padding=(4, 0), groups=n * channels)
    flat = F.conv2d(flat, kernel[:, None, None, :], padding=(0, 4), groups=n * channels)
    return flat.reshape_as(rgb)
