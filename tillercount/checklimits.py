"""The limits of the photo checks, and how a measured value is held against them.

The limits are the project's own judgement of what a count can bear; they stand together in
`LIMITS`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tillercount.check import Check, Level

__all__ = ["LIMITS", "TOO_DARK", "clipped", "judged", "mean_brightness", "percent"]

LIMITS: dict[str, tuple[float, float]] = {
    # name: (lowers confidence beyond, refused beyond); of LESS_IS_WORSE below
    "photo size": (320.0, 200.0),  # px on the short side
    "photo brightness": (20.0, 20.0),  # of 255, in the mean; never flagged, the area is
    "photo glare": (0.15, 0.50),
    "photo darkness": (0.30, 0.70),
    "sharpness": (2.2, 3.8),  # mm; blades of young cereals are 3 to 6 mm wide
    "scale": (0.6, 1.2),  # mm per pixel
    "tilt": (15.0, 25.0),  # degrees
    "camera height": (1.0, math.inf),  # of the usual range; warns of a size in a wrong unit
    "cut off": (0.02, 0.15),
    "glare": (0.05, 0.25),
    "darkness": (0.15, 0.40),
    "brightness": (40.0, 20.0),  # of 255, in the mean; see `mean_brightness`
    "snow or frost": (0.08, 0.20),  # pale stones reach 5 %
    "shadow line": (0.08, math.inf),  # costs certainty, never the photo
}

LESS_IS_WORSE = frozenset({"photo size", "photo brightness", "brightness"})

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Of red, green and blue (ITU-R BT.709)."""

DARK, BRIGHT = 12, 250
"""Of 255: below and above these a pixel holds no more detail."""


def judged(name: str, value: float, unit: str, found: str, remedy: str) -> Check:
    """Hold a value against its two limits."""
    lower, refuse = LIMITS[name]
    sign = -1.0 if name in LESS_IS_WORSE else 1.0
    level: Level = "ok"
    if sign * value > sign * refuse:
        level = "refuse"
    elif sign * value > sign * lower:
        level = "lower"
    limit = refuse if level == "refuse" else lower
    shown = _shown(limit, unit)
    text = found if level == "ok" else f"{found} (limit {shown}): {remedy}"
    return Check(name, float(value), unit, limit, level, text)


def _shown(value: float, unit: str) -> str:
    if unit == "share":
        return f"{value * 100:.0f} %"
    if unit == "of 255":
        return f"{value:g}"
    return f"{value:g}°" if unit == "°" else f"{value:g} {unit}"


def percent(share: float) -> str:
    return f"{share * 100:.0f} %" if share >= 0.01 or share == 0 else "under 1 %"


def clipped(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the brightest channel is black, and where even the darkest one is burnt out."""
    return rgb.max(axis=2) < DARK, rgb.min(axis=2) >= BRIGHT


TOO_DARK = (
    "tap on the plants so that the phone exposes for them, or wait for more light; leaves are lost "
    "in the noise of a dark photo, and noise is taken for leaves"
)


def mean_brightness(pixels: NDArray[np.uint8]) -> float:
    """Mean luminance of sRGB values, shape (..., 3), 0 to 255.

    The limits are for what the phone's noise does to the count: darkened photos without any keep
    theirs with a twelfth of the light and less. 18 photos (6 of the samples, 12 rendered; outlines
    as found in full light) were given less light by the sRGB curve, with noise of 300 to 4,000
    electrons at white and 3 to 4 of reading, some smoothed as phones do, and saved as JPEG. Counts
    moved by 6 % of plants and 7 % of shoots where the mean was 40 to 60 (RMS of logarithms, 35
    pictures), by 14 and 12 % at 30 to 40 (37), by 20 and 29 % at 20 to 30 (55), by 44 and 52 %
    below 20 (50), which is more than the counter errs by itself; with the most noise by 69 and
    85 %. Of 334 photos that nobody darkened the darkest has 48, the samples have 139 to 150.
    """
    return float(pixels.reshape(-1, 3).mean(axis=0) @ np.array(LUMINANCE))
