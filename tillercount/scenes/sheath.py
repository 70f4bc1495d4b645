"""Sheaths of a shoot's leaves, one within the other: the pseudostem of a young cereal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.harm import FAR_LIFT_MM
from tillercount.scenes.mesh import Mesh, strip_faces

__all__ = ["Stems", "sheaths"]


@dataclass(frozen=True)
class Stems:
    """Pseudostems of M shoots, in the order of the shoots.

    Attributes
    ----------
    foot_mm, top_mm : ndarray (M, 3), where each leaves the ground, and its last collar
    radius_mm : ndarray (M,)
    colour : ndarray (M, 3), linear
    """

    foot_mm: NDArray[np.float64]
    top_mm: NDArray[np.float64]
    radius_mm: NDArray[np.float64]
    colour: NDArray[np.float64]


def sheaths(stems: Stems) -> Mesh:
    """Tapered six-sided pseudostems from the ground to the last collar."""
    n, along, around = len(stems.radius_mm), 4, 6
    t = np.linspace(0, 1, along)[None, :, None, None]
    ring = np.linspace(0, 2 * np.pi, around, endpoint=False)
    circle = np.stack([np.cos(ring), np.sin(ring), np.zeros(around)], -1)
    below = stems.foot_mm - np.array([0, 0, 4.0 + FAR_LIFT_MM])
    axis = below[:, None, None] * (1 - t) + stems.top_mm[:, None, None] * t
    taper = (1.15 - 0.45 * t) * stems.radius_mm[:, None, None, None]
    v = axis + taper * circle[None, None]
    shade = (0.75 + 0.35 * t) * stems.colour[:, None, None]
    colours = np.broadcast_to(np.clip(shade, 0, 1), v.shape)
    faces = strip_faces(n, along, around, closed=True)
    return Mesh(
        v.reshape(-1, 3).astype(np.float32), faces,
        colours.reshape(-1, 3).astype(np.float32),
        np.repeat(np.arange(n, dtype=np.int32), len(faces) // n),
    )
