"""Photos from elsewhere with known truth through the program: other renders, real photos."""

from __future__ import annotations

import csv
import functools
import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tillercount.errors import InputError
from tillercount.frame.outline import circle_in
from tillercount.model import Counter
from tillercount.train.figures import Row
from tillercount.train.likeness import picture_paths, view_of_picture
from tillercount.train.measure_scenes import counter_of, through_program
from tillercount.train.parallel import Progress, each

__all__ = ["looked_at", "others", "read_looked_at", "renders", "wheat"]

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
        outline = corners if values["frame"] == "square" else circle_in(corners)
        true = (float(values["plants"]), float(values["shoots"]))
        rows.append(through_program(folder / name, text, counter, true, outline))
        progress(done, len(truth))
    return rows


def wheat(
    folder: Path, counter: Counter, plots_held_out: Sequence[str], progress: Progress
) -> dict[str, Any]:
    """Real photos: plant IoU, cover and plants against the readings, held-out plots apart.

    The photos and readings come with ``shared`` data; see `tillercount.train.realphotos` for
    their source.
    """
    from tillercount.count import classmap_on_photo, count_photo_full
    from tillercount.train.realphotos import PHOTO_MM_PER_PX, plant_mask, read_index

    rows: list[dict[str, Any]] = []
    readings = _readings(folder / "readings.csv")
    index = read_index(folder)
    for done, entry in enumerate(index, 1):
        photo = folder / "img" / entry["file"]
        counted = count_photo_full(photo, f"whole:{PHOTO_MM_PER_PX:g}mm", model=counter)
        true = plant_mask(folder, entry["file"])
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
                "novelty": counted.maps.strangeness if counted.maps is not None else math.nan,
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
    from tillercount.train.validate import real_summary

    result: dict[str, Any] = {
        "photos": len(rows),
        "refused": sum(r["status"] != "counted" for r in rows),
        **real_summary(rows),
        "novelty_median": float(np.nanmedian([r["novelty"] for r in rows])),
        "novelty_max": float(np.nanmax([r["novelty"] for r in rows])),
    }
    if "read" in result:
        read = [r for r in rows if r["read"] is not None and r["plants"] is not None]
        inside = [r["low"] <= r["read"] <= r["high"] for r in read]
        result["plants_coverage"] = float(np.mean(inside))
    return result


def read_looked_at(path: Path) -> list[dict[str, Any]]:
    """Records of ``real_held_out.json``, as a training run leaves it.

    Raises
    ------
    InputError
        It can't be read.
    """
    try:
        return list(json.loads(path.read_text("utf-8"))["photos"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"{path}: no records of real photos in it ({error}); give the real_held_out.json "
            "of a training run"
        ) from error


def looked_at(folds: Sequence[Path], alone: Path | None) -> dict[str, Any]:
    """Figures of real photos that a run left out of training, by the name of the set.

    ``folds``: runs that each left one fold of the plots out; their records are pooled, so every
    photo is judged by weights that never saw its plot. ``alone``: a run on scenes alone.

    Raises
    ------
    InputError
        A file can't be read, or two runs judged the same photo.
    """
    from tillercount.train.validate import real_summary

    pooled = [record for path in folds for record in read_looked_at(path)]
    if len({r["name"] for r in pooled}) < len(pooled):
        raise InputError("--folds: two of these runs left the same photos out; give one per fold")
    sets = {
        f"plots held out, {len(folds)} folds": pooled,
        "network trained on scenes alone": read_looked_at(alone) if alone else [],
    }
    return {
        name: {"photos": len(records), **real_summary(records)}
        for name, records in sets.items()
        if records
    }


def others(
    folder: Path, model: str | None, progress: Progress, workers: int = 1
) -> dict[str, Any]:
    """Novelty of photos of other things, and how many of them were refused."""
    counter = counter_of(model)
    paths = picture_paths(folder)
    seen = each(functools.partial(_other, model), paths, workers, progress)
    values = [strangeness for strangeness, _ in seen]
    return {
        "novelty": {
            str(path.relative_to(folder)): v for path, v in zip(paths, values, strict=True)
        },
        "unusual": sum(map(counter.is_unusual, values)),
        "refused": sum(refused for _, refused in seen),
        "photos": len(values),
    }


def _other(model: str | None, path: Path) -> tuple[float, bool]:
    counter = counter_of(model)
    maps = counter.predict(view_of_picture(path, counter.info.mm_per_px))
    return maps.strangeness, counter.refusal(maps) is not None
