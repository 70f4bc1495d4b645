"""Other plants among the crop: broadleaf rosettes and seedling grasses."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.leaf import BladeSet, blades
from tillercount.scenes.mesh import Mesh, join
from tillercount.scenes.noise import lab_to_linear

__all__ = ["grow_weeds"]

OVAL = np.array([0.12, 0.9, 1.0, 0.75, 0.45, 0.0])
SPOON = np.array([0.10, 0.25, 0.75, 1.0, 0.85, 0.1])
LANCE = np.array([0.3, 0.85, 1.0, 0.7, 0.35, 0.0])


def grow_weeds(
    places_mm: NDArray[np.float64],
    kinds: NDArray[np.int64],
    height_of: object,
    rng: np.random.Generator,
    *,
    size: float,
    crop_width: float = 1.0,
) -> Mesh:
    """Weeds at places (N, 2); kind 0 broadleaf, 1 grass. Owners are weed numbers.

    ``crop_width`` is the factor on the crop's width: grasses stay finer than it is.
    """
    broad: dict[int, list[BladeSet]] = {0: [], 1: [], 2: []}
    grass: list[BladeSet] = []
    ground = np.asarray(height_of(places_mm) if len(places_mm) else [])  # type: ignore[operator]
    sort = int(rng.integers(0, 3))
    for i, (xy, floor, kind) in enumerate(zip(places_mm, ground, kinds, strict=True)):
        foot = np.array([xy[0], xy[1], floor + 1.0])
        if kind == 1:
            grass.append(_grass(foot, i, size, min(1.0, crop_width), rng))
        else:
            which = sort if rng.random() < 0.7 else int(rng.integers(0, 3))
            broad[which].append(_rosette(foot, i, size, rng))
    out = []
    for which, shape in ((0, OVAL), (1, SPOON), (2, LANCE)):
        if broad[which]:
            out.append(
                blades(BladeSet.concat(broad[which]), height_of, rng, segments=8, fold=0.12,
                       profile=shape)
            )
    if grass:
        out.append(blades(BladeSet.concat(grass), height_of, rng, segments=8, fold=0.2))
    return join(out)


def _rosette(
    foot: NDArray[np.float64], owner: int, size: float, rng: np.random.Generator
) -> BladeSet:
    """Cotyledons to a rosette of a dozen leaves."""
    count = int(rng.choice([2, 4, 4, 6, 8, 12]))
    grown = rng.uniform(0.5, 1.4) * size
    length = rng.uniform(7, 14) * grown * (1 + 0.18 * np.arange(count)[::-1] / max(count, 1) * 6)
    length = length * rng.normal(1, 0.12, count)
    width = length * rng.uniform(0.35, 0.75)
    azimuth = rng.uniform(0, 6.3) + np.arange(count) * 2.4 + rng.normal(0, 0.25, count)
    if count <= 4:
        azimuth = rng.uniform(0, 6.3) + np.arange(count) * np.pi / (1 if count == 2 else 2)
    flat = np.deg2rad(rng.uniform(55, 85))
    colour = lab_to_linear(
        rng.uniform(28, 52) + rng.normal(0, 2, count), rng.uniform(16, 42),
        rng.uniform(108, 140) + rng.normal(0, 2, count),
    ).astype(float)
    return BladeSet(
        base_mm=np.repeat(foot[None], count, 0),
        azimuth=azimuth,
        lean_base=flat + rng.normal(0, 0.12, count),
        lean_mid=flat + 0.2 + rng.normal(0, 0.12, count),
        lean_tip=flat + 0.4 + rng.normal(0, 0.15, count),
        length_mm=np.clip(length, 4, 70),
        width_mm=np.clip(width, 2.5, 38),
        drift=rng.normal(0, 0.1, count),
        twist=rng.normal(0, 0.2, count),
        colour=colour,
        tip_colour=colour * 0.8,
        tip_from=np.full(count, 1.3),
        owner=np.full(count, owner),
    )


def _grass(
    foot: NDArray[np.float64], owner: int, size: float, finer: float, rng: np.random.Generator,
) -> BladeSet:
    """A seedling grass: finer than the crop, one to a few tillers."""
    count = int(rng.integers(2, 9))
    length = rng.uniform(22, 70, count) * size * rng.uniform(0.6, 1.1)
    colour = lab_to_linear(
        rng.uniform(32, 55) + rng.normal(0, 2, count), rng.uniform(18, 42),
        rng.uniform(112, 136) + rng.normal(0, 2, count),
    ).astype(float)
    lean = np.deg2rad(rng.uniform(10, 75, count))
    return BladeSet(
        base_mm=np.repeat(foot[None], count, 0) + rng.normal(0, 1.0, (count, 3)) * [1, 1, 0],
        azimuth=rng.uniform(0, 2 * np.pi, count),
        lean_base=lean,
        lean_mid=lean + rng.uniform(0, 0.5, count),
        lean_tip=lean + rng.uniform(0.1, 1.0, count),
        length_mm=length,
        width_mm=finer * np.clip(length * rng.uniform(0.02, 0.045), 0.8, 2.6),
        drift=rng.normal(0, 0.3, count),
        twist=rng.normal(0, 0.5, count),
        colour=colour,
        tip_colour=colour * 0.9,
        tip_from=np.full(count, 1.3),
        owner=np.full(count, owner),
    )
