"""Photos with known truth through the program, set by set."""

from __future__ import annotations

import csv
import json
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.area import WholePhoto, parse_area
from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.train.figures import Row, polygon_iou
from tillercount.train.usable import why_unusable

__all__ = ["Known", "others", "renders", "scenes", "scenes_known", "wheat"]

Progress = Callable[[int, int], None]
_PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff")


@dataclass(frozen=True)
class Known:
    """Scenes measured with their true outlines: rows, IoU by surface class, F1 of points."""

    rows: list[Row]
    surface_iou: dict[str, float]
    points_f1: dict[str, float]


def through_program(
    photo: Path,
    area_text: str,
    counter: Counter,
    true: tuple[float, float],
    outline: NDArray[np.float64],
) -> Row:
    """One photo through the main line."""
    from tillercount.count import count_photo_full

    began = time.perf_counter()
    counted = count_photo_full(photo, area_text, model=counter)
    seconds = time.perf_counter() - began
    spot = counted.spot
    area = parse_area(area_text)
    ft2 = math.nan if isinstance(area, WholePhoto) else area.area_ft2
    iou = math.nan
    if len(outline):
        found = spot.outline_px if counted.fit is None else counted.fit.outline_px
        iou = polygon_iou(np.asarray(found), outline) if len(found) else 0.0
    novelty = counted.maps.novelty if counted.maps is not None else math.nan
    common: dict[str, Any] = {
        "name": photo.name,
        "kind": area.kind,
        "status": spot.status,
        "reason": spot.reason,
        "area_ft2": ft2,
        "true": true,
        "novelty": novelty,
        "outline_iou": iou,
        "seconds": seconds,
        "flags": tuple(flag.code for flag in spot.flags),
    }
    if spot.plants is None or spot.shoots is None or counted.maps is None:
        return Row(**common)
    assert counted.topview is not None
    inside = counted.maps.count_inside(counted.topview.inside)
    return Row(
        **common,
        count=(spot.plants.count, spot.shoots.count),
        low=(spot.plants.low, spot.shoots.low),
        high=(spot.plants.high, spot.shoots.high),
        variance=(inside.plants_variance, inside.shoots_variance),
    )


def scenes(
    folders: Sequence[Path], counter: Counter, limit: int | None, progress: Progress
) -> list[Row]:
    """Scenes with a marked area through the main line."""
    from tillercount.train.data import find_scenes

    paths = _marked(find_scenes(folders))[:limit]
    rows = []
    for done, (path, scene) in enumerate(paths, 1):
        true = (float(scene["counts"]["plants"]), float(scene["counts"]["shoots"]))
        outline = np.asarray(scene["outline_px"], dtype=np.float64)
        photo = path.with_suffix(".jpg")
        row = through_program(photo, scene["area"]["text"], counter, true, outline)
        rows.append(replace(row, unusable=why_unusable(scene, path.with_suffix(".png"))))
        progress(done, len(paths))
    return rows


def _marked(paths: list[Path]) -> list[tuple[Path, dict[str, Any]]]:
    read = [(path, json.loads(path.read_text("utf-8"))) for path in paths]
    return [(path, scene) for path, scene in read if scene["area"]["kind"] != "none"]


@dataclass(frozen=True)
class _View:
    rgb: NDArray[np.uint8]
    valid: NDArray[np.bool_]
    mm_per_px: float


def scenes_known(
    folders: Sequence[Path], counter: Counter, limit: int | None, progress: Progress
) -> Known:
    """Scenes with their true outlines, so that nothing but the network errs."""
    from tillercount.train.canvas import OUTSIDE
    from tillercount.train.data import SEEN_FROM, find_scenes, read_scene
    from tillercount.train.thresholds import REACH_MM, match_points
    from tillercount.train.validate import iou, view_of

    names = ("soil", "residue", "crop", "other plants", "frame")
    table = np.zeros((5, 5))
    hits, said, bases = np.zeros(2), np.zeros(2), np.zeros(2)
    rows: list[Row] = []
    paths = _marked(find_scenes(folders))[:limit]
    for done, (path, scene) in enumerate(paths, 1):
        progress(done, len(paths))
        pixels, truth = read_scene(path, 1536)
        if not truth.whole:
            continue
        across, along = view_of(truth.inside, 1536)
        part = pixels[:, across, along]
        view = _View(
            np.ascontiguousarray(np.moveaxis(part[:3], 0, -1)),
            part[3] != OUTSIDE,
            counter.info.mm_per_px,
        )
        began = time.perf_counter()
        maps = counter.predict(view)
        seconds = time.perf_counter() - began
        share = np.kron(truth.inside, np.ones((16, 16), dtype=np.float32))[across, along]
        inside = maps.count_inside(share)
        labels, guess = part[3][::2, ::2], maps.fine_classes.argmax(0)
        judged = labels < 5
        pairs = labels[judged].astype(int) * 5 + guess[judged]
        table += np.bincount(pairs, minlength=25).reshape(5, 5)
        origin = np.array([along.start, across.start])
        size = np.array([along.stop, across.stop]) - origin
        for k, points in enumerate((maps.plant_points, maps.shoot_points)):
            real = truth.points[(truth.points[:, 2] == k) & (truth.points[:, 3] >= SEEN_FROM), :2]
            real = real - origin
            real = real[np.all((real >= 0) & (real < size), axis=1)]
            hits[k] += match_points(points, real, REACH_MM / counter.info.mm_per_px).sum()
            said[k] += len(points)
            bases[k] += len(real)
        count = (inside.plants, inside.shoots)
        variance = (inside.plants_variance, inside.shoots_variance)
        ends = [
            counter.interval(what, c, v, novelty=maps.novelty)
            for what, c, v in zip(("plants", "shoots"), count, variance, strict=True)
        ]
        rows.append(
            Row(
                name=path.stem,
                kind=truth.kind,
                status="counted",
                reason=None,
                area_ft2=_area_ft2(scene),
                true=(float(truth.counts[0]), float(truth.counts[1])),
                count=count,
                low=(ends[0][0], ends[1][0]),
                high=(ends[0][1], ends[1][1]),
                variance=variance,
                novelty=maps.novelty,
                seconds=seconds,
            )
        )
    f1 = 2 * hits / np.maximum(said + bases, 1)
    return Known(
        rows,
        dict(zip(names, iou(table).tolist(), strict=True)),
        {"plants": float(f1[0]), "shoots": float(f1[1])},
    )


def _area_ft2(scene: dict[str, Any]) -> float:
    area = parse_area(scene["area"]["text"])
    return math.nan if isinstance(area, WholePhoto) else area.area_ft2


def renders(folder: Path, counter: Counter, progress: Progress) -> list[Row]:
    """Photos of another renderer: ``truth.json`` with frame, size, plants and shoots of each.

    Raises
    ------
    InputError
        No ``truth.json``.
    """
    path = folder / "truth.json"
    if not path.exists():
        raise InputError(f"{path} doesn't exist; give the folder of rendered photos with it")
    truth = json.loads(path.read_text("utf-8"))
    rows = []
    for done, (name, values) in enumerate(sorted(truth.items()), 1):
        text = f"{values['frame']}:{values['size_mm']}mm"
        corners = np.asarray(values["corners_px"], dtype=np.float64)
        outline = corners if values["frame"] == "square" else _circle_in(corners)
        true = (float(values["plants"]), float(values["shoots"]))
        rows.append(through_program(folder / name, text, counter, true, outline))
        progress(done, len(truth))
    return rows


def _circle_in(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """The circle that touches the sides of a square, whose corners (4, 2) are seen in a photo."""
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.float64)
    rows, wanted = [], []
    for (x, y), (u, v) in zip(square, corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        wanted += [u, v]
    m = np.append(np.linalg.solve(np.array(rows), np.array(wanted)), 1).reshape(3, 3)
    turn = np.linspace(0, 2 * np.pi, 256, endpoint=False)
    seen = np.column_stack([np.cos(turn), np.sin(turn), np.ones(256)]) @ m.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def wheat(
    folder: Path, counter: Counter, plots_held_out: Sequence[str], progress: Progress
) -> dict[str, Any]:
    """Real photos: plant IoU, cover and plants against the readings, held-out plots apart.

    The photos and readings come with ``shared`` data; see `tillercount.train.realphotos` for
    their source.
    """
    from PIL import Image

    from tillercount.count import classmap_on_photo, count_photo_full
    from tillercount.train.realphotos import PHOTO_MM_PER_PX, read_index

    rows: list[dict[str, Any]] = []
    readings = _readings(folder / "readings.csv")
    index = read_index(folder)
    for done, entry in enumerate(index, 1):
        photo = folder / "img" / entry["file"]
        counted = count_photo_full(photo, f"whole:{PHOTO_MM_PER_PX:g}mm", model=counter)
        with Image.open(folder / "mask" / entry["file"]) as mask:
            true = np.asarray(mask.convert("L")) > 127
        ids = classmap_on_photo(counted)
        plant = (ids == 2) | (ids == 3)
        spot = counted.spot
        rows.append(
            {
                "file": entry["file"],
                "held_out": entry["plot"] in plots_held_out,
                "status": spot.status,
                "both": int((plant & true).sum()),
                "either": int((plant | true).sum()),
                "cover": float(plant.mean()),
                "true_cover": float(true.mean()),
                "plants": spot.plants.count if spot.plants else None,
                "low": spot.plants.low if spot.plants else None,
                "high": spot.plants.high if spot.plants else None,
                "read": readings.get(entry["file"]),
                "novelty": counted.maps.novelty if counted.maps is not None else math.nan,
            }
        )
        progress(done, len(index))
    chosen = [
        ("all, training plots included", rows),
        ("held-out plots", [r for r in rows if r["held_out"]]),
    ]
    return {"sets": {name: _wheat_figures(some) for name, some in chosen if some}, "rows": rows}


def _readings(path: Path) -> dict[str, float]:
    """Plants read by eye in the photos where both readers could count them."""
    if not path.exists():
        return {}
    with path.open(newline="", encoding="utf-8") as file:
        return {
            row["file"]: float(row["plants"])
            for row in csv.DictReader(file)
            if row["countable"] == "1"
        }


def _wheat_figures(rows: list[dict[str, Any]]) -> dict[str, Any]:
    cover = np.array([(r["cover"], r["true_cover"]) for r in rows])
    result: dict[str, Any] = {
        "photos": len(rows),
        "refused": sum(r["status"] != "counted" for r in rows),
        "plant_iou": sum(r["both"] for r in rows) / max(1, sum(r["either"] for r in rows)),
        "cover_bias": float((cover[:, 0] - cover[:, 1]).mean()),
        "cover_r": float(np.corrcoef(cover.T)[0, 1]) if len(rows) > 2 else math.nan,
        "novelty_median": float(np.nanmedian([r["novelty"] for r in rows])),
        "novelty_max": float(np.nanmax([r["novelty"] for r in rows])),
    }
    read = [r for r in rows if r["read"] is not None and r["plants"] is not None]
    if len(read) >= 3:
        t = np.array([r["read"] for r in read])
        p = np.array([r["plants"] for r in read])
        inside = [r["low"] <= r["read"] <= r["high"] for r in read]
        result |= {
            "read": len(read),
            "plants_rel_rmse": float(np.sqrt(np.mean((p - t) ** 2)) / t.mean()),
            "plants_bias": float((p - t).mean() / t.mean()),
            "plants_r": float(np.corrcoef(t, p)[0, 1]),
            "plants_coverage": float(np.mean(inside)),
        }
    return result


def others(folder: Path, counter: Counter) -> dict[str, Any]:
    """Novelty of photos of other things, each cut to 860 px as if 0.4 mm wide per pixel."""
    from PIL import Image

    found: dict[str, float] = {}
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in _PHOTOS):
        with Image.open(path) as image:
            rgb = np.asarray(image.convert("RGB"))[:860, :860]
        view = _View(rgb, np.ones(rgb.shape[:2], dtype=bool), counter.info.mm_per_px)
        found[path.name] = counter.predict(view).novelty
    values = list(found.values())
    return {
        "novelty": found,
        "unusual": sum(map(counter.is_unusual, values)),
        "refused": sum(counter.refusal(v) is not None for v in values),
        "photos": len(values),
    }
