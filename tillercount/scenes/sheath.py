"""Sheaths of a shoot's leaves, one within the other: the pseudostem of a young cereal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tillercount.scenes.harm import FAR_LIFT_MM
from tillercount.scenes.mesh import Mesh, strip_faces

__all__ = ["sheaths"]


def sheaths(stems: list[tuple[NDArray[np.float64], ...]]) -> Mesh:
    """Tapered six-sided pseudostems from the ground to the last collar.

    Each of ``stems`` is foot (3,) and top (3,), mm; radius (1,), mm; linear colour (3,); and the
    number of the shoot (1,).
    """
    foot = np.array([s[0] for s in stems])
    top = np.array([s[1] for s in stems])
    radius = np.array([s[2] for s in stems])
    colour = np.array([s[3] for s in stems])
    owner = np.array([s[4][0] for s in stems])
    n, along, around = len(stems), 4, 6
    t = np.linspace(0, 1, along)[None, :, None, None]
    ring = np.linspace(0, 2 * np.pi, around, endpoint=False)
    circle = np.stack([np.cos(ring), np.sin(ring), np.zeros(around)], -1)
    below = foot - np.array([0, 0, 4.0 + FAR_LIFT_MM])
    axis = below[:, None, None] * (1 - t) + top[:, None, None] * t
    taper = (1.15 - 0.45 * t) * radius[:, :, None, None]
    v = axis + taper * circle[None, None]
    shade = (0.75 + 0.35 * t) * colour[:, None, None]
    colours = np.broadcast_to(np.clip(shade, 0, 1), v.shape)
    faces = strip_faces(n, along, around, closed=True)
    return Mesh(
        v.reshape(-1, 3).astype(np.float32), faces,
        colours.reshape(-1, 3).astype(np.float32),
        np.repeat(owner, len(faces) // n).astype(np.int32),
    )
