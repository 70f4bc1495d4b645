"""A rendered photo on disk: JPEG, class map, truth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tillercount.scenes.develop import Develop, develop, draw_develop
from tillercount.scenes.draw import Scene

__all__ = ["inside_polygon", "render_to", "truth_of"]

SCHEMA = "tillercount.scene/1"
GENERATOR_VERSION = "16"


def inside_polygon(points: NDArray[np.float64], polygon: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which points (N, 2) lie inside a polygon (M, 2); even-odd rule."""
    x, y = points[:, :1], points[:, 1:]
    a, b = polygon, np.roll(polygon, -1, 0)
    crosses = (a[None, :, 1] > y) != (b[None, :, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1e-12, b[:, 1] - a[:, 1])
    at = a[None, :, 0] + (y - a[None, :, 1]) * ((b[:, 0] - a[:, 0]) / rise)[None]
    return np.asarray((crosses & (x < at)).sum(1) % 2 == 1)


def _projected_area_mm2(scene: Scene) -> NDArray[np.float64]:
    """Area that each shoot would show from straight above if nothing hid it, mm²."""
    m = scene.parts["crop"]
    t = m.vertices[:, :2].astype(float)[m.faces]
    u, v = t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]
    area = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    keep = m.owners >= 0
    shoots = max(len(scene.shoots.plant), 1)
    return np.bincount(m.owners[keep], area[keep], minlength=shoots).astype(np.float64)


def truth_of(scene: Scene, owners: NDArray[np.int32]) -> dict[str, Any]:
    """The JSON that goes with a photo: area, outlines, camera, plants, shoots, weeds, counts."""
    cam, frame, shoots = scene.camera, scene.frame, scene.shoots
    z0 = float(frame.outline_mm[0, 2]) if frame else 0.0
    outline = frame.outline_mm if frame else np.zeros((0, 3))
    flip = np.array([1.0, -1.0])

    def ground_px(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return cam.project(np.c_[xy, np.full(len(xy), z0)])

    def inside(xy: NDArray[np.float64]) -> NDArray[np.bool_]:
        if not len(outline) or not len(xy):
            return np.zeros(len(xy), bool)
        return inside_polygon(xy, outline[:, :2])

    seen_px = np.bincount(owners[owners >= 0], minlength=max(len(shoots.plant), 1)).astype(float)
    px_mm = float(np.linalg.norm(cam.place_mm)) / cam.focal_px
    share = np.clip(seen_px * px_mm**2 / np.maximum(_projected_area_mm2(scene), 1e-6), 0, 1)
    plant_n = np.bincount(shoots.plant, minlength=len(scene.plants_mm))
    plant_seen = np.zeros(len(scene.plants_mm))
    np.maximum.at(plant_seen, shoots.plant, share[: len(shoots.plant)])
    p_px, s_px = ground_px(scene.plants_mm), ground_px(shoots.base_mm)
    p_in, s_in = inside(scene.plants_mm), inside(shoots.base_mm)

    def near(px: NDArray[np.float64]) -> NDArray[np.bool_]:
        return np.asarray(
            (px[:, 0] > -60) & (px[:, 1] > -60) & (px[:, 0] < cam.width + 60)
            & (px[:, 1] < cam.height + 60)
        )

    keep_p = near(p_px)
    number = np.cumsum(keep_p) - 1
    keep_s = near(s_px) & keep_p[shoots.plant] if len(shoots.plant) else np.zeros(0, bool)
    plants = [
        [*np.round(xy * flip, 2).tolist(), *np.round(px, 2).tolist(), int(i), int(n),
         round(float(v), 3)]
        for xy, px, i, n, v in zip(scene.plants_mm[keep_p], p_px[keep_p], p_in[keep_p],
                                   plant_n[keep_p], plant_seen[keep_p], strict=True)
    ]
    shoot_rows = [
        [int(number[q]), *np.round(xy * flip, 2).tolist(), *np.round(px, 2).tolist(), int(i),
         round(float(v), 3)]
        for q, xy, px, i, v in zip(shoots.plant[keep_s], shoots.base_mm[keep_s], s_px[keep_s],
                                   s_in[keep_s], share[: len(keep_s)][keep_s], strict=True)
    ]
    w_px = ground_px(scene.weeds_mm) if len(scene.weeds_mm) else np.zeros((0, 2))
    weeds = [
        [*np.round(xy * flip, 2).tolist(), *np.round(px, 2).tolist(), int(k)]
        for xy, px, k in zip(scene.weeds_mm, w_px, scene.weed_kinds, strict=True)
    ]
    stick = frame.stick_mm if frame else np.zeros((0, 3))
    return {
        "schema": SCHEMA,
        "generator": GENERATOR_VERSION,
        "seed": scene.seed,
        "view": scene.view,
        "width": cam.width,
        "height": cam.height,
        "area": {**{k: (round(v, 2) if isinstance(v, float) else v)
                    for k, v in scene.area.items()},
                 "tube_mm": round(frame.tube_mm, 2) if frame else 0.0},
        "outline_px": np.round(cam.project(outline), 3).tolist() if frame else [],
        "inside_edge_px": np.round(cam.project(frame.inside_edge_mm), 3).tolist()
        if frame else [],
        "stick_px": np.round(cam.project(stick), 3).tolist() if len(stick) else [],
        "ground_to_photo": cam.plane_to_photo(z0).tolist(),
        "camera": {"height_mm": round(float(cam.place_mm[2]), 1),
                   "tilt_deg": round(cam.tilt_deg, 2), "focal_px": round(cam.focal_px, 2)},
        "plants": plants,
        "shoots": shoot_rows,
        "weeds": weeds,
        "counts": {"plants": int(p_in.sum()), "shoots": int(s_in.sum())},
        "params": scene.params,
    }


def render_to(
    scene: Scene, stem: Path, *, samples: int = 16, how: Develop | None = None,
    shapes: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Render a scene and write ``stem.jpg``, ``stem.png`` (class map) and ``stem.json``.

    ``shapes`` as in `tillercount.scenes.render.trace`.
    Returns the truth that went into the JSON. The JSON is written last: a photo without one is
    unfinished.
    """
    from tillercount.scenes.render import trace

    radiance, classes, owners = trace(scene, samples=samples, shapes=shapes)
    rng = np.random.default_rng([scene.seed, 77, scene.view])
    how = how or draw_develop(rng)
    picture = Image.fromarray(develop(radiance, how, rng))
    diagonal = float(np.hypot(scene.camera.width, scene.camera.height))
    exif = Image.Exif()
    tags = exif.get_ifd(0x8769)
    tags[0xA405] = max(1, round(scene.camera.focal_px * 43.27 / diagonal))  # 35 mm equivalent
    tags[0xA002], tags[0xA003] = picture.size
    stem.parent.mkdir(parents=True, exist_ok=True)
    picture.save(stem.with_suffix(".jpg"), quality=how.quality, exif=exif)
    Image.fromarray(classes).save(stem.with_suffix(".png"), optimize=False, compress_level=3)
    truth = truth_of(scene, owners)
    stem.with_suffix(".json").write_text(json.dumps(truth), encoding="utf-8")
    return truth
