"""Leaves that vote for the base they stem from, and what their votes come to.

Seen from above, a plant is leaves; its base is small and often hidden. Here every place says where
the base of its plant and of its shoot lies, as in Hough voting (Gall et al. 2011, "Hough forests
for object detection, tracking, and action recognition"; Cheng et al. 2020, arXiv 1911.10194, for
whole things in pictures), looks at what lies there, and mends its vote. It carries evidence there
too: what gathers at a base is seen by the heads that point and count.
"""

from __future__ import annotations

import torch
import torch.nn.functional as F
from torch import Tensor, nn

from tillercount.model.layers import FEW, Conv, Separable

__all__ = ["Tally", "Votes", "gather"]

_SHY = -2.0  # log-odds of evidence before anything is learnt
_FARTHEST = 200.0  # cells; a vote that goes wrong must not carry others along
_PEEKED = 16  # features that a vote looks at where it lands


class _Mend(nn.Module):
    """By how much votes are off, from what lies here and where they land."""

    def __init__(self, cin: int) -> None:
        super().__init__()
        self.first = Conv(cin, 48, 1)
        self.last = nn.Conv2d(48, 4, 1)

    def forward(self, x: Tensor) -> Tensor:
        off: Tensor = self.last(self.first(x))
        return off.float()


class Votes(nn.Module):
    """Where places vote, and the features that gather there; it starts by adding nothing."""

    def __init__(self, cin: int, kinds: int, looks: int) -> None:
        super().__init__()
        self.look = Separable(cin, cin)
        self.where = nn.Conv2d(cin, 4, 1)
        self.what = nn.Conv2d(cin, 2 * kinds, 1)
        self.read = Conv(2 * kinds, 4 * kinds, 3)
        self.last = nn.Conv2d(4 * kinds, cin, 1)
        self.peek = nn.Conv2d(cin, _PEEKED, 1) if looks else None
        self.mend = nn.ModuleList(_Mend(cin + 2 * _PEEKED + 4) for _ in range(looks))

    def start(self) -> None:
        """Draw nothing to itself yet: the network's other weights may be those of one without."""
        for layer in (self.where, self.what):
            nn.init.normal_(layer.weight, std=0.01)
        nn.init.constant_(self.what.bias, _SHY)  # type: ignore[arg-type]
        lasts = [mend.last for mend in self.mend if isinstance(mend, _Mend)]
        for last in (self.last, *lasts):
            nn.init.zeros_(last.weight)
            nn.init.zeros_(last.bias)  # type: ignore[arg-type]

    def forward(self, x: Tensor) -> tuple[list[Tensor], Tensor]:
        """Features (B, C, h, w) to votes (B, 4, h, w), in cells, and features to be added.

        Votes are those for the plant, x and y, then those for the shoot: the first, and each time
        it was mended. No gradient reaches them by way of what they gather: they learn from the
        truth alone.
        """
        seen = self.look(x)
        votes = [self.where(seen).float()]
        for mend in self.mend:
            before = votes[-1].detach().nan_to_num().clamp(-_FARTHEST, _FARTHEST)
            votes.append(before + mend(self._around(seen, before)))
        what = self.what(seen).float().sigmoid()
        goal = votes[-1].detach()
        half = what.shape[1] // 2
        plants = gather(what[:, :half], goal[:, :2])
        shoots = gather(what[:, half:], goal[:, 2:])
        gathered = torch.cat([plants, shoots], 1).log1p().to(seen.dtype)
        added: Tensor = self.last(self.read(gathered))
        return votes, added

    def _around(self, seen: Tensor, votes: Tensor) -> Tensor:
        """What is seen here and where both votes land, and the votes themselves."""
        assert self.peek is not None
        peeked = self.peek(seen).float()
        there = [_seen_at(peeked, votes[:, k : k + 2]).to(seen.dtype) for k in (0, 2)]
        return torch.cat([seen, *there, (votes / 16).to(seen.dtype)], 1)


class Tally(nn.Module):
    """Plants and shoots per block by how votes lie, whatever the leaves look like.

    It sees where crop leaves gather, from how far, and where they are, nothing else of the
    picture: so it counts heaps of votes and can't go by texture or by the stage. No gradient
    reaches what it sees.
    """

    def __init__(self, width: int) -> None:
        super().__init__()
        self.fine = nn.ModuleList([Conv(5, width, 5), Conv(width, width)])
        self.middle = nn.ModuleList([Conv(width, width, 3, 2), Conv(width, width)])
        self.coarse = nn.ModuleList([Conv(width, width, 3, 2), Conv(width, width)])
        self.rate = nn.Conv2d(width, 2, 1)

    def start(self) -> None:
        """Few to begin with."""
        nn.init.normal_(self.rate.weight, std=0.01)
        nn.init.constant_(self.rate.bias, FEW)  # type: ignore[arg-type]

    def forward(self, crop: Tensor, votes: Tensor) -> Tensor:
        """Share of crop (B, 1, h, w) and votes (B, 4, h, w) to rates (B, 2, h/4, w/4)."""
        crop, votes = crop.detach(), votes.detach()
        maps = [crop]
        for k in (0, 2):
            where = votes[:, k : k + 2]
            way = where.norm(dim=1, keepdim=True).log1p()
            heaps = gather(torch.cat([crop, crop * way], 1), where)
            maps += [heaps[:, :1].log1p(), heaps[:, 1:] / (heaps[:, :1] + 0.5)]
        x = torch.cat(maps, 1)
        for first, second in (self.fine, self.middle, self.coarse):
            x = first(x)
            x = x + second(x)
        return F.softplus(self.rate(x).float())


def _places(rows: int, columns: int, like: Tensor) -> tuple[Tensor, Tensor]:
    """Row and column (rows, columns) of every cell."""
    y, x = torch.meshgrid(
        torch.arange(rows, device=like.device), torch.arange(columns, device=like.device),
        indexing="ij",
    )
    return y, x


def _seen_at(features: Tensor, where: Tensor) -> Tensor:
    """Features (B, C, h, w) at the places (B, 2, h, w) pointed at; zero off the picture."""
    rows, columns = features.shape[2:]
    y, x = _places(rows, columns, features)
    across = ((where[:, 0] + x + 0.5) * (2 / columns) - 1).nan_to_num(-2.0).clamp(-2.0, 2.0)
    down = ((where[:, 1] + y + 0.5) * (2 / rows) - 1).nan_to_num(-2.0).clamp(-2.0, 2.0)
    return F.grid_sample(features, torch.stack([across, down], -1), align_corners=False)


def gather(what: Tensor, where: Tensor) -> Tensor:
    """Values (B, K, h, w) summed at the places (B, 2, h, w) that they are sent to.

    ``where`` is x and y relative to the value's own cell, in cells; a value is shared by the four
    cells around its goal. What is sent off the picture is lost.
    """
    n, kinds, rows, columns = what.shape
    y, x = _places(rows, columns, what)
    # goals far outside are all alike; a number that isn't finite must not be a place
    goal_x = (where[:, 0] + x).nan_to_num(-9.0).clamp(-9.0, columns + 9.0).flatten(1)
    goal_y = (where[:, 1] + y).nan_to_num(-9.0).clamp(-9.0, rows + 9.0).flatten(1)
    left, top = goal_x.floor(), goal_y.floor()
    right_share, down_share = goal_x - left, goal_y - top
    # all kinds of a cell side by side: one place to look up for each cell
    flat = what.movedim(1, -1).reshape(-1, kinds)
    total = flat.new_zeros((n * rows * columns, kinds))
    first = torch.arange(n, device=what.device)[:, None] * (rows * columns)
    for down in (0, 1):
        for right in (0, 1):
            at_x, at_y = left + right, top + down
            inside = (at_x >= 0) & (at_x < columns) & (at_y >= 0) & (at_y < rows)
            share = (right_share if right else 1 - right_share) * (
                down_share if down else 1 - down_share
            )
            at = at_y.clamp(0, rows - 1) * columns + at_x.clamp(0, columns - 1)
            total.index_add_(
                0, (at.long() + first).flatten(), flat * (share * inside).view(-1, 1)
            )
    return total.view(n, rows, columns, kinds).movedim(-1, 1)
