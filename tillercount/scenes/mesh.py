"""Triangle meshes with a colour per vertex and an owner per triangle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mesh", "ball", "box", "join", "strip_faces", "tube"]


@dataclass(frozen=True)
class Mesh:
    """A triangle mesh in the scene's millimetres (x right, y away, z up).

    Attributes
    ----------
    vertices : ndarray (V, 3) float32, mm
    faces : ndarray (F, 3) int32
    colours : ndarray (V, 3) float32, linear reflectance
    owners : ndarray (F,) int32; which plant, shoot or weed a triangle belongs to, -1 nobody
    """

    vertices: NDArray[np.float32]
    faces: NDArray[np.int32]
    colours: NDArray[np.float32]
    owners: NDArray[np.int32]

    @staticmethod
    def empty() -> Mesh:
        """One tiny triangle far under the ground, so that a mesh is never without faces."""
        v = np.array([[0, 0, -900], [0.01, 0, -900], [0, 0.01, -900]], np.float32)
        return Mesh(
            v, np.array([[0, 1, 2]], np.int32), np.full((3, 3), 0.2, np.float32),
            np.array([-1], np.int32),
        )


def join(meshes: list[Mesh]) -> Mesh:
    """All meshes as one; an empty list gives the empty mesh."""
    meshes = [m for m in meshes if len(m.faces)]
    if not meshes:
        return Mesh.empty()
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]], dtype=np.int32)
    return Mesh(
        np.concatenate([m.vertices for m in meshes], dtype=np.float32),
        np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=True)], dtype=np.int32),
        np.concatenate([m.colours for m in meshes], dtype=np.float32),
        np.concatenate([m.owners for m in meshes], dtype=np.int32),
    )


def strip_faces(items: int, along: int, across: int, closed: bool = False) -> NDArray[np.int32]:
    """Faces of `items` grids of `along` × `across` vertices, stored item, along, across.

    Returns
    -------
    ndarray (items × F, 3) int32
    """
    a = np.arange(along - 1, dtype=np.int32)[:, None]
    c = np.arange(across if closed else across - 1, dtype=np.int32)[None, :]
    nxt = (c + 1) % across
    v00, v01 = a * across + c, a * across + nxt
    v10, v11 = v00 + across, v01 + across
    faces = np.stack([v00, v01, v11, v00, v11, v10], -1).reshape(1, -1, 3)
    offset = np.arange(items, dtype=np.int32) * (along * across)
    return np.asarray((faces + offset[:, None, None]).reshape(-1, 3), np.int32)


def tube(
    path: NDArray[np.float64],
    radius: NDArray[np.float64] | float,
    colour: NDArray[np.float32],
    *,
    sides: int = 10,
    squash: float = 1.0,
    square: bool = False,
    owner: int = -1,
) -> Mesh:
    """A tube along a path (N, 3): round, flattened (`squash` < 1), or with a square section."""
    path = np.asarray(path, float)
    n = len(path)
    ahead = np.gradient(path, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-12
    side = np.stack([-ahead[:, 1], ahead[:, 0], np.zeros(n)], -1)
    length = np.linalg.norm(side, axis=1, keepdims=True)
    side = np.where(length > 1e-3, side / np.maximum(length, 1e-9), np.array([1.0, 0, 0]))
    up = np.cross(ahead, side)
    if square:
        corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float)
        # doubled corners keep the faces flat-looking with smooth shading off
        ring = corner
    else:
        t = np.linspace(0, 2 * np.pi, sides, endpoint=False)
        ring = np.stack([np.cos(t), np.sin(t)], -1)
    r = np.broadcast_to(np.asarray(radius, float), (n,))[:, None, None]
    v = path[:, None] + r * (
        ring[None, :, :1] * side[:, None] + squash * ring[None, :, 1:] * up[:, None]
    )
    k = len(ring)
    faces = strip_faces(1, n, k, closed=True)
    caps = [[[0, i, i + 1], [(n - 1) * k, (n - 1) * k + i + 1, (n - 1) * k + i]] for i in
            range(1, k - 1)]
    faces = np.concatenate([faces, np.array(caps, np.int32).reshape(-1, 3)])
    colours = np.broadcast_to(np.asarray(colour, np.float32).reshape(-1, 1, 3), (n, k, 3))
    return Mesh(
        v.reshape(-1, 3).astype(np.float32), faces, colours.reshape(-1, 3).astype(np.float32),
        np.full(len(faces), owner, np.int32),
    )


def box(centre: object, half: object, colour: object, turn_rad: float = 0.0) -> Mesh:
    """A box with half sizes (x, y, z), turned about the vertical."""
    unit = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    v = (unit * np.asarray(half, float)) @ turn.T + np.asarray(centre, float)
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = np.array([f for a, b, d, e in quads for f in ((a, b, d), (a, d, e))], np.int32)
    return Mesh(
        v.astype(np.float32), faces,
        np.broadcast_to(np.asarray(colour, np.float32), (8, 3)).copy(),
        np.full(len(faces), -1, np.int32),
    )


def ball(rings: int = 6, sectors: int = 9) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Unit sphere as a grid: vertices ((rings+1) × sectors, 3) and faces."""
    lat = np.linspace(-np.pi / 2, np.pi / 2, rings + 1)[:, None]
    lon = np.linspace(0, 2 * np.pi, sectors, endpoint=False)[None]
    v = np.stack(
        [np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat) + 0 * lon], -1
    )
    return v.reshape(-1, 3), strip_faces(1, rings + 1, sectors, closed=True)
