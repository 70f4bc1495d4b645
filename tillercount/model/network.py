"""The counting network: a half-width residual encoder, a light pyramid, and its heads.

Written in plain torch so that the machine that trains needs nothing else.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from tillercount.model.layers import FEW, Conv, Residual, Separable
from tillercount.model.votes import Tally, Votes

__all__ = ["CountingNetwork", "NetworkConfig", "build", "check_input"]

CROP = 2
"""Number of the crop among the surface classes."""
STRIDE = 32
"""Sides of the input must be multiples of this many pixels."""

# Starting guesses of the heads, so that the first steps are not spent on finding the average.
_RARE = -4.0  # log-odds of a shoot base in a cell: about 2 %


@dataclass(frozen=True)
class NetworkConfig:
    """Shape of the network.

    Attributes
    ----------
    classes : int
        Number of surface classes (soil, residue, crop, other plants, frame).
    widths : tuple of int
        Channels of the stem and of the four stages, at strides 2, 4, 8, 16 and 32.
    blocks : int
        Residual blocks in each stage.
    neck : int
        Channels of the pyramid.
    counts : int
        What is counted per block: plants, shoots and, from 3 on, other plants (weeds).
    context : int
        Ways in which the whole picture is summed up for every block's counts; 0 for none.
    votes : int
        Kinds of evidence that every place carries to the bases it votes for; 0 for none.
    looks : int
        How many times a vote is mended by what lies where it lands.
    tally : int
        Width of the head that counts by how votes lie, whose plants are averaged with those of
        the head that looks at leaves; 0 for none. It needs votes.
    """

    classes: int = 5
    widths: tuple[int, int, int, int, int] = (32, 48, 96, 160, 256)
    blocks: int = 2
    neck: int = 64
    counts: int = 2
    context: int = 0
    votes: int = 0
    looks: int = 0
    tally: int = 0

    @property
    def embedding(self) -> int:
        """Length of the pooled description of a top view."""
        return self.widths[2] + self.widths[3] + self.widths[4]

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for the bundle's metadata."""
        return asdict(self)


class _Context(nn.Module):
    """What the whole picture says to each place: the global context block.

    As in Cao et al. 2019 (arXiv 1904.11492), with several weighted means instead of one. How evenly
    plants stand, how far they are on and how many shoots a plant has are alike all over a stand,
    further than a block sees. It starts by saying nothing. What is looked at in pieces has one
    context all the same: `tillercount.model.tiles.run_tiled` gathers the features of all first.
    """

    def __init__(self, cin: int, ways: int, cout: int) -> None:
        super().__init__()
        self.score = nn.Conv2d(cin, ways, 1)
        self.first = nn.Linear(cin * ways, 128)
        self.norm = nn.LayerNorm(128)
        self.last = nn.Linear(128, cout)

    def forward(self, x: Tensor) -> Tensor:
        """Features (B, cin, h, w) to (B, cout, 1, 1)."""
        weight = self.score(x).flatten(2).softmax(2)
        means = torch.einsum("bkn,bcn->bkc", weight, x.flatten(2)).flatten(1)
        said: Tensor = self.last(F.relu(self.norm(self.first(means))))
        return said[:, :, None, None]


class CountingNetwork(nn.Module):
    """Network of the shape `NetworkConfig` gives; `forward` returns a dict of float tensors.

    For an input of (B, 3, H, W), normalised RGB, H and W multiples of 32:

    ``classes`` (B, C, H/2, W/2)
        Logits of the surface classes; an output cell covers 2 x 2 input pixels.
    ``heat`` (B, 2, H/4, W/4)
        Logits of "the base of a plant / of a shoot lies here".
    ``offset`` (B, 4, H/4, W/4)
        Base minus cell centre, in cells: plant x, y, shoot x, y.
    ``to_plant`` (B, 2, H/4, W/4)
        Base of the plant that the shoot here belongs to, minus cell centre, in cells.
    ``stems`` list of (B, 4, H/4, W/4), only from a network with votes
        Base of the plant, and of the shoot, whose leaf lies here, minus cell centre, in cells: the
        first vote, and each time it was mended.
    ``tally``, ``looked`` (B, 2, H/16, W/16), only from a network with a tally
        Plants and shoots by how votes lie, and by how leaves look: ``rate`` has the mean of both
        for plants, and the latter for shoots.
    ``rate`` (B, counts, H/16, W/16)
        Expected plants, shoots and, where the network counts them, other plants per block,
        hidden ones included; above zero.
    ``spread`` (B, 2, H/16, W/16)
        Variance that the block adds to the plants and shoots of a region; above zero. It is
        trained on features that carry no gradient back, so it never trades accuracy for caution.
    ``embedding`` (B, E)
        Means of the encoder's stages over the picture.
    """

    def __init__(self, config: NetworkConfig) -> None:
        super().__init__()
        self.config = config
        stem, *stages = config.widths
        neck = config.neck
        self.stem = Conv(3, stem, 3, 2)
        self.stages = nn.ModuleList()
        cin = stem
        for width in stages:
            blocks = [Residual(cin, width, 2)]
            blocks += [Residual(width, width, 1) for _ in range(config.blocks - 1)]
            self.stages.append(nn.Sequential(*blocks))
            cin = width
        self.lateral = nn.ModuleList([Conv(w, neck, 1, act=False) for w in stages])
        self.smooth_fine = Separable(neck, neck)
        self.smooth_coarse = Separable(neck, neck)
        self.points = Separable(neck, neck)
        self.heat = nn.Conv2d(neck, 2, 1)
        self.offset = nn.Conv2d(neck, 4, 1)
        self.to_plant = nn.Conv2d(neck, 2, 1)
        self.surface = Separable(neck, neck)
        self.classes = nn.Conv2d(neck, config.classes * 4, 1)
        self.detail = Separable(stem, 16)
        self.detail_classes = nn.Conv2d(16, config.classes, 1)
        self.fine = Separable(neck, neck)
        self.votes = Votes(neck, config.votes, config.looks) if config.votes else None
        self.tally = Tally(config.tally) if config.votes and config.tally else None
        self.blocks = nn.Sequential(Separable(2 * neck, 2 * neck), Separable(2 * neck, neck))
        self.context = (
            _Context(stages[-1], config.context, 2 * neck) if config.context else None
        )
        self.rate = nn.Conv2d(neck, config.counts, 1)
        self.spread = nn.Sequential(Conv(neck, neck // 2, 1), nn.Conv2d(neck // 2, 2, 1))
        self._start()

    def _start(self) -> None:
        for module in self.modules():
            if isinstance(module, nn.Conv2d):
                nn.init.kaiming_normal_(module.weight, mode="fan_out", nonlinearity="relu")
                if module.bias is not None:
                    nn.init.zeros_(module.bias)
        for head in (self.heat, self.offset, self.to_plant, self.classes, self.rate):
            nn.init.normal_(head.weight, std=0.01)
        nn.init.constant_(self.heat.bias, _RARE)  # type: ignore[arg-type]
        nn.init.constant_(self.rate.bias, FEW)  # type: ignore[arg-type]
        if self.context is not None:
            nn.init.zeros_(self.context.last.weight)
            nn.init.zeros_(self.context.last.bias)
        if self.votes is not None:
            self.votes.start()
        if self.tally is not None:
            self.tally.start()
        last = self.spread[1]
        nn.init.normal_(last.weight, std=0.01)  # type: ignore[arg-type]
        nn.init.constant_(last.bias, FEW)  # type: ignore[arg-type]

    def coarsest(self, x: Tensor) -> Tensor:
        """Features (B, widths[-1], H/32, W/32) that the context is made of."""
        check_input(x)
        return self._levels(self.stem(x))[-1]

    def _levels(self, level: Tensor) -> list[Tensor]:
        levels = []
        for stage in self.stages:
            level = stage(level)
            levels.append(level)
        return levels

    def forward(self, x: Tensor, said: Tensor | None = None) -> dict[str, Any]:
        """Outputs for a picture, or for a piece of one of which the context has ``said`` this."""
        check_input(x)
        stem = self.stem(x)
        levels = self._levels(stem)
        embedding = torch.cat([f.float().mean((2, 3)) for f in levels[1:]], dim=1)
        p2, p4 = self._pyramid(levels)
        coarse = F.pixel_shuffle(self.classes(self.surface(p2)), 2)
        classes = (coarse + self.detail_classes(self.detail(stem))).float()
        more: dict[str, Any] = {}
        if self.votes is not None:
            more["stems"], gathered = self.votes(p2)
            p2 = p2 + gathered
        points = self.points(p2)
        fine = F.avg_pool2d(self.fine(p2), 4)
        both = torch.cat([fine, p4], dim=1)
        if self.context is not None:
            both = both + (self.context(levels[-1]) if said is None else said)
        blocks = self.blocks(both)
        rate = F.softplus(self.rate(blocks).float())
        if self.tally is not None:
            crop = F.avg_pool2d(classes.softmax(1)[:, CROP : CROP + 1], 2)
            more["looked"], more["tally"] = rate[:, :2], self.tally(crop, more["stems"][-1])
            plants = (more["looked"][:, :1] + more["tally"][:, :1]) / 2
            rate = torch.cat([plants, rate[:, 1:]], 1)
        return {
            "classes": classes,
            "heat": self.heat(points).float(),
            "offset": self.offset(points).float(),
            "to_plant": self.to_plant(points).float(),
            "rate": rate,
            "spread": F.softplus(self.spread(blocks.detach()).float()) + 1e-4,
            "embedding": embedding,
            **more,
        }

    def _pyramid(self, levels: list[Tensor]) -> tuple[Tensor, Tensor]:
        """Feature pyramid (Lin et al. 2017, arXiv 1612.03144): coarse levels added to fine ones.

        Returns the levels that heads stand on, at strides 4 and 16.
        """
        merged = [lateral(level) for lateral, level in zip(self.lateral, levels, strict=True)]
        for i in range(len(merged) - 2, -1, -1):
            merged[i] = merged[i] + F.interpolate(merged[i + 1], scale_factor=2.0, mode="nearest")
        return self.smooth_fine(merged[0]), self.smooth_coarse(merged[2])

    def fuse(self) -> CountingNetwork:
        """Fold every batch normalisation into its convolution, in place; for prediction only."""
        self.eval()
        for module in self.modules():
            if isinstance(module, Conv):
                module.fuse()
        return self


def check_input(x: Tensor) -> None:
    """Refuse an input of the wrong shape, naming the shape that would work.

    Raises
    ------
    ValueError
        Not (B, 3, H, W), or H or W no multiple of 32.
    """
    if x.ndim != 4 or x.shape[1] != 3:
        raise ValueError(f"input has shape {tuple(x.shape)}; (batch, 3, height, width) is needed")
    height, width = x.shape[2:]
    if height % STRIDE or width % STRIDE or not height or not width:
        good = [max(1, -(-side // STRIDE)) * STRIDE for side in (height, width)]
        raise ValueError(
            f"input of {height} x {width} px: sides must be multiples of {STRIDE}; "
            f"pad it to {good[0]} x {good[1]}"
        )


def build(config: NetworkConfig | dict[str, Any] | None = None) -> CountingNetwork:
    """Network of this shape, with fresh weights from torch's current random state."""
    if config is None:
        config = NetworkConfig()
    elif isinstance(config, dict):
        config = NetworkConfig(**{**config, "widths": tuple(config["widths"])})
    return CountingNetwork(config)
