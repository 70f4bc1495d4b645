"""From radiance to the picture that a phone writes: exposure, colour, blur, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tillercount.scenes.noise import linear_to_srgb

__all__ = ["Develop", "develop", "draw_develop"]


@dataclass(frozen=True)
class Develop:
    """How a picture is developed."""

    target: float = 0.42
    white: tuple[float, float, float] = (1.0, 1.0, 1.0)
    contrast: float = 0.2
    saturation: float = 1.1
    vignette: float = 0.1
    defocus_px: float = 0.5
    motion_px: float = 0.0
    motion_way: float = 0.0
    shot: float = 0.003
    read: float = 0.002
    sharpen: float = 0.4
    quality: int = 90


def draw_develop(rng: np.random.Generator) -> Develop:
    """Draw a phone's way of developing."""
    cast = rng.normal(0, 0.08)
    return Develop(
        target=float(np.clip(rng.normal(0.35, 0.08), 0.17, 0.6)),
        white=(float(np.exp(cast)), 1.0, float(np.exp(-cast + rng.normal(0, 0.03)))),
        contrast=float(rng.uniform(0, 0.5)),
        saturation=float(rng.uniform(0.75, 1.45)),
        vignette=float(rng.uniform(0, 0.3)),
        defocus_px=float(abs(rng.normal(0, 0.6)) + (rng.uniform(0.6, 1.6)
                         if rng.random() < 0.12 else 0)),
        motion_px=float(rng.uniform(1, 5) if rng.random() < 0.1 else 0),
        motion_way=float(rng.uniform(0, np.pi)),
        shot=float(np.exp(rng.uniform(-8.0, -4.6))),
        read=float(np.exp(rng.uniform(-7.5, -4.6))),
        sharpen=float(rng.uniform(0, 0.9)),
        quality=int(rng.integers(78, 96)),
    )


def develop(
    radiance: NDArray[np.float32], how: Develop, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Develop linear radiance (H, W, 3) into sRGB uint8 (H, W, 3)."""
    x = np.nan_to_num(np.maximum(radiance, 0), posinf=0.0)
    lum = x.mean(-1)
    np.minimum(x, np.percentile(lum, 99.9) * 4, out=x)  # stray bright samples
    grey = np.exp(np.log(lum + 1e-4).mean())
    x *= np.asarray(how.white, np.float32) * (0.18 * (how.target / 0.42) ** 2.2 / grey)
    h, w = lum.shape
    far = np.linspace(-1, 1, h, dtype=np.float32)[:, None] ** 2
    far = far + np.linspace(-1, 1, w, dtype=np.float32)[None] ** 2
    x *= (1 - how.vignette / 2 * far)[..., None]
    if how.defocus_px > 0.15:
        x = _soft(x, how.defocus_px)
    if how.motion_px >= 1:
        x = _moved(x, how.motion_px, how.motion_way)
    noise = np.minimum(x, 4)
    noise *= how.shot
    noise += how.read**2
    np.sqrt(noise, out=noise)
    noise *= rng.standard_normal(x.shape, dtype=np.float32)
    x += noise
    luma = (x @ np.array([0.2126, 0.7152, 0.0722], np.float32))[..., None]
    x = luma + how.saturation * (x - luma)
    np.maximum(x, 0, out=x)
    x = x * (1.65 + 0.2475 * x) / (1 + x * 0.9)  # soft shoulder
    y = linear_to_srgb(x)
    y += how.contrast * 0.5 * (y - 0.45) * (1 - np.abs(2 * y - 1))
    if how.sharpen > 0.05:
        y += how.sharpen * (y - _soft(y, 1.0))
    return np.asarray(np.clip(y * 255 + 0.5, 0, 255), np.uint8)


def _soft(picture: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    return ndimage.gaussian_filter(picture, (sigma_px, sigma_px, 0), truncate=3.0)


def _moved(picture: NDArray[np.float32], length_px: float, way: float) -> NDArray[np.float32]:
    """Smear along a straight line; (H, W, 3) as it came."""
    reach = int(np.ceil(length_px / 2)) + 1
    taps = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    for s in np.linspace(-0.5, 0.5, 8 * reach + 1) * length_px:
        at = np.array([s * np.sin(way), s * np.cos(way)]) + reach
        low = np.floor(at).astype(int)
        r, c = at - low
        taps[low[0] : low[0] + 2, low[1] : low[1] + 2] += np.outer([1 - r, r], [1 - c, c])
    taps /= taps.sum()
    wide = np.pad(picture, ((reach, reach), (reach, reach), (0, 0)), mode="edge")
    out = np.zeros_like(picture)
    h, w = picture.shape[:2]
    for i, j in np.argwhere(taps > 0):
        out += taps[i, j] * wide[i : i + h, j : j + w]
    return out
