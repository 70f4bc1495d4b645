"""Scenes through the program, and through the network alone with their true outlines."""

from __future__ import annotations

import functools
import json
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tillercount.allocation import keep_freed_memory
from tillercount.area import WholePhoto, parse_area
from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.scenes.write import inside_polygon
from tillercount.train.figures import Row, polygon_iou
from tillercount.train.parallel import Progress, each
from tillercount.train.usable import why_unusable

if TYPE_CHECKING:
    from tillercount.frame.finder import Finder

__all__ = [
    "ASKED", "Known", "bare", "bare_scenes", "counter_of", "finds", "marked_scenes", "scenes",
    "scenes_known", "through_program",
]

ASKED = ("square:304.8mm", "hoop:343.94mm", "row:487.7mm/190.5mm")
"""What a photo without a frame is asked for."""
_CANVAS_PX = 1536
_NAMES = ("soil", "residue", "crop", "other plants", "frame")


@dataclass(frozen=True)
class Known:
    """Scenes measured with their true outlines: rows, IoU by surface class, F1 of points."""

    rows: list[Row]
    surface_iou: dict[str, float]
    points_f1: dict[str, float]


@functools.lru_cache(maxsize=2)
def counter_of(model: str | None) -> Counter:
    """The model of this name or path, read once by each process."""
    keep_freed_memory()
    return Counter.load(model)


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
    novelty = counted.maps.strangeness if counted.maps is not None else math.nan
    common: dict[str, Any] = {
        "name": photo.name,
        "kind": area.kind,
        "status": spot.status,
        "reason": spot.reason,
        "area_ft2": ft2,
        "true": true,
        "novelty": novelty,
        "outline_iou": iou,
        "found": len(outline) > 0 and (counted.fit is not None or len(spot.outline_px) > 0),
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


def marked_scenes(folders: Sequence[Path], *, with_classes: bool = False) -> list[Path]:
    """The JSON files of scenes with a marked area; ``with_classes``: only those with a class map.

    Raises
    ------
    InputError
        None in a folder.
    """
    found = _of_kind(folders, bare=False)
    return [p for p in found if p.with_suffix(".png").exists()] if with_classes else found


def bare_scenes(folders: Sequence[Path]) -> list[Path]:
    """The JSON files of scenes without a marked area.

    Raises
    ------
    InputError
        None in a folder.
    """
    return _of_kind(folders, bare=True)


def _of_kind(folders: Sequence[Path], *, bare: bool) -> list[Path]:
    found = []
    for folder in folders:
        here = [
            path for path in sorted(Path(folder).rglob("*.json"))
            if path.with_suffix(".jpg").exists() and (_kind(path) == "none") == bare
        ]
        if not here:
            without = "without" if bare else "with"
            raise InputError(f"no scene {without} a marked area in {folder}; check the path")
        found += here
    return found


def _kind(path: Path) -> str:
    return str(json.loads(path.read_text("utf-8"))["area"]["kind"])


def scenes(
    folders: Sequence[Path], model: str | None, limit: int | None, progress: Progress,
    workers: int = 1,
) -> list[Row]:
    """Scenes with a marked area through the main line."""
    return each(
        functools.partial(_one_scene, model), marked_scenes(folders)[:limit], workers, progress
    )


def _one_scene(model: str | None, path: Path) -> Row:
    scene = json.loads(path.read_text("utf-8"))
    true = (float(scene["counts"]["plants"]), float(scene["counts"]["shoots"]))
    outline = np.asarray(scene["outline_px"], dtype=np.float64)
    photo = path.with_suffix(".jpg")
    row = through_program(photo, scene["area"]["text"], counter_of(model), true, outline)
    weeds = np.asarray(scene["weeds"], float).reshape(-1, 5)
    kinds = weeds[inside_polygon(weeds[:, 2:4], outline), 4].astype(int)
    return replace(
        row,
        unusable=why_unusable(scene, path.with_suffix(".png")),
        weeds=(int((kinds == 0).sum()), int((kinds == 1).sum())),
    )


def bare(
    folders: Sequence[Path], limit: int | None, progress: Progress, workers: int = 1
) -> dict[str, Any]:
    """Photos without a marked area, each asked for every one of `ASKED`: what was found."""
    paths = bare_scenes(folders)[:limit]
    found = each(finds, paths, workers, progress)
    wrong = {path.stem: kinds for path, kinds in zip(paths, found, strict=True) if kinds}
    return {"photos": len(paths), "asked": list(ASKED), "found": len(wrong), "where": wrong}


def finds(path: Path, finder: Finder | None = None) -> list[str]:
    """Of `ASKED` what is found in the photo of a scene; by the shipped finder if none is given."""
    from tillercount.frame.find import find_area
    from tillercount.photo import read_photo

    photo = read_photo(path.with_suffix(".jpg"))
    return [text for text in ASKED if find_area(photo, parse_area(text), finder=finder)]


@dataclass(frozen=True)
class View:
    rgb: NDArray[np.uint8]
    valid: NDArray[np.bool_]
    mm_per_px: float


@dataclass(frozen=True)
class _Seen:
    """One scene with its true outline: its row; pixels true by said; points found, said, real."""

    row: Row
    table: NDArray[np.int64]
    hits: tuple[int, int]
    said: tuple[int, int]
    bases: tuple[int, int]


def scenes_known(
    folders: Sequence[Path], model: str | None, limit: int | None, progress: Progress,
    workers: int = 1,
) -> Known:
    """Scenes with a class map and their true outlines, so that nothing but the network errs."""
    from tillercount.train.validate import iou

    paths = marked_scenes(folders, with_classes=True)[:limit]
    seen = [s for s in each(functools.partial(_one_known, model), paths, workers, progress) if s]
    table = sum((s.table for s in seen), np.zeros((5, 5), np.int64))
    hits, said, bases = (
        np.sum([getattr(s, name) for s in seen] or [(0, 0)], 0)
        for name in ("hits", "said", "bases")
    )
    f1 = 2 * hits / np.maximum(said + bases, 1)
    return Known(
        [s.row for s in seen],
        dict(zip(_NAMES, iou(table.astype(float)).tolist(), strict=True)),
        {"plants": float(f1[0]), "shoots": float(f1[1])},
    )


def _one_known(model: str | None, path: Path) -> _Seen | None:
    """None where the canvas can't hold the whole marked area."""
    from tillercount.train.canvas import OUTSIDE
    from tillercount.train.data import SEEN_FROM, read_scene
    from tillercount.train.thresholds import REACH_MM, match_points
    from tillercount.train.validate import view_of

    counter = counter_of(model)
    pixels, truth = read_scene(path, _CANVAS_PX)
    if not truth.whole:
        return None
    across, along = view_of(truth.inside, _CANVAS_PX)
    part = pixels[:, across, along]
    view = View(
        np.ascontiguousarray(np.moveaxis(part[:3], 0, -1)), part[3] != OUTSIDE,
        counter.info.mm_per_px,
    )
    began = time.perf_counter()
    maps = counter.predict(view)
    seconds = time.perf_counter() - began
    share = np.kron(truth.inside, np.ones((16, 16), dtype=np.float32))[across, along]
    inside = maps.count_inside(share)
    labels, guess = part[3][::2, ::2], maps.fine_classes.argmax(0)
    judged = labels < len(_NAMES)
    pairs = labels[judged].astype(int) * len(_NAMES) + guess[judged]
    hits, said, bases = [], [], []
    origin = np.array([along.start, across.start])
    size = np.array([along.stop, across.stop]) - origin
    for k, points in enumerate((maps.plant_points, maps.shoot_points)):
        real = truth.points[(truth.points[:, 2] == k) & (truth.points[:, 3] >= SEEN_FROM), :2]
        real = real - origin
        real = real[np.all((real >= 0) & (real < size), axis=1)]
        hits.append(int(match_points(points, real, REACH_MM / counter.info.mm_per_px).sum()))
        said.append(len(points))
        bases.append(len(real))
    count = (inside.plants, inside.shoots)
    variance = (inside.plants_variance, inside.shoots_variance)
    ends = [
        counter.interval(what, c, v, novelty=maps.strangeness)
        for what, c, v in zip(("plants", "shoots"), count, variance, strict=True)
    ]
    row = Row(
        name=path.stem,
        kind=truth.kind,
        status="counted",
        reason=None,
        area_ft2=_area_ft2(json.loads(path.read_text("utf-8"))),
        true=(float(truth.counts[0]), float(truth.counts[1])),
        count=count,
        low=(ends[0][0], ends[1][0]),
        high=(ends[0][1], ends[1][1]),
        variance=variance,
        novelty=maps.strangeness,
        seconds=seconds,
    )
    return _Seen(
        row, np.bincount(pairs, minlength=25).reshape(5, 5), (hits[0], hits[1]),
        (said[0], said[1]), (bases[0], bases[1]),
    )


def _area_ft2(scene: dict[str, Any]) -> float:
    area = parse_area(scene["area"]["text"])
    return math.nan if isinstance(area, WholePhoto) else area.area_ft2
