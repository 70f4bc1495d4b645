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
    cast = rng.normal(0, 0.06)
    return Develop(
        target=float(np.clip(rng.normal(0.40, 0.07), 0.22, 0.6)),
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
    x = np.nan_to_num(np.clip(radiance, 0, None), posinf=0.0)
    lum = x.mean(-1)
    x = np.minimum(x, np.percentile(lum, 99.9) * 4)  # stray bright samples
    grey = np.exp(np.log(lum + 1e-4).mean())
    x = x * (0.18 * (how.target / 0.42) ** 2.2 / grey)
    x = x * np.asarray(how.white, np.float32)
    h, w = lum.shape
    yy, xx = np.mgrid[-1:1:h * 1j, -1:1:w * 1j]
    x = x * (1 - how.vignette * (xx**2 + yy**2)[..., None] / 2).astype(np.float32)
    if how.defocus_px > 0.15:
        x = ndimage.gaussian_filter(x, (how.defocus_px, how.defocus_px, 0))
    if how.motion_px >= 1:
        n = int(np.ceil(how.motion_px))
        shifts = np.linspace(-0.5, 0.5, 2 * n + 1) * how.motion_px
        x = np.mean([
            ndimage.shift(x, (s * np.sin(how.motion_way), s * np.cos(how.motion_way), 0),
                          order=1, mode="nearest") for s in shifts
        ], 0)
    noise = np.sqrt(how.shot * np.clip(x, 0, 4) + how.read**2)
    x = x + noise * rng.standard_normal(x.shape, dtype=np.float32)
    luma = (x @ np.array([0.2126, 0.7152, 0.0722], np.float32))[..., None]
    x = luma + how.saturation * (x - luma)
    x = np.clip(x, 0, None)
    x = x * (1 + 0.15 * x) / (1 + x * 0.9) * 1.65  # soft shoulder
    y = linear_to_srgb(np.clip(x, 0, 1))
    y = y + how.contrast * 0.5 * (y - 0.45) * (1 - np.abs(2 * y - 1))
    if how.sharpen > 0.05:
        y = y + how.sharpen * (y - ndimage.gaussian_filter(y, (1.0, 1.0, 0)))
    return np.asarray(np.clip(y * 255 + 0.5, 0, 255), np.uint8)
