"""Tiny painted scenes in the disk format of scenes, for tests of reading and training."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

__all__ = ["paint_scene", "paint_scenes"]

SIDE_MM = 120.0


def paint_scene(
    folder: Path,
    name: str,
    seed: int,
    size: tuple[int, int] = (400, 320),
    plants: int | None = None,
) -> dict:
    """Green strokes from true bases on brown ground, seen by a slightly tilted camera."""
    rng = np.random.default_rng(seed)
    width, height = size
    mm = SIDE_MM / (0.55 * height)
    angle = rng.uniform(0, 2 * math.pi)
    cos, sin = math.cos(angle) / mm, math.sin(angle) / mm
    # y on the ground points up in the photo: a right-handed ground plane seen from above.
    ground_to_photo = np.array(
        [
            [cos, sin, width / 2 - 0.5],
            [sin, -cos, height / 2 - 0.5],
            [rng.normal(0, 1e-5), rng.normal(0, 1e-5), 1.0],
        ]
    )

    def to_px(x: float, y: float) -> tuple[float, float]:
        u = ground_to_photo @ [x, y, 1.0]
        return float(u[0] / u[2]), float(u[1] / u[2])

    brown = np.array([120, 95, 70]) + rng.normal(0, 12, (height, width, 3))
    photo = Image.fromarray(brown.clip(0, 255).astype(np.uint8))
    classes = Image.new("L", size, 0)
    owners = Image.new("I", size, 0)
    of_shoot = ImageDraw.Draw(owners)
    draw, ids = ImageDraw.Draw(photo), ImageDraw.Draw(classes)
    reach = 0.9 * SIDE_MM
    n = int(rng.integers(3, 40)) if plants is None else plants
    rows, shoots = [], []
    half = SIDE_MM / 2
    for i in range(n):
        x, y = rng.uniform(-reach, reach, 2)
        px, py = to_px(x, y)
        inside = int(abs(x) <= half and abs(y) <= half)
        k = int(rng.integers(1, 4))
        for _ in range(k):
            sx, sy = x + rng.normal(0, 1.5), y + rng.normal(0, 1.5)
            qx, qy = to_px(sx, sy)
            turn, length = rng.uniform(0, 2 * math.pi), rng.uniform(8, 20) / mm
            tip = (qx + length * math.cos(turn), qy + length * math.sin(turn))
            green = (60 + int(rng.integers(0, 30)), 130 + int(rng.integers(0, 40)), 50)
            draw.line([(qx, qy), tip], fill=green, width=3)
            ids.line([(qx, qy), tip], fill=2, width=3)
            of_shoot.line([(qx, qy), tip], fill=len(shoots) + 1, width=3)
            shown = int(abs(sx) <= half and abs(sy) <= half)
            shoots.append([i, sx, sy, qx, qy, shown, 1.0])
        rows.append([x, y, px, py, inside, k, 1.0])
    corners = [to_px(x, y) for x, y in ((-half, -half), (half, -half), (half, half), (-half, half))]
    loop = [*corners, corners[0]]
    draw.line(loop, fill=(230, 230, 235), width=4)
    ids.line(loop, fill=4, width=4)
    of_shoot.line(loop, fill=0, width=4)
    folder.mkdir(parents=True, exist_ok=True)
    photo.save(folder / f"{name}.jpg", quality=92)
    classes.save(folder / f"{name}.png")
    numbers = np.asarray(owners).astype(np.uint16)
    Image.fromarray(numbers).save(folder / f"{name}.shoots.png")
    scene = {
        "schema": "tillercount.scene/1",
        "seed": seed,
        "width": width,
        "height": height,
        "stick_px": [],
        "area": {"kind": "square", "text": f"square:{SIDE_MM:g}mm", "tube_mm": 5.0},
        "outline_px": corners,
        "inside_edge_px": corners,
        "ground_to_photo": ground_to_photo.tolist(),
        "camera": {"height_mm": 900.0, "tilt_deg": 1.0, "focal_px": 500.0},
        "plants": rows,
        "shoots": shoots,
        "weeds": [],
        "counts": {
            "plants": sum(r[4] for r in rows),
            "shoots": sum(s[5] for s in shoots),
        },
        "params": {},
    }
    (folder / f"{name}.json").write_text(json.dumps(scene), encoding="utf-8")
    return scene


def paint_scenes(folder: Path, count: int, seed: int = 0) -> list[dict]:
    """Several scenes, in two shards."""
    return [
        paint_scene(folder / f"shard_{i % 2:03d}", f"{seed + i:06d}", seed + i)
        for i in range(count)
    ]
