"""Cutting a shape into compact blocks of stated area, and even drawing from a shape."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tillercount.plan.ground import Metres

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

__all__ = ["Turned", "even_in", "point_in_block", "turned_lengthwise"]


@dataclass(frozen=True)
class Turned:
    """A shape turned so that its longest side lies along x; ``back`` turns points again."""

    shape: Polygon | MultiPolygon
    angle_rad: float

    def back(self, where: Metres) -> Metres:
        """(N, 2) metres in the plane the shape came from."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return np.column_stack(
            [cos * where[:, 0] - sin * where[:, 1], sin * where[:, 0] + cos * where[:, 1]]
        )

    def blocks(self, weights: Sequence[float]) -> list[BaseGeometry]:
        """Blocks, still turned, whose areas stand to one another like ``weights``.

        Rows across the short side, each row cut crosswise; as many rows as make the blocks about
        as long as wide.
        """
        n = len(weights)
        west, south, east, north = self.shape.bounds
        rows = min(n, max(1, round(math.sqrt(n * (north - south) / max(east - west, 1e-9)))))
        groups = [list(part) for part in np.array_split(np.asarray(weights, float), rows)]
        strips = _cut(self.shape, [sum(group) for group in groups], along_x=False)
        return [
            block
            for strip, group in zip(strips, groups, strict=True)
            for block in _cut(strip, group, along_x=True)
        ]


def turned_lengthwise(shape: Polygon | MultiPolygon) -> Turned:
    """Turn a shape by the direction of the longer side of its smallest enclosing rectangle."""
    import shapely
    from shapely import affinity

    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))
    sides = np.diff(corners[:3], axis=0)
    longest = sides[int(np.hypot(*sides.T).argmax())]
    angle = math.atan2(longest[1], longest[0])
    flat = affinity.rotate(shape, -angle, origin=(0, 0), use_radians=True)
    return Turned(flat, angle)


def _cut(shape: BaseGeometry, weights: Sequence[float], *, along_x: bool) -> list[BaseGeometry]:
    import shapely

    if len(weights) == 1:
        return [shape]
    west, south, east, north = shape.bounds
    cuts = [
        _place_of_share(shape, share, along_x=along_x)
        for share in np.cumsum(weights)[:-1] / np.sum(weights)
    ]
    edges = [west if along_x else south, *cuts, east if along_x else north]
    out = []
    for low, high in itertools.pairwise(edges):
        box = (
            shapely.box(low, south, high, north) if along_x else shapely.box(west, low, east, high)
        )
        out.append(shape.intersection(box))
    return out


def _place_of_share(shape: BaseGeometry, share: float, *, along_x: bool) -> float:
    """Where a cut leaves this share of the area before it; by halving."""
    import shapely

    west, south, east, north = shape.bounds
    low, high = (west, east) if along_x else (south, north)
    wanted = share * shape.area
    for _ in range(48):
        middle = (low + high) / 2
        part = (
            shapely.clip_by_rect(shape, west - 1, south - 1, middle, north + 1)
            if along_x
            else shapely.clip_by_rect(shape, west - 1, south - 1, east + 1, middle)
        )
        if part.area < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def point_in_block(block: BaseGeometry, u: float, v: float) -> tuple[float, float]:
    """The place in a block at share ``u`` of its area along x and share ``v`` of that chord.

    With u and v even on 0..1 the place is even on the block, whatever its shape: the chance to
    fall on a chord goes with its length, the place on it is even.
    """
    import shapely

    west, south, east, north = block.bounds
    x = _place_of_share(block, u, along_x=True)
    for nudge in (0.0, 1e-9, -1e-9, 1e-6, -1e-6, 1e-3, -1e-3):
        at = min(max(x + nudge * (east - west), west), east)
        chord = block.intersection(shapely.LineString([(at, south - 1), (at, north + 1)]))
        pieces = [p for p in shapely.get_parts(chord) if p.length > 0]
        if pieces:
            break
    else:
        inner = block.representative_point()
        return float(inner.x), float(inner.y)
    pieces.sort(key=lambda piece: piece.bounds[1])
    rest = v * sum(piece.length for piece in pieces)
    for piece in pieces:
        if rest <= piece.length:
            break
        rest -= piece.length
    return float(at), float(piece.bounds[1] + min(rest, piece.length))


def even_in(shape: BaseGeometry, n: int, rng: np.random.Generator) -> Metres:
    """(n, 2) places drawn evenly and independently from a shape of any form."""
    import shapely

    shapely.prepare(shape)
    west, south, east, north = shape.bounds
    filled = shape.area / ((east - west) * (north - south))
    batch = min(200_000, math.ceil(n / filled * 1.3) + 16)
    kept = np.empty((0, 2))
    while len(kept) < n:
        tries = rng.uniform((west, south), (east, north), (batch, 2))
        kept = np.concatenate([kept, tries[shapely.contains_xy(shape, tries[:, 0], tries[:, 1])]])
    return kept[:n]
