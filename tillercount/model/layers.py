"""Building blocks of the counting network."""

from __future__ import annotations

import torch.nn.functional as F
from torch import Tensor, nn

__all__ = ["FEW", "Conv", "Residual", "Separable"]

FEW = -3.5
"""Where heads that count begin: inverse softplus of about 0.03 plants in a block of 6.4 mm."""


class Conv(nn.Module):
    """Convolution, batch normalisation and, unless told otherwise, ReLU."""

    def __init__(
        self, cin: int, cout: int, size: int = 3, stride: int = 1, groups: int = 1, act: bool = True
    ) -> None:
        super().__init__()
        self.conv = nn.Conv2d(cin, cout, size, stride, size // 2, groups=groups, bias=False)
        self.norm: nn.Module = nn.BatchNorm2d(cout)
        self.act = act

    def forward(self, x: Tensor) -> Tensor:
        x = self.norm(self.conv(x))
        return F.relu(x, inplace=True) if self.act else x

    def fuse(self) -> None:
        """Fold the normalisation into the convolution; for prediction only."""
        if isinstance(self.norm, nn.BatchNorm2d):
            self.conv = nn.utils.fusion.fuse_conv_bn_eval(self.conv.eval(), self.norm.eval())
            self.norm = nn.Identity()


class Separable(nn.Sequential):
    """A depthwise 3x3 followed by a pointwise convolution."""

    def __init__(self, cin: int, cout: int) -> None:
        super().__init__(Conv(cin, cin, 3, groups=cin), Conv(cin, cout, 1))


class Residual(nn.Module):
    """The basic residual block (He et al. 2016, arXiv 1512.03385)."""

    def __init__(self, cin: int, cout: int, stride: int) -> None:
        super().__init__()
        self.first = Conv(cin, cout, 3, stride)
        self.second = Conv(cout, cout, 3, act=False)
        self.skip: nn.Module = nn.Identity()
        if stride != 1 or cin != cout:
            self.skip = Conv(cin, cout, 1, stride, act=False)

    def forward(self, x: Tensor) -> Tensor:
        return F.relu(self.second(self.first(x)) + self.skip(x), inplace=True)
