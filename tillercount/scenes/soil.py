"""The colour map of the soil, painted a band of rows at a time so that it stays in the caches."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

__all__ = ["TILE_PX", "Snow", "Soil", "paint"]

TILE_PX = 512
"""Side of the fine patterns that repeat; the side of a colour map is a multiple of it."""
BAND_PX = 64
"""Rows painted at a time; a divisor of `TILE_PX`."""

Array = NDArray[np.float32]


@dataclass(frozen=True)
class Snow:
    """Patches of snow or hoar frost.

    Attributes
    ----------
    over : ndarray (n, n) float32 with `level`; where it is higher there is snow
    edge : how fast the cover grows with the height over the level
    white : ndarray (3,) float32, linear colour
    """

    over: Array
    level: np.float32
    edge: np.float32
    white: Array


@dataclass(frozen=True)
class Soil:
    """What the colour of a piece of soil is made of.

    Attributes
    ----------
    lightness : mean L*; base : ndarray (3,) float32, the linear colour that goes with it
    hollows : ndarray (n, n) float32, how far each place lies under its surroundings, mm
    wetness : 0 dry … 1 dark and wet in the hollows
    speck, crumb : ndarray (TILE_PX, TILE_PX) float32, fine periodic patterns of lightness
    patch : ndarray (n, n) float32, lighter and darker places; `patch_l` how much, L*
    tint : ndarray (n, n) float32, redder and bluer places; `tint_by` how much
    texture : ndarray (m, m, 3) float32, linear detail of real ground with mean 1, or None;
        `texture_by` its share
    """

    lightness: float
    base: Array
    hollows: Array
    wetness: float
    speck: Array
    crumb: Array
    patch: Array
    patch_l: np.float32
    tint: Array
    tint_by: np.float32
    texture: Array | None = None
    texture_by: float | np.float32 = 0.0
    snow: Snow | None = None


def _bands(size: int) -> Iterator[slice]:
    """The bands that make up `size` rows."""
    return (slice(first, first + BAND_PX) for first in range(0, size, BAND_PX))


def paint(soil: Soil, size: int) -> Array:
    """Linear colours (size, size, 3), 0.004 to 0.95; `size` is a multiple of `TILE_PX`."""
    low = _lows(soil, size)
    patch, tint = _Widened(soil.patch, size), _Widened(soil.tint, size)
    heap = _Widened(soil.snow.over, size) if soil.snow else None
    grain = np.float32(2.2) * (soil.speck + soil.crumb)
    grain = np.tile(grain + np.float32(soil.lightness), size // TILE_PX)
    # a table of steps of 0.01 L* instead of four million powers
    steps = np.arange(9501, dtype=np.float32) / np.float32(100 * soil.lightness)
    steps **= np.float32(2.6)
    detail = _detail(soil, size)
    out = np.empty((size, size, 3), np.float32)
    for rows in _bands(size):
        in_tile = slice(rows.start % TILE_PX, rows.start % TILE_PX + BAND_PX)
        light = soil.patch_l * patch.rows(rows)
        light += grain[in_tile]
        light -= _darker(low[rows], soil.wetness)
        np.clip(light, 4, 95, out=light)
        light *= 100
        gain = np.take(steps, light.astype(np.int16))
        planes = [base * gain for base in soil.base]
        redder = tint.rows(rows) * np.float32(0.05) * soil.tint_by
        planes[0] *= 1 + redder
        planes[2] *= 1 - redder
        for plane, fine in zip(planes, detail, strict=False):
            plane *= fine[np.arange(rows.start, rows.stop) % len(fine)]
        if soil.snow and heap:
            _cover(planes, heap.rows(rows), np.tile(soil.speck[in_tile], size // TILE_PX),
                   soil.snow)
        for plane in planes:
            np.clip(plane, 0.004, 0.95, out=plane)
        cv2.merge(planes, dst=out[rows])
    return out


def _lows(soil: Soil, size: int) -> Array:
    """How low each pixel lies, (size, size), in units of the spread of that."""
    hollows = _Widened(soil.hollows, size)
    low = np.empty((size, size), np.float32)
    for rows in _bands(size):
        low[rows] = hollows.rows(rows)
    low /= low.std() + np.float32(1e-6)
    return low


def _darker(low: Array, wetness: float) -> Array:
    """By how much L* wet places are darker; `low` is made use of."""
    low *= 8
    low += 6
    np.clip(low, 0, 22, out=low)
    low *= np.float32(wetness)
    return low


def _detail(soil: Soil, size: int) -> list[Array]:
    """Factors of the texture for each channel, (m, size), if there is one.

    They are repeated sideways, not yet down.
    """
    if soil.texture is None:
        return []
    fine = 1 + soil.texture_by * (soil.texture - 1)
    reps = -(-size // fine.shape[1])
    return [np.tile(fine[..., k], reps)[:, :size] for k in range(3)]


def _cover(planes: list[Array], over: Array, speck: Array, snow: Snow) -> None:
    """Lay snow over the planes (rows, size) of red, green and blue."""
    # from bare to white over a few millimetres, thinner on the lumps that stick out
    cover = np.clip((over - snow.level) * snow.edge - np.float32(0.15) * speck, 0, 1)
    for plane, white in zip(planes, snow.white, strict=True):
        plane *= 1 - cover
        plane += white * cover


@lru_cache(maxsize=8)
def _resizing(n: int, size: int) -> tuple[Any, list[Any]]:
    """A sparse matrix (size, n) that makes `size` pixels of `n` linearly, and the bands of it.

    The weights, in double precision, are those that Pillow's bilinear filter has.
    """
    at = (np.arange(size) + 0.5) * (n / size)
    low = np.maximum((at - 0.5).astype(int), 0)
    near = np.maximum(1 - np.abs(low - at + 0.5), 0)
    far = np.where(low + 1 < n, np.maximum(1 - np.abs(low + 1 - at + 0.5), 0), 0)
    weights = np.concatenate([near, far]) / np.tile(near + far, 2)
    columns = np.concatenate([low, np.minimum(low + 1, n - 1)])
    whole = sparse.csr_array((weights, (np.tile(np.arange(size), 2), columns)), shape=(size, n))
    return whole, [whole[rows] for rows in _bands(size)]


class _Widened:
    """A field (n, n) made larger linearly, in double precision, a band of rows at a time."""

    def __init__(self, field: Array, size: int) -> None:
        whole, self._bands = _resizing(len(field), size)
        wide = (whole @ np.ascontiguousarray(field.T, float)).astype(np.float32)
        self._sideways = np.ascontiguousarray(wide.T, float)

    def rows(self, rows: slice) -> Array:
        """One band of the larger field, (BAND_PX, size) float32."""
        return np.asarray(self._bands[rows.start // BAND_PX] @ self._sideways, np.float32)
