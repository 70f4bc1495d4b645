"""Sun and sky."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Light", "draw_light", "sky_picture"]


@dataclass(frozen=True)
class Light:
    """Sun by height and direction, sky by brightness and tint (relative units).

    `sun` is the irradiance of the sun on a surface facing it; `sky` the radiance of the zenith.
    """

    sun_height_deg: float
    sun_azimuth: float
    sun: NDArray[np.float32]
    sky: NDArray[np.float32]
    haze: float

    @property
    def travel(self) -> NDArray[np.float64]:
        """Direction in which sunlight travels, world coordinates."""
        h = np.deg2rad(self.sun_height_deg)
        return np.array([
            -np.cos(h) * np.cos(self.sun_azimuth), -np.cos(h) * np.sin(self.sun_azimuth),
            -np.sin(h),
        ])


def draw_light(rng: np.random.Generator) -> Light:
    """Any hour of a spring day: clear, hazy or overcast."""
    height = float(rng.uniform(8, 68))
    kind = rng.random()
    clear = rng.uniform(0.75, 1) if kind < 0.55 else (rng.uniform(0.1, 0.75) if kind < 0.75 else 0)
    warm = np.clip((30 - height) / 30, 0, 1)
    colour = np.array([1.0, 0.95 - 0.16 * warm, 0.88 - 0.38 * warm], np.float32)
    strength = 3.0 * clear * (0.55 + 0.45 * np.sin(np.deg2rad(height)))
    blue = np.array([0.72, 0.86, 1.1]) * clear + np.array([0.95, 0.98, 1.02]) * (1 - clear)
    sky = (0.07 + 0.22 * rng.random() + 0.25 * (1 - clear)) * blue
    return Light(
        height, float(rng.uniform(0, 2 * np.pi)), (colour * strength).astype(np.float32),
        sky.astype(np.float32), float(rng.uniform(0.1, 1.0)),
    )


def sky_picture(light: Light, rows: int = 64, columns: int = 128) -> NDArray[np.float32]:
    """Sky radiance over the whole sphere, (rows, columns, 3), row 0 the zenith.

    Brighter near the sun and towards the horizon; the lower half is dull ground light.
    """
    theta = (np.arange(rows) + 0.5) / rows * np.pi
    phi = (np.arange(columns) + 0.5) / columns * 2 * np.pi
    up = np.cos(theta)[:, None] + 0 * phi[None]
    x = np.sin(theta)[:, None] * np.cos(phi)[None]
    y = np.sin(theta)[:, None] * np.sin(phi)[None]
    to_sun = -light.travel
    near = np.clip(x * to_sun[0] + y * to_sun[1] + up * to_sun[2], -1, 1)
    glow = np.exp(-(1 - near) * 6) * light.haze * float(light.sun.mean())
    horizon = 1 + 0.5 * (1 - np.clip(up, 0, 1)) ** 3
    picture = light.sky[None, None] * (horizon + 1.2 * glow)[..., None]
    picture = np.where(up[..., None] > 0, picture, light.sky[None, None] * 0.25)
    return np.asarray(picture, np.float32)
