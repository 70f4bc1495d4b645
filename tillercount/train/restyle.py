"""Pictures and features in foreign styles, so that a network goes by shapes rather than by texture.

What is rendered is always rendered alike: how a leaf shades off, how soil is grained. A network
that goes by such things counts well on scenes of its own kind and worse on all others.
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import Generator, Tensor, nn

__all__ = ["mix_styles", "random_filters", "restyle_features"]

_SIZES = (1, 3, 5, 7)
_SHARE_OF_FIVE = 2
_MIXED = 0.5


def random_filters(images: Tensor, rng: Generator, turn: int) -> Tensor:
    """Images (n, 3, H, W), two of five mixed with what a random filter makes of them.

    Shapes stay, colours and texture don't. As in Xu et al. 2021 (arXiv 2007.13003), with a filter
    for each picture; mean and spread of each channel are kept. Which pictures goes by their place
    and ``turn``, as in `tillercount.train.augment.photometric`; so does the filter's size.
    """
    # every second place: those that lose detail (`augment`) are half of them, not all
    chosen = [i for i in range(len(images)) if (2 * i + turn) % 5 < _SHARE_OF_FIVE]
    if not chosen:
        return images
    size = _SIZES[turn % len(_SIZES)]
    part = torch.cat([images[i : i + 1] for i in chosen])
    m, channels, height, width = part.shape
    weight = torch.randn((m * channels, channels, size, size), generator=rng, device=rng.device)
    weight = weight / math.sqrt(channels * size * size)
    half = size // 2
    wide = F.pad(part, (half,) * 4, mode="reflect") if half else part
    flat = wide.reshape(1, m * channels, height + 2 * half, width + 2 * half)
    other = F.conv2d(flat, weight, groups=m).view(m, channels, height, width)
    mean, spread = _style(part)
    own_mean, own_spread = _style(other)
    other = (other - own_mean) / own_spread * spread + mean
    share = torch.rand((m, 1, 1, 1), generator=rng, device=rng.device)
    mixed = part + share * (other - part)
    out = list(torch.split(images, 1))
    for i, one in zip(chosen, torch.split(mixed.clamp(0, 1), 1), strict=True):
        out[i] = one
    return torch.cat(out)


def mix_styles(features: Tensor) -> Tensor:
    """Features (n, C, H, W), some with mean and spread on the way to those of another picture.

    As in Zhou et al. 2021 (arXiv 2104.02008): by shares of Beta(0.1, 0.1), for half of them.
    """
    n, device = len(features), features.device
    mean, spread = _style(features.detach().float())
    other = torch.randperm(n, device=device)
    # Beta(a, a) from two gammas; its mean is a half and most of it lies at the ends
    a = torch._standard_gamma(torch.full((2, n, 1, 1, 1), 0.1, device=device)) + 1e-6
    share = a[0] / a.sum(0) * (torch.rand((n, 1, 1, 1), device=device) < _MIXED)
    new_mean = mean + share * (mean[other] - mean)
    new_spread = spread + share * (spread[other] - spread)
    return ((features - mean) / spread * new_spread + new_mean).to(features.dtype)


def restyle_features(stages: nn.ModuleList, first: int = 2) -> None:
    """Let the first stages mix styles while they are trained; what they predict stays."""

    def hook(module: nn.Module, _: object, output: Tensor) -> Tensor:
        return mix_styles(output) if module.training and len(output) > 1 else output

    for stage in list(stages)[:first]:
        stage.register_forward_hook(hook)


def _style(x: Tensor) -> tuple[Tensor, Tensor]:
    mean = x.mean((2, 3), keepdim=True)
    return mean, torch.sqrt(x.var((2, 3), keepdim=True, unbiased=False) + 1e-5)
