"""Where the camera stands and who stands behind it; other views of the same stand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from tillercount.scenes.camera import Camera, aim
from tillercount.scenes.light import draw_light
from tillercount.scenes.mesh import Mesh, box, join

if TYPE_CHECKING:
    from tillercount.scenes.draw import Scene

__all__ = ["another_view", "distance_for", "person", "reach_mm", "stand_over"]


DISTANCE_MM = (330.0, 1700.0)


def distance_for(lens_mm: float, photo_fill: float, area: dict[str, Any]) -> float:
    """From how far a person takes the photo, mm.

    ``lens_mm`` is the 35 mm equivalent, on the diagonal of 43.27 mm; ``photo_fill`` the share of
    the short side of a whole 4:3 photo that the marked area fills.
    """
    size = max(area["width_mm"], area["length_mm"])
    distance = lens_mm / 43.27 * (5 / 3) * size / photo_fill
    return float(np.clip(distance, *DISTANCE_MM))


def stand_over(
    p: dict[str, Any], area: dict[str, Any], width: int, height: int, rng: np.random.Generator
) -> Camera:
    """A camera whose picture the marked area fills to a share of its short side."""
    size = max(area["width_mm"], area["length_mm"])
    if area["kind"] == "rect":
        size *= 0.9
    focal = p["fill"] * min(width, height) * p["distance_mm"] / size
    slack = size * (1 / p["fill"] - 1) / 2
    way = rng.uniform(0, 2 * np.pi)
    aim_at = p["shift"] * (slack + 20) * np.array([np.cos(way), np.sin(way)])
    yaw = rng.uniform(0, 2 * np.pi)
    return aim(aim_at, p["distance_mm"], p["tilt_deg"], rng.uniform(0, 2 * np.pi), yaw, focal,
               width, height)


def another_view(scene: Scene, number: int, tries: int = 12) -> Scene:
    """The same stand and frame by another light, from another place; ``number`` from 1 on.

    The camera sees no further than that of ``scene``: beyond that nothing grows.
    """
    rng = np.random.default_rng([scene.seed, 7, number])
    reach, near = reach_mm(scene.camera), scene.camera
    p = dict(scene.params)
    for _ in range(tries):
        p |= {
            "distance_mm": float(scene.params["distance_mm"] * rng.uniform(0.8, 1.25)),
            "tilt_deg": float(abs(rng.normal(0, 6)) if rng.random() < 0.8 else rng.uniform(8, 25)),
            "shift": float(rng.uniform(0, 0.35)),
            "fill": float(min(1.0, scene.params["fill"] * rng.uniform(0.95, 1.15))),
            "photographer": bool(rng.random() < 0.45),
        }
        near = stand_over(p, scene.area, scene.camera.width, scene.camera.height, rng)
        if reach_mm(near) <= reach:
            break
    else:
        near, p = scene.camera, dict(scene.params)
    someone = person(near, rng) if p["photographer"] else Mesh.empty()
    return replace(
        scene, light=draw_light(rng), camera=near, view=number, params=p | {"view": number},
        parts={**scene.parts, "person": someone},
    )


def reach_mm(camera: Camera) -> float:
    """Half side of the square on the ground that the picture can show."""
    h = np.linalg.inv(camera.plane_to_photo(0.0))
    w, n = camera.width, camera.height
    corners = np.array([[0, 0, 1], [w, 0, 1], [w, n, 1], [0, n, 1]], float) @ h.T
    xy = corners[:, :2] / corners[:, 2:]
    return float(np.clip(np.abs(xy).max() + 40, 150, 1100))


def person(camera: Camera, rng: np.random.Generator) -> Mesh:
    """The photographer behind the camera, there for the shadow only."""
    back = camera.down[:2] / (np.linalg.norm(camera.down[:2]) + 1e-9)
    foot = camera.place_mm[:2] + back * rng.uniform(330, 600)
    turn = float(np.arctan2(back[1], back[0]))
    dark = [0.1, 0.1, 0.1]
    z = camera.place_mm[2]
    return join([
        box([*foot, 700], [110, 200, 700], dark, turn),
        box([*foot, 1560], [100, 90, 160], dark, turn),
        box([*camera.place_mm[:2], z + 60], [38, 75, 5], dark, turn),
    ])
