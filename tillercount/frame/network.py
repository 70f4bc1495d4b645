"""The small network that points at the marked area in a whole photo.

It only says roughly where the frame lies and what is inside; exact lines are fitted afterwards
to the photo itself. Plain 3x3 convolutions (fast on two cores), an encoder down to one 32nd,
dilated blocks there so that one cell sees the whole photo, and a light way back up to one half.
"""

from __future__ import annotations

from collections.abc import Sequence

import torch
from torch import Tensor, nn
from torch.nn import functional as F

__all__ = [
    "FLAT",
    "KINDS",
    "LONG_SIDE_PX",
    "MAPS",
    "MEAN",
    "NECK",
    "STD",
    "WIDTHS",
    "FinderNet",
    "normalise",
]

MAPS = ("tube", "stick", "inside", "row_area", "lath")
"""What the maps mean: visible pixels of a frame's pipe or lath; of a row stick; the inside of a
frame up to its inside edge, hidden parts included; the area beside a row stick; of the frame's
pixels, those of a lath with upright faces (elsewhere the map means nothing)."""

KINDS = ("none", "quad", "hoop", "row")
"""What the whole photo shows."""

FLAT = len(KINDS)
"""Place, after the kinds, of the logit that says: a lath with upright faces, not a round pipe.

A round pipe is seen to begin half its width above the ground, a lath on the ground itself.
"""

LONG_SIDE_PX = 640
MEAN, STD = 0.42, 0.24
WIDTHS = (24, 48, 72, 96, 128)
"""Channels at strides 2, 4, 8, 16 and 32. Half as many take as long on two cores: small
convolutions wait for memory, not for arithmetic."""
NECK = 48


def normalise(rgb: Tensor) -> Tensor:
    """Network input from RGB values 0..255 (any float or integer tensor, same shape)."""
    return (rgb.float() / 255.0 - MEAN) / STD


def _conv(c_in: int, c_out: int, *, stride: int = 1, dilation: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(c_in, c_out, 3, stride, dilation, dilation, bias=False),
        nn.BatchNorm2d(c_out),
        nn.ReLU(inplace=True),
    )


class _Block(nn.Module):
    """Two 3x3 convolutions with a way around them."""

    def __init__(self, width: int, dilation: int = 1) -> None:
        super().__init__()
        self.first = _conv(width, width, dilation=dilation)
        self.second = nn.Sequential(
            nn.Conv2d(width, width, 3, 1, dilation, dilation, bias=False), nn.BatchNorm2d(width)
        )

    def forward(self, x: Tensor) -> Tensor:
        return F.relu(x + self.second(self.first(x)), inplace=True)


class FinderNet(nn.Module):
    """Photo, long side 640 px -> maps at half size and the kind of frame.

    Input (B, 3, H, W) from `normalise`, H and W multiples of 32. Returns logits: maps
    (B, 5, H/2, W/2) in the order of `MAPS`; kinds (B, 5), four in the order of `KINDS`, then
    the one of `FLAT`.
    """

    def __init__(
        self, widths: Sequence[int] = WIDTHS, neck: int = NECK, maps: int = len(MAPS)
    ) -> None:
        super().__init__()
        a, b, c, d, e = widths
        self.stem = _conv(3, a, stride=2)
        self.down4 = nn.Sequential(_conv(a, b, stride=2), _Block(b))
        self.down8 = nn.Sequential(_conv(b, c, stride=2), _Block(c))
        self.down16 = nn.Sequential(_conv(c, d, stride=2), _Block(d))
        self.down32 = nn.Sequential(
            _conv(d, e, stride=2), _Block(e), _Block(e, 2), _Block(e, 4), _Block(e)
        )
        self.side = nn.ModuleList([nn.Conv2d(w, neck, 1) for w in (b, c, d, e)])
        self.smooth = nn.ModuleList([_conv(neck, neck) for _ in range(3)])
        self.last = nn.Sequential(_conv(neck + a, 24), _conv(24, 24))
        self.maps = nn.Conv2d(24, maps, 1)
        self.kind = nn.Sequential(
            nn.Linear(2 * e, 64), nn.ReLU(inplace=True), nn.Linear(64, len(KINDS) + 1)
        )

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor]:
        half = self.stem(x)
        levels = [self.down4(half)]
        for stage in (self.down8, self.down16, self.down32):
            levels.append(stage(levels[-1]))
        deep = levels[-1]
        up = self.side[3](deep)
        for i in (2, 1, 0):
            up = F.interpolate(up, scale_factor=2.0, mode="nearest")
            up = self.smooth[i](up + self.side[i](levels[i]))
        up = F.interpolate(up, scale_factor=2.0, mode="bilinear", align_corners=False)
        maps = self.maps(self.last(torch.cat([up, half], 1)))
        pooled = torch.cat([deep.mean((2, 3)), deep.amax((2, 3))], 1)
        return maps, self.kind(pooled)
