"""How real the scenes look: what can be measured alike in scenes and in real photos, side by side.

    python scripts/compare_with_photos.py --scenes DIR ... --photos WHEAT_FOLDER --out DIR

Scenes are brought to the photos' scale first (0.64 mm per pixel, straight from above). ``DIR``
receives ``comparison.png`` and ``comparison.json``: quartiles of both, and the share of the two
histograms that overlaps (1: alike, 0: nothing in common). The photos are those of Zenkl et al.
2022 (doi 10.3929/ethz-b-000512332), with their masks of plants.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from tillercount.train.data import find_scenes, read_scene
from tillercount.train.realphotos import PHOTO_MM_PER_PX, plant_mask, read_index

PATCH_PX = 350
PLANT = (2, 3)
FRAME = 4

# what is measured: words for the axis, range of the histogram
QUANTITIES = {
    "soil_lightness": ("lightness of the ground, L*", (0, 100)),
    "soil_chroma": ("colourfulness of the ground, C*", (0, 45)),
    "soil_hue": ("hue of the ground, degrees", (20, 140)),
    "leaf_lightness": ("lightness of plants, L*", (0, 100)),
    "leaf_chroma": ("colourfulness of plants, C*", (0, 70)),
    "leaf_hue": ("hue of plants, degrees", (80, 180)),
    "cover": ("ground covered by plants", (0, 1)),
    "width_mm": ("median width of leaves in the picture, mm", (0, 12)),
    "length_mm": ("longer pieces between crossings, mm", (0, 60)),
    "shadow": ("share of the ground in deep shadow", (0, 0.6)),
}


def measure(rgb: NDArray[np.uint8], plant: NDArray[np.bool_]) -> dict[str, float]:
    """The quantities of one patch (H, W, 3) at the photos' scale, NaN where there is nothing."""
    from skimage.color import rgb2lab

    lab = rgb2lab(rgb)
    found = {"cover": float(plant.mean())}
    for name, where in (("soil", ~plant), ("leaf", plant)):
        if where.sum() < 200:
            found |= {f"{name}_{k}": np.nan for k in ("lightness", "chroma", "hue")}
            continue
        light, a, b = (float(np.median(lab[..., k][where])) for k in range(3))
        found[f"{name}_lightness"] = light
        found[f"{name}_chroma"] = float(np.hypot(a, b))
        found[f"{name}_hue"] = float(np.degrees(np.arctan2(b, a)) % 360)
    found["width_mm"], found["length_mm"] = _leaf_sizes(plant)
    ground = rgb.mean(-1)[~plant]
    found["shadow"] = float((ground < 0.5 * np.quantile(ground, 0.75)).mean()) if len(
        ground
    ) > 200 else np.nan
    return found


def _leaf_sizes(plant: NDArray[np.bool_]) -> tuple[float, float]:
    """Median width along the middle lines, and upper quartile of pieces between crossings, mm."""
    from skimage.morphology import skeletonize

    if plant.sum() < 200:
        return np.nan, np.nan
    line = skeletonize(plant)
    width = 2 * ndimage.distance_transform_edt(plant)[line] - 1
    neighbours = ndimage.convolve(line.astype(int), np.ones((3, 3), int), mode="constant") - 1
    pieces, n = ndimage.label(line & (neighbours <= 2), np.ones((3, 3)))
    lengths = np.bincount(pieces.ravel(), minlength=n + 1)[1:]
    lengths = lengths[lengths >= 5]
    long = float(np.quantile(lengths, 0.75)) if len(lengths) else np.nan
    return float(np.median(width)) * PHOTO_MM_PER_PX, long * PHOTO_MM_PER_PX


def of_scenes(folders: list[Path], say: Callable[[int, int], None]) -> list[dict[str, float]]:
    """Measures of the middle of each scene; those that show snow, frames or boards there count
    only where at least nine tenths of the patch is ground and plants."""
    rows = []
    paths = find_scenes(folders)
    for done, path in enumerate(paths, 1):
        pixels, _ = read_scene(path, PATCH_PX // 32 * 32, PHOTO_MM_PER_PX)
        ids = pixels[3]
        say(done, len(paths))
        if (ids >= FRAME).mean() > 0.1:
            continue
        plant = np.isin(ids, PLANT)
        rgb = np.ascontiguousarray(np.moveaxis(pixels[:3], 0, -1))
        rgb[ids >= FRAME] = np.median(rgb[ids == 0], axis=0) if (ids == 0).any() else 128
        rows.append(measure(rgb, plant))
    return rows


def of_photos(folder: Path, say: Callable[[int, int], None]) -> list[dict[str, float]]:
    """Measures of every photo of the set."""
    rows = []
    index = read_index(folder)
    for done, entry in enumerate(index, 1):
        with Image.open(folder / "img" / entry["file"]) as image:
            rgb = np.asarray(image.convert("RGB"))
        rows.append(measure(rgb, plant_mask(folder, entry["file"])))
        say(done, len(index))
    return rows


def overlap(a: NDArray[np.float64], b: NDArray[np.float64], span: tuple[float, float]) -> float:
    """Share of two histograms of 20 bins that lies under both."""
    bins = np.linspace(*span, 21)
    p, q = (np.histogram(np.clip(x, *span), bins)[0] / max(1, len(x)) for x in (a, b))
    return float(np.minimum(p, q).sum())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scenes", nargs="+", type=Path, required=True)
    parser.add_argument("--photos", type=Path, required=True, help="img/, mask/, index.csv")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()

    def say(done: int, of: int) -> None:
        if done % 50 == 0 or done == of:
            print(f"{done} of {of}", flush=True)

    both = {"scenes": of_scenes(given.scenes, say), "photos": of_photos(given.photos, say)}
    result = {}
    for name, (words, span) in QUANTITIES.items():
        values = {k: np.array([r[name] for r in rows]) for k, rows in both.items()}
        values = {k: v[np.isfinite(v)] for k, v in values.items()}
        result[name] = {
            "what": words,
            **{k: np.quantile(v, [0.1, 0.25, 0.5, 0.75, 0.9]).round(3).tolist()
               for k, v in values.items()},
            "overlap": round(overlap(values["scenes"], values["photos"], span), 3),
        }
        print(f"{words}: {result[name]}")
    given.out.mkdir(parents=True, exist_ok=True)
    result["n"] = {k: len(rows) for k, rows in both.items()}
    (given.out / "comparison.json").write_text(json.dumps(result, indent=1) + "\n")
    draw(both, given.out / "comparison.png")
    return 0


def draw(both: dict[str, list[dict[str, float]]], path: Path) -> None:
    """Histograms side by side."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(2, 5, figsize=(16, 6), constrained_layout=True)
    for axis, (name, (words, span)) in zip(axes.flat, QUANTITIES.items(), strict=True):
        bins = np.linspace(*span, 21)
        for rows, label, style in (
            (both["scenes"], "scenes", {"color": "#3b6ea5", "alpha": 0.55}),
            (both["photos"], "photos", {"color": "black", "histtype": "step", "linewidth": 1.6}),
        ):
            x = np.array([r[name] for r in rows])
            x = np.clip(x[np.isfinite(x)], *span)
            axis.hist(x, bins, weights=np.full(len(x), 1 / max(1, len(x))), label=label, **style)
        axis.set_xlabel(words)
        axis.set_yticks([])
    axes[0, 0].legend(frameon=False)
    figure.savefig(path, dpi=70)


if __name__ == "__main__":
    raise SystemExit(main())
