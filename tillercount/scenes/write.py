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

__all__ = [
    "SHOOTS_SUFFIX", "inside_polygon", "near_photo", "render_to", "shoot_map", "truth_of",
]

SCHEMA = "tillercount.scene/1"
GENERATOR_VERSION = "16"
SHOOTS_SUFFIX = ".shoots.png"


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


def _ground_height_mm(scene: Scene) -> float:
    return float(scene.frame.outline_mm[0, 2]) if scene.frame else 0.0


def _ground_px(scene: Scene, xy: NDArray[np.float64]) -> NDArray[np.float64]:
    height = np.full(len(xy), _ground_height_mm(scene))
    return scene.camera.project(np.c_[xy, height])


def near_photo(scene: Scene) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which plants and which shoots have their base in the photo or close by: those of the JSON."""
    cam, shoots = scene.camera, scene.shoots

    def near(xy: NDArray[np.float64]) -> NDArray[np.bool_]:
        px = _ground_px(scene, xy)
        return np.asarray(
            (px[:, 0] > -60) & (px[:, 1] > -60) & (px[:, 0] < cam.width + 60)
            & (px[:, 1] < cam.height + 60)
        )

    plants = near(scene.plants_mm)
    if not len(shoots.plant):
        return plants, np.zeros(0, bool)
    return plants, near(shoots.base_mm) & plants[shoots.plant]


def shoot_map(scene: Scene, owners: NDArray[np.int32]) -> NDArray[np.uint16]:
    """For every pixel 1 + the number of the JSON's shoot whose leaf it shows, else 0."""
    _, kept = near_photo(scene)
    numbers = np.zeros(len(kept) + 1, np.uint16)
    numbers[1:][kept] = np.arange(1, kept.sum() + 1)
    return numbers[owners + 1]


def truth_of(scene: Scene, owners: NDArray[np.int32]) -> dict[str, Any]:
    """The JSON that goes with a photo: area, outlines, camera, plants, shoots, weeds, counts."""
    cam, frame, shoots = scene.camera, scene.frame, scene.shoots
    z0 = _ground_height_mm(scene)
    outline = frame.outline_mm if frame else np.zeros((0, 3))
    flip = np.array([1.0, -1.0])

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
    p_px, s_px = (_ground_px(scene, xy) for xy in (scene.plants_mm, shoots.base_mm))
    p_in, s_in = inside(scene.plants_mm), inside(shoots.base_mm)

    keep_p, keep_s = near_photo(scene)
    number = np.cumsum(keep_p) - 1
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
    w_px = _ground_px(scene, scene.weeds_mm) if len(scene.weeds_mm) else np.zeros((0, 2))
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
    shapes: dict[str, Any] | None = None, stems: bool = False,
) -> dict[str, Any]:
    """Render a scene and write ``stem.jpg``, ``stem.png`` (class map) and ``stem.json``.

    With ``stems`` also ``stem.shoots.png``, 16 bits, as `shoot_map` says. ``shapes`` as in
    `tillercount.scenes.render.trace`.
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
    if stems:
        Image.fromarray(shoot_map(scene, owners)).save(
            stem.with_suffix(SHOOTS_SUFFIX), compress_level=3
        )
    truth = truth_of(scene, owners)
    stem.with_suffix(".json").write_text(json.dumps(truth), encoding="utf-8")
    return truth
