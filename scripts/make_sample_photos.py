"""Render the sample photos of the invented farm, with their truth.

    python scripts/make_sample_photos.py OUT [--size 1600x1200] [--samples 48]

Fields and stands are made up. On a machine without a graphics card a photo takes minutes.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from PIL import Image, ImageFilter

from tillercount.scenes import draw_scene, render_to, set_variant
from tillercount.scenes.develop import Develop

IN = 25.4
CREEK = {  # well tillered, squares of white pipe
    "species": "wheat", "haun": 4.7, "tillering": 0.95, "prostrate": 0.25, "size": 0.9,
    "row_spacing_mm": 7.5 * IN, "leaf_lightness": 40.0, "leaf_chroma": 30.0, "leaf_hue": 130.0,
    "soil_lightness": 40.0, "soil_chroma": 16.0, "soil_hue": 68.0, "litter": "straw",
    "litter_per_m2": 60.0, "dead_tips": 0.25, "gaps": 0.1, "stones_per_m2": 15.0,
    "grass_per_m2": 0.0,
}
BARN = {  # late and thin, hoops
    "species": "wheat", "haun": 3.0, "tillering": 0.8, "prostrate": 0.35, "size": 0.8,
    "row_spacing_mm": 7.5 * IN, "leaf_lightness": 44.0, "leaf_chroma": 26.0, "leaf_hue": 124.0,
    "soil_lightness": 48.0, "soil_chroma": 14.0, "soil_hue": 74.0, "litter": "corn",
    "litter_per_m2": 90.0, "dead_tips": 0.5, "gaps": 0.5, "stones_per_m2": 40.0,
    "grass_per_m2": 0.0,
}
SQUARE = {"kind": "square", "text": "square:12in", "width_mm": 304.8, "length_mm": 304.8}
HOOP = {"kind": "hoop", "text": "hoop:13.54in", "width_mm": 343.9, "length_mm": 343.9}
STICK = {"kind": "row", "text": "row:19.2in/7.5in", "width_mm": 487.68, "length_mm": 190.5}
CLEAN = {"shift": 0.12, "decoys": 0, "distance_mm": 1000.0, "photographer": False}
# folder and name, seed, kind, plants/ft², field, more
PHOTOS = (
    ("creek_field/spot_01", 90_101, "square", 24.0, CREEK, {"tilt_deg": 4.0}),
    ("creek_field/spot_02", 90_102, "square", 31.0, CREEK, {"tilt_deg": 9.0}),
    ("creek_field/spot_03", 90_103, "square", 19.0, CREEK, {"tilt_deg": 3.0, "photographer": True}),
    ("creek_field/spot_04", 90_104, "square", 27.0, CREEK, {"tilt_deg": 14.0}),
    ("creek_field/spot_05", 90_105, "square", 22.0, CREEK, {"tilt_deg": 2.0}),
    ("creek_field/spot_06_no_frame", 90_106, "none", 25.0, CREEK, {"decoys": 1}),
    ("creek_field/spot_07_blurred", 90_107, "square", 25.0, CREEK, {}),
    ("barn_field/spot_01", 90_201, "hoop", 12.0, BARN, {"tilt_deg": 5.0}),
    ("barn_field/spot_02", 90_202, "hoop", 17.0, BARN, {"tilt_deg": 3.0}),
    ("barn_field/spot_03", 90_203, "hoop", 9.0, BARN, {"tilt_deg": 8.0}),
    ("barn_field/spot_04", 90_204, "hoop", 15.0, BARN, {"tilt_deg": 2.0}),
    ("lane_field/spot_01", 90_301, "row", 23.0, CREEK, {"tilt_deg": 3.0, "fill": 0.8}),
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--size", default="1600x1200")
    parser.add_argument("--samples", type=int, default=48)
    parser.add_argument("--shard", default="0/1")
    args = parser.parse_args()
    width, height = (int(v) for v in args.size.split("x"))
    shard, shards = (int(v) for v in args.shard.split("/"))
    set_variant()
    for name, seed, kind, density, field, more in PHOTOS[shard::shards]:
        area = {"square": SQUARE, "hoop": HOOP, "row": STICK}.get(kind)
        chosen = {**field, **CLEAN, "fill": 0.74, "plants_per_ft2": density,
                  **({"area": area} if area else {}), **more}
        scene = draw_scene(seed, width=width, height=height, kind=kind, overrides=chosen)
        stem = args.out / name
        how = Develop(defocus_px=0.5, shot=0.002, read=0.0015, quality=88)
        truth = render_to(scene, stem, samples=args.samples, how=how)
        if "blurred" in name:
            photo = Image.open(stem.with_suffix(".jpg"))
            exif = photo.getexif()
            photo.filter(ImageFilter.GaussianBlur(width / 110)).save(
                stem.with_suffix(".jpg"), quality=88, exif=exif)
        stem.with_suffix(".png").unlink()
        stem.with_suffix(".json").write_text(json.dumps(
            {k: truth[k] for k in ("schema", "seed", "area", "outline_px", "counts", "camera")}))
        print(name, truth["counts"], flush=True)


if __name__ == "__main__":
    main()
