"""Random fields and colours that several parts of a scene draw from."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

__all__ = [
    "fractal", "lab_to_linear", "linear_to_srgb", "noise_table", "srgb_to_linear", "value_noise",
]

Array = NDArray[np.float32]


def fractal(
    shape: tuple[int, int], beta: float, rng: np.random.Generator, cut_px: float = 0.0
) -> Array:
    """Gaussian random field with power ∝ 1/frequency**beta, mean 0, standard deviation 1.

    Parameters
    ----------
    shape : (rows, columns)
    beta : 0 is white, 2 is cloud-like, 4 is very smooth
    cut_px : detail finer than this many pixels is left out

    Returns
    -------
    ndarray of shape `shape`, float32
    """
    white = fft.rfft2(rng.standard_normal(shape, dtype=np.float32))
    gain = _slope(shape, beta)
    if cut_px:
        gain = gain * np.exp(-_frequency2(shape) * np.float32(cut_px**2))
    white *= gain
    field = fft.irfft2(white, s=shape, overwrite_x=True)
    field /= field.std() + 1e-12
    return np.asarray(field, np.float32)


@lru_cache(maxsize=4)
def _frequency2(shape: tuple[int, int]) -> Array:
    """Square of the frequency of each term of a real transform (rows, columns // 2 + 1)."""
    fy = np.fft.fftfreq(shape[0]).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(shape[1]).astype(np.float32)[None, :]
    f2 = fy * fy + fx * fx
    f2[0, 0] = 1.0
    return f2


@lru_cache(maxsize=16)
def _slope(shape: tuple[int, int], beta: float) -> Array:
    """Amplitude of each term for power ∝ 1/frequency**beta; none for the mean."""
    gain = _frequency2(shape) ** np.float32(-beta / 4)
    gain[0, 0] = 0.0
    return np.asarray(gain)


def noise_table(rng: np.random.Generator) -> Array:
    """Values for `value_noise`, (64, 64)."""
    return rng.uniform(-1, 1, (64, 64)).astype(np.float32)


def value_noise(points: NDArray[np.float64], scale: float, tables: Array) -> Array:
    """Smooth noise in -1..1 with bumps of size `scale`.

    Parameters
    ----------
    points : ndarray (K, N, 2), N places for each of K tables
    tables : ndarray (K, 64, 64), each from `noise_table`

    Returns
    -------
    ndarray (K, N) float32
    """
    p = points / scale
    i = np.floor(p).astype(int)
    t = p - i
    tx, ty = np.moveaxis(t * t * (3 - 2 * t), -1, 0)
    x0, y0 = i[..., 0] % 64, i[..., 1] % 64
    x1, y1 = (x0 + 1) % 64, (y0 + 1) % 64
    k = np.arange(len(tables))[:, None]
    top = tables[k, y0, x0] * (1 - tx) + tables[k, y0, x1] * tx
    low = tables[k, y1, x0] * (1 - tx) + tables[k, y1, x1] * tx
    return np.asarray(top * (1 - ty) + low * ty, np.float32)


def lab_to_linear(lightness: ArrayLike, chroma: ArrayLike, hue_deg: ArrayLike) -> Array:
    """Linear sRGB of CIE L*C*h (D65), clipped to 0..1; shape (..., 3).

    Source: CIE 15:2004 (L*a*b*), IEC 61966-2-1 (sRGB primaries).
    """
    light, chroma_, hue = np.broadcast_arrays(
        np.asarray(lightness, float), np.asarray(chroma, float),
        np.deg2rad(np.asarray(hue_deg, float)),
    )
    fy = (light + 16) / 116
    fx = fy + chroma_ * np.cos(hue) / 500
    fz = fy - chroma_ * np.sin(hue) / 200
    f = np.stack([fx, fy, fz], -1)
    xyz = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    xyz *= np.array([0.95047, 1.0, 1.08883])
    matrix = np.array(
        [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    )
    return np.asarray(np.clip(xyz @ matrix.T, 0.0, 1.0), np.float32)


def linear_to_srgb(linear: Array) -> Array:
    """sRGB transfer curve (IEC 61966-2-1), values 0..1."""
    x = np.clip(linear, 0, 1)
    y = np.log(np.maximum(x, 1e-9))
    y *= 1 / 2.4
    np.exp(y, out=y)
    y *= 1.055
    y -= 0.055
    return np.asarray(np.where(x <= 0.0031308, 12.92 * x, y), np.float32)


def srgb_to_linear(srgb: Array) -> Array:
    """Inverse of `linear_to_srgb`."""
    x = np.clip(srgb, 0, 1)
    return np.asarray(np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4), np.float32)
