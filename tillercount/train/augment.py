"""Random views of a canvas: where the crop lies, and how light and camera change it.

Everything runs on whole batches of tensors, on whatever device they live, and never waits for it:
no value is read back, and numbers from the program are copied there once (`constant`). Points move
with the pixels. The order of the colour changes is that of the world: light, lens, sensor, file.
"""

from __future__ import annotations

import math
from functools import lru_cache

import torch
import torch.nn.functional as F
from torch import Generator, Tensor

from tillercount.train.restyle import random_filters

__all__ = ["constant", "crop_to_canvas", "move_points", "photometric", "warp"]

_TO_YCC = (0.299, 0.587, 0.114, -0.1687, -0.3313, 0.5, 0.5, -0.4187, -0.0813)
"""Luma and colour differences of ITU-T T.871, rows of red, green, blue."""
_COARSER = (1.12, 1.35, 1.65, 2.05)
"""How many times coarser some crops of each part of a batch become."""


@lru_cache(maxsize=64)
def constant(values: tuple[float, ...], device: torch.device) -> Tensor:
    """These numbers (n,) float32 on the device; not to be changed in place.

    Kept, since copying from the program's memory waits until the device has done all its work.
    """
    with torch.inference_mode(False):  # or training could not use one that a look made first
        return torch.tensor(values, dtype=torch.float32, device=device)


def _uniform(shape: tuple[int, ...], low: float, high: float, rng: Generator) -> Tensor:
    return torch.rand(shape, generator=rng, device=rng.device) * (high - low) + low


def _maybe(n: int, chance: float, rng: Generator) -> Tensor:
    return torch.rand((n,), generator=rng, device=rng.device) < chance


def crop_to_canvas(
    n: int,
    crop_px: int,
    canvas_px: int,
    rng: Generator,
    *,
    scale: tuple[float, float] = (0.8, 1.25),
    perspective: float = 6e-5,
    stray_px: float = 64.0,
) -> Tensor:
    """Random maps (n, 3, 3) from crop pixels to canvas pixels.

    Turned by any angle, mirrored half the time, scaled, stretched by up to 8 % and tipped a
    little. The middle of the crop stays where most of the crop lies on the canvas.
    """
    device = rng.device
    zoom = torch.exp(_uniform((n,), math.log(scale[0]), math.log(scale[1]), rng))
    stretch = torch.exp(_uniform((n,), -0.04, 0.04, rng))
    angle = _uniform((n,), 0, 2 * math.pi, rng)
    mirror = torch.where(_maybe(n, 0.5, rng), -1.0, 1.0)
    cos, sin = angle.cos(), angle.sin()
    turn = torch.stack([cos, -sin, sin, cos], 1).view(n, 2, 2)
    size = torch.stack([zoom * stretch * mirror, zoom / stretch], 1)
    linear = turn * size[:, None, :]
    room = ((canvas_px - crop_px * zoom) / 2).clamp(min=0) + stray_px
    middle = (canvas_px - 1) / 2 + _uniform((n, 2), -1, 1, rng) * room[:, None]
    matrix = torch.zeros((n, 3, 3), device=device)
    matrix[:, :2, :2] = linear
    matrix[:, 2, :2] = _uniform((n, 2), -perspective, perspective, rng)
    matrix[:, 2, 2] = 1
    # Tipping happens about the middle of the crop, which lands on the chosen middle.
    move = torch.eye(3, device=device).repeat(n, 1, 1)
    move[:, :2, 2] = middle
    back = torch.eye(3, device=device)
    back[0, 2] = back[1, 2] = -(crop_px - 1) / 2
    return move @ matrix @ back


def _project(matrix: Tensor, points: Tensor) -> Tensor:
    """Points (n, P, 2) through maps (n, 3, 3)."""
    out = points @ matrix[:, :2, :2].transpose(1, 2) + matrix[:, None, :2, 2]
    w = (points * matrix[:, None, 2, :2]).sum(-1, keepdim=True) + matrix[:, 2, 2].view(-1, 1, 1)
    return out / w


def move_points(points: Tensor, to_canvas: Tensor) -> Tensor:
    """Canvas points (n, P, 2) in crop pixels."""
    # inv_ex doesn't wait to see whether the inverse exists; of these maps it always does
    return _project(torch.linalg.inv_ex(to_canvas).inverse, points)


def warp(
    canvas: Tensor, to_canvas: Tensor, crop_px: int, cell_px: int = 1, mode: str = "bilinear"
) -> Tensor:
    """Canvas (n, C, S, S) float seen through the maps, (n, C, crop/cell, crop/cell).

    With ``cell_px`` above one, a value is taken at the centre of each cell of so many pixels.
    Beyond the canvas its edge is repeated; mark such pixels by their class.
    """
    n, size = len(to_canvas), canvas.shape[-1]
    line = torch.arange(crop_px // cell_px, device=canvas.device) * cell_px + (cell_px - 1) / 2
    y, x = torch.meshgrid(line, line, indexing="ij")
    grid = torch.stack([x, y], -1).view(1, -1, 2).expand(n, -1, -1).float()
    where = _project(to_canvas, grid).view(n, len(line), len(line), 2)
    where = (where + 0.5) * (2 / size) - 1
    return F.grid_sample(canvas, where, mode=mode, padding_mode="border", align_corners=False)


def photometric(
    images: Tensor, rng: Generator, strength: float = 1.0, turn: int = 0, restyle: bool = False
) -> Tensor:
    """Images (n, 3, H, W), 0 to 1, under another light, lens, sensor and file; a new tensor.

    What befalls only a part of the batch goes by the place in it and by ``turn``, which should
    grow by one from batch to batch: that saves the work on the others without asking the device.
    The batch must come in random order. ``restyle`` filters some at random first.
    """
    if restyle:
        images = random_filters(images, rng, turn)
    images = _shadows(images, rng, strength)
    images = _colour(images, rng, strength)
    images = _lens(images, rng, strength)
    images = _coarse(images, turn)
    images = _noise(images, rng, strength)
    return _file(images, rng, turn).clamp(0, 1)


def _smooth_field(n: int, height: int, width: int, cells: int, rng: Generator) -> Tensor:
    """Random smooth fields (n, 1, H, W), about -1 to 1."""
    knots = torch.randn((n, 1, cells, cells), generator=rng, device=rng.device)
    return F.interpolate(knots, (height, width), mode="bicubic", align_corners=False)


def _shadows(images: Tensor, rng: Generator, strength: float) -> Tensor:
    """A straight or wavy shadow edge, sharp or soft, and slow changes of light."""
    n, _, height, width = images.shape
    y = torch.linspace(-1, 1, height, device=images.device).view(1, 1, -1, 1)
    x = torch.linspace(-1, 1, width, device=images.device).view(1, 1, 1, -1)
    angle = _uniform((n, 1, 1, 1), 0, 2 * math.pi, rng)
    place = _uniform((n, 1, 1, 1), -0.8, 0.8, rng)
    wavy = _smooth_field(n, height, width, 5, rng) * _uniform((n, 1, 1, 1), 0, 0.35, rng)
    edge = x * angle.cos() + y * angle.sin() - place + wavy
    soft = torch.exp(_uniform((n, 1, 1, 1), math.log(0.004), math.log(0.3), rng))
    depth = _uniform((n, 1, 1, 1), 0.2, 0.65, rng) * strength
    depth = depth * _maybe(n, 0.35, rng).view(n, 1, 1, 1)
    # Shade is lit by the sky alone, so it is bluer.
    tint = constant((1.06, 1.0, 0.9), depth.device).view(1, 3, 1, 1)
    shaded = images * (1 - (depth * tint).clamp(max=0.9) * torch.sigmoid(edge / soft))
    slow = _smooth_field(n, height, width, 3, rng) * _uniform((n, 1, 1, 1), 0, 0.18, rng)
    return shaded * torch.exp(slow * strength)


def _colour(images: Tensor, rng: Generator, strength: float) -> Tensor:
    """White balance, exposure, gamma, contrast and saturation."""
    n = len(images)
    gains = torch.exp(torch.randn((n, 3, 1, 1), generator=rng, device=rng.device) * 0.07 * strength)
    light = torch.exp(torch.randn((n, 1, 1, 1), generator=rng, device=rng.device) * 0.22 * strength)
    images = (images * gains * light).clamp(1e-4, 1)
    gamma = torch.exp(_uniform((n, 1, 1, 1), -0.35, 0.35, rng) * strength)
    images = images**gamma
    grey = images.mean(1, keepdim=True)
    images = grey + (images - grey) * torch.exp(_uniform((n, 1, 1, 1), -0.5, 0.4, rng) * strength)
    middle = images.mean((1, 2, 3), keepdim=True)
    return middle + (images - middle) * torch.exp(_uniform((n, 1, 1, 1), -0.3, 0.3, rng) * strength)


def _lens(images: Tensor, rng: Generator, strength: float) -> Tensor:
    """Defocus and motion blur, or the over-sharpening of a phone, by one kernel per image."""
    n, channels, height, width = images.shape
    half = 4
    line = torch.arange(-half, half + 1, device=images.device, dtype=torch.float32)
    y, x = torch.meshgrid(line, line, indexing="ij")
    x, y = x[None], y[None]
    sigma = _uniform((n, 1, 1), 0.25, 1.6, rng) ** 1.0
    sigma = torch.where(_maybe(n, 0.5, rng).view(n, 1, 1), sigma * strength, 0.25).clamp(min=0.25)
    length = _uniform((n, 1, 1), 0.5, 3.0, rng)
    length = torch.where(_maybe(n, 0.2, rng).view(n, 1, 1), length, 0.0)
    angle = _uniform((n, 1, 1), 0, math.pi, rng)
    along = x * angle.cos() + y * angle.sin()
    across = -x * angle.sin() + y * angle.cos()
    wide = torch.sqrt(sigma**2 + length**2)
    kernel = torch.exp(-0.5 * ((along / wide) ** 2 + (across / sigma) ** 2))
    kernel = kernel / kernel.sum((1, 2), keepdim=True)
    point = ((x == 0) & (y == 0)).float()
    sharpen = torch.where(_maybe(n, 0.25, rng), _uniform((n,), 0.2, 1.2, rng), 0.0).view(n, 1, 1)
    soft = torch.exp(-0.5 * (x**2 + y**2) / 1.2**2)
    soft = soft / soft.sum((1, 2), keepdim=True)
    crisp = (kernel <= 1e-3).flatten(1).float().mean(1) > 0.8
    sharpen = torch.where(crisp.view(n, 1, 1), sharpen, 0.0)
    kernel = kernel + sharpen * (point - soft)
    weight = kernel[:, None].repeat_interleave(channels, 0)
    flat = F.pad(images, (half,) * 4, mode="reflect").reshape(
        1, n * channels, *_grown(images, half)
    )
    return F.conv2d(flat, weight, groups=n * channels).view(n, channels, height, width)


def _grown(images: Tensor, half: int) -> tuple[int, int]:
    return images.shape[2] + 2 * half, images.shape[3] + 2 * half


def _coarse(images: Tensor, turn: int) -> Tensor:
    """Two images of five lose detail, as if taken from higher up."""
    height, width = images.shape[2:]
    out = list(torch.split(images, 1))
    chosen = [i for i in range(len(out)) if (i + turn) % 5 < 2]
    for k, factor in enumerate(_COARSER):
        places = [i for j, i in enumerate(chosen) if (j + turn) % len(_COARSER) == k]
        if not places:
            continue
        small = (max(8, round(height / factor)), max(8, round(width / factor)))
        part = torch.cat([out[i] for i in places])
        less = F.interpolate(part, small, mode="bilinear", align_corners=False, antialias=True)
        less = F.interpolate(less, (height, width), mode="bilinear", align_corners=False)
        for i, one in zip(places, torch.split(less, 1), strict=True):
            out[i] = one
    return torch.cat(out)


def _noise(images: Tensor, rng: Generator, strength: float) -> Tensor:
    """Noise that grows with the light, partly smeared by the phone's denoising."""
    n = len(images)
    level = torch.exp(_uniform((n, 1, 1, 1), math.log(0.002), math.log(0.035), rng)) * strength
    white = torch.randn(images.shape, generator=rng, device=rng.device)
    smear = F.avg_pool2d(white, 3, 1, 1) * 2.0
    smooth = _maybe(n, 0.5, rng).view(n, 1, 1, 1)
    noise = torch.where(smooth, smear, white)
    return images + noise * level * torch.sqrt(images.clamp(min=0.02))


def _file(images: Tensor, rng: Generator, turn: int) -> Tensor:
    """What an 8 x 8 cosine transform rounded to coarse steps leaves, for every second image.

    The steps grow with frequency, and are coarser for colour than for brightness, as in ITU-T
    T.81 (JPEG); the table itself is a plain slope, not that standard's.
    """
    height, width = images.shape[2:]
    if height % 8 or width % 8:
        return images
    first = turn % 2
    whole, images = images, images[first::2]
    n = len(images)
    k = torch.arange(8, device=images.device, dtype=torch.float32)
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    basis[0] *= math.sqrt(0.5)
    to_ycc = constant(_TO_YCC, images.device).view(3, 3)
    ycc = torch.einsum("ij,njhw->nihw", to_ycc, images)
    cells = ycc.view(n, 3, height // 8, 8, width // 8, 8)
    frequency = torch.einsum("ua,nchawb,vb->nchuwv", basis, cells, basis)
    slope = 1 + (k[:, None] + k[None]) * 0.75
    step = torch.exp(_uniform((n, 1, 1, 1, 1, 1), math.log(0.004), math.log(0.05), rng))
    table = slope.view(1, 1, 1, 8, 1, 8) * step
    table = table * constant((1.0, 2.0, 2.0), images.device).view(1, 3, 1, 1, 1, 1)
    frequency = torch.round(frequency / table) * table
    cells = torch.einsum("ua,nchuwv,vb->nchawb", basis, frequency, basis)
    to_rgb = torch.linalg.inv_ex(to_ycc).inverse
    rgb = torch.einsum("ij,njhw->nihw", to_rgb, cells.reshape(images.shape))
    out = whole.clone()
    out[first::2] = rgb
    return out
