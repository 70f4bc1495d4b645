"""From radiance to the picture that a phone writes: exposure, colour, blur, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.noise import linear_to_srgb

__all__ = ["Develop", "develop", "draw_develop"]

BAND_PX = 32
"""Rows of a picture worked on at a time, so that they stay in the caches."""

Array = NDArray[np.float32]


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
    x = _exposed(radiance, how)
    if how.defocus_px > 0.15:
        x = _soft(x, how.defocus_px)
    if how.motion_px >= 1:
        x = _moved(x, how.motion_px, how.motion_way)
    for first in range(0, len(x), BAND_PX):
        band = x[first : first + BAND_PX]
        _add_noise(band, how, rng)
        band[...] = _toned(band, how)
    more = how.sharpen if how.sharpen > 0.05 else 0.0
    soft = _soft(x, 1.0) if more else x
    return np.asarray(
        cv2.addWeighted(x, 255 * (1 + more), soft, -255 * more, 0.0, dtype=cv2.CV_8U), np.uint8
    )


def _exposed(radiance: Array, how: Develop) -> Array:
    """Radiance (H, W, 3) at the chosen exposure and white balance, darker towards the corners."""
    x = np.maximum(radiance, 0)
    if not np.isfinite(x).all():
        x = np.nan_to_num(x, copy=False, posinf=0.0)
    lum = np.asarray(cv2.transform(x, np.full((1, 3), 1 / 3, np.float32)), np.float32)
    np.minimum(x, np.percentile(lum, 99.9) * 4, out=x)  # stray bright samples
    grey = np.exp(np.log(lum + np.float32(1e-4)).mean())
    white = np.asarray(how.white, np.float32) * (0.18 * (how.target / 0.42) ** 2.2 / grey)
    h, w = lum.shape
    down = np.linspace(-1, 1, h, dtype=np.float32)[:, None] ** 2
    along = np.repeat(np.linspace(-1, 1, w, dtype=np.float32) ** 2, 3)
    corners = down + along
    corners *= -how.vignette / 2
    corners += 1
    corners *= np.tile(white.astype(np.float32), w)
    x *= corners.reshape(x.shape)
    return x


def _add_noise(x: Array, how: Develop, rng: np.random.Generator) -> None:
    """Add the noise of light and of reading out to some rows (H, W, 3) of a picture."""
    noise = np.minimum(x, 4)
    noise *= how.shot
    noise += how.read**2
    np.sqrt(noise, out=noise)
    noise *= rng.standard_normal(x.shape, dtype=np.float32)
    x += noise


def _toned(x: Array, how: Develop) -> Array:
    """Linear values (H, W, 3) by the phone's taste: saturation, tone curve, sRGB, contrast."""
    grey = (1 - how.saturation) * np.array([[0.2126, 0.7152, 0.0722]], np.float32)
    mixed = cv2.transform(x, how.saturation * np.eye(3, dtype=np.float32) + grey)
    x = np.maximum(mixed, 0, dtype=np.float32)
    y = linear_to_srgb(x * (1.65 + 0.2475 * x) / (1 + x * 0.9))  # soft shoulder
    bend = np.abs(2 * y - 1)
    np.subtract(1, bend, out=bend)
    bend *= y - 0.45
    bend *= how.contrast * 0.5
    y += bend
    return y


def _soft(picture: Array, sigma_px: float) -> Array:
    """Gaussian blur of (H, W, 3), out to three standard deviations."""
    reach = int(3 * sigma_px + 0.5)
    taps = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma_px) ** 2)
    taps = (taps / taps.sum()).astype(np.float32)
    return np.asarray(
        cv2.sepFilter2D(picture, -1, taps, taps, borderType=cv2.BORDER_REFLECT), np.float32
    )


def _moved(picture: Array, length_px: float, way: float) -> Array:
    """Smear along a straight line; (H, W, 3) as it came."""
    reach = int(np.ceil(length_px / 2)) + 1
    taps = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
    for s in np.linspace(-0.5, 0.5, 8 * reach + 1) * length_px:
        at = np.array([s * np.sin(way), s * np.cos(way)]) + reach
        low = np.floor(at).astype(int)
        r, c = at - low
        taps[low[0] : low[0] + 2, low[1] : low[1] + 2] += np.outer([1 - r, r], [1 - c, c])
    taps /= taps.sum()
    return np.asarray(
        cv2.filter2D(picture, -1, taps, borderType=cv2.BORDER_REPLICATE), np.float32
    )
