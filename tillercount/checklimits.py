"""The limits of the photo checks, and how a measured value is held against them.

The limits are the project's own judgement of what a count can bear; they stand together in
`LIMITS`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tillercount.check import Check, Level

__all__ = ["LIMITS", "clipped", "judged", "percent"]

LIMITS: dict[str, tuple[float, float]] = {
    # name: (lowers confidence beyond, refused beyond)
    "photo size": (320.0, 200.0),  # px on the short side; here less is worse
    "photo glare": (0.15, 0.50),
    "photo darkness": (0.30, 0.70),
    "sharpness": (2.2, 3.8),  # mm; blades of young cereals are 3 to 6 mm wide
    "scale": (0.6, 1.2),  # mm per pixel
    "tilt": (15.0, 25.0),  # degrees
    "camera height": (1.0, math.inf),  # of the usual range; warns of a size in a wrong unit
    "cut off": (0.02, 0.15),
    "glare": (0.05, 0.25),
    "darkness": (0.15, 0.40),
    "snow or frost": (0.08, 0.20),  # pale stones reach 5 %
    "shadow line": (0.08, math.inf),  # costs certainty, never the photo
}

DARK, BRIGHT = 12, 250
"""Of 255: below and above these a pixel holds no more detail."""


def judged(name: str, value: float, unit: str, found: str, remedy: str) -> Check:
    """Hold a value against its two limits; for "photo size" less is worse."""
    lower, refuse = LIMITS[name]
    sign = -1.0 if refuse < lower else 1.0
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
    return f"{value:g}°" if unit == "°" else f"{value:g} {unit}"


def percent(share: float) -> str:
    return f"{share * 100:.0f} %" if share >= 0.01 or share == 0 else "under 1 %"


def clipped(rgb: NDArray[np.uint8]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the brightest channel is black, and where even the darkest one is burnt out."""
    return rgb.max(axis=2) < DARK, rgb.min(axis=2) >= BRIGHT
