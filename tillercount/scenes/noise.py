"""Random fields and colours that several parts of a scene draw from."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

__all__ = ["fractal", "lab_to_linear", "linear_to_srgb", "srgb_to_linear", "value_noise"]

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
    rows, columns = shape
    fy = np.fft.fftfreq(rows).astype(np.float32)[:, None]
    fx = np.fft.rfftfreq(columns).astype(np.float32)[None, :]
    f2 = fy * fy + fx * fx
    f2[0, 0] = 1.0
    gain = f2 ** np.float32(-beta / 4)
    gain[0, 0] = 0.0
    if cut_px:
        gain *= np.exp(-f2 * np.float32(cut_px**2))
    white = fft.rfft2(rng.standard_normal(shape, dtype=np.float32))
    field = fft.irfft2(white * gain, s=shape)
    field /= field.std() + 1e-12
    return np.asarray(field, np.float32)


def value_noise(points: NDArray[np.float64], scale: float, rng: np.random.Generator) -> Array:
    """Smooth noise in -1..1 at scattered points of shape (N, 2), with bumps of size `scale`."""
    table = rng.uniform(-1, 1, (64, 64)).astype(np.float32)
    p = points / scale
    i = np.floor(p).astype(int)
    t = p - i
    t = t * t * (3 - 2 * t)
    x0, y0 = i[:, 0] % 64, i[:, 1] % 64
    x1, y1 = (x0 + 1) % 64, (y0 + 1) % 64
    top = table[y0, x0] * (1 - t[:, 0]) + table[y0, x1] * t[:, 0]
    low = table[y1, x0] * (1 - t[:, 0]) + table[y1, x1] * t[:, 0]
    return np.asarray(top * (1 - t[:, 1]) + low * t[:, 1], np.float32)


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
    return np.asarray(
        np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055),
        np.float32,
    )


def srgb_to_linear(srgb: Array) -> Array:
    """Inverse of `linear_to_srgb`."""
    x = np.clip(srgb, 0, 1)
    return np.asarray(np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4), np.float32)
