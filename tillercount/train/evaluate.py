"""Measure a model: counts against known counts, maps against known maps; on a CPU.

    python -m tillercount.train.evaluate --out DIR [--model NAME] [--scenes DIR ...]
        [--bare DIR ...] [--renders DIR] [--wheat DIR] [--others DIR] [--workers N]
        [--folds FILE ...] [--alone FILE] [--add FILE] [--rescore FILE]

Every photo goes through the main line of the program, so that errors of finding the marked area
count too; scenes are measured with their true outlines as well. ``DIR`` receives
``evaluation.json``, plots, and ``card.md`` for the model.
"""

from __future__ import annotations

import argparse
import json
import resource
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.model.card import write_card
from tillercount.model.files import model_path, read_info
from tillercount.train import measure, measure_scenes
from tillercount.train.figures import Row, count_figures
from tillercount.train.measure_scenes import bare_scenes, marked_scenes
from tillercount.train.parallel import printed
from tillercount.train.recalibrate import rescored
from tillercount.train.usable import USABLE

__all__ = ["main", "summarise"]

_PARTS = (
    "scenes, usable photos", "scenes without weeds", "scenes with broadleaf weeds",
    "scenes with grass weeds",
)


def summarise(rows: Sequence[Row]) -> dict[str, Any]:
    """Figures of plants and shoots over photos, with how many were refused and found."""
    counted = [r for r in rows if r.count is not None]
    refused: dict[str, int] = {}
    for row in rows:
        if row.count is None:
            reason = (row.reason or "no reason").split(":")[0].split(",")[0].split(";")[0]
            refused[reason] = refused.get(reason, 0) + 1
    result: dict[str, Any] = {
        "photos": len(rows),
        "counted": len(counted),
        "refused": refused,
        "kinds": {k: sum(r.kind == k for r in rows) for k in sorted({r.kind for r in rows})},
    }
    found = np.array([r.outline_iou for r in rows])
    found = np.where(np.isfinite(found), found, 0.0)
    if any(np.isfinite(r.outline_iou) for r in rows):
        result["outline_iou_over_0.98"] = float(np.mean(found > 0.98))
        result["outline_iou_median"] = float(np.median(found))
        result["outlines"] = _outlines(rows)
    novelty = [r.novelty for r in rows if np.isfinite(r.novelty)]
    if novelty:
        marks = np.quantile(novelty, [0.5, 0.9, 1.0])
        result["novelty"] = dict(zip(("median", "q90", "max"), map(float, marks), strict=True))
    if not counted:
        return result
    result["seconds_median"] = float(np.median([r.seconds for r in counted]))
    for k, name in enumerate(("plants", "shoots")):
        table = np.array([(r.true[k], r.count[k], r.low[k], r.high[k]) for r in counted])  # type: ignore[index]
        density = table[:, 0] / np.array([r.area_ft2 for r in counted])
        result[name] = count_figures(*table.T, density=density).as_dict()
    return result


def _parts(rows: list[Row]) -> dict[str, list[Row]]:
    """Scenes once more: those that a careful person would keep, and by the weeds in them."""
    broadleaf, grass = (
        [r for r in rows if r.weeds is not None and r.weeds[k]] for k in (0, 1)
    )
    usable = [r for r in rows if r.unusable is None]
    clean = [r for r in rows if r.weeds == (0, 0)]
    parts = zip(_PARTS, (usable, clean, broadleaf, grass), strict=True)
    return {name: some for name, some in parts if some}


def _outlines(rows: Sequence[Row]) -> dict[str, dict[str, float]]:
    """Per kind of area: photos, share with an outline IoU over 0.98, refused, lowest accepted."""
    table: dict[str, dict[str, float]] = {}
    for kind in sorted({r.kind for r in rows}):
        mine = [r for r in rows if r.kind == kind]
        found = np.array([r.outline_iou for r in mine if r.found])
        table[kind] = {
            "photos": len(mine),
            "over_0.98": float((found > 0.98).sum() / len(mine)),
            "refused": len(mine) - len(found),
            "lowest": float(found.min()) if len(found) else 0.0,
            "median": float(np.median(found)) if len(found) else 0.0,
        }
    return table


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Measure a model on photos with known truth.")
    add = parser.add_argument
    add("--model", help="name or path; the shipped model if not given")
    add("--scenes", nargs="+", type=Path, help="folders of scenes that were not trained on")
    add("--bare", nargs="+", type=Path, help="folders of scenes without a marked area")
    add("--renders", type=Path, help="folder of photos with truth.json from another renderer")
    add("--wheat", type=Path, help="folder of real photos: img/, mask/, index.csv, readings.csv")
    add("--folds", nargs="+", type=Path, help="real_held_out.json of runs that left a fold out")
    add("--alone", type=Path, help="real_held_out.json of a run on scenes alone")
    add("--others", type=Path, help="folder of photos of other things than a cereal stand")
    add("--add", type=Path, help="evaluation.json of other photos by this model, for one card")
    add("--choices", type=Path, help="what tillercount.train.choices wrote, for the card")
    add("--rescore", type=Path, help="evaluation.json by this model before it was recalibrated: "
        "its counts stand, their intervals are worked out anew")
    add("--out", type=Path, required=True, help="folder for evaluation.json, plots and card.md")
    add("--true-outlines-only", action="store_true", help="scenes: don't look for the area")
    add("--program-only", action="store_true", help="scenes: not with their true outlines too")
    add("--limit", type=int, help="use only so many scenes")
    add("--workers", type=int, default=1, help="processes that go through scenes side by side")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    options = _options(arguments)
    try:
        _evaluate(options)
    except InputError as error:
        print(f"error: {error}")
        return 2
    return 0


def _evaluate(options: argparse.Namespace) -> None:
    started = time.monotonic()
    counter = Counter.load(options.model)
    # what can't be used is said before minutes of work
    if options.rescore and options.add:
        raise InputError("--rescore and --add: give one of them, the other in a second run")
    if options.choices and not options.choices.is_file():
        raise InputError(f"--choices {options.choices}: there is no such file")
    for path in [*(options.folds or []), *([options.alone] if options.alone else [])]:
        measure.read_looked_at(path)
    for look, folders in ((marked_scenes, options.scenes), (bare_scenes, options.bare)):
        if folders:
            look(folders)
    model = {"name": counter.info.name, "sha256": counter.info.sha256}
    result, rows = _earlier(options.add, model) if options.add else ({}, {})
    if options.rescore:
        before = {**model, "sha256": read_info(counter.info.path).get("recalibrated_from", "")}
        result, rows = _earlier(options.rescore, before, lambda row: rescored(row, counter))
        result["rescored"] = True
    result |= {"schema": "tillercount.evaluation/1", "model": model}
    if options.scenes:
        if not options.true_outlines_only:
            found = measure_scenes.scenes(
                options.scenes, options.model, options.limit, printed("scenes"), options.workers
            )
            rows["scenes"] = found
            result["usable"] = USABLE
            rows |= _parts(found)
        known = None
        if not options.program_only:
            known = measure_scenes.scenes_known(
                options.scenes, options.model, options.limit, printed("scenes, true outlines"),
                options.workers,
            )
        if known and known.rows:  # none of them may have a class map
            rows["scenes, true outlines"] = known.rows
            result["surface_iou"] = known.surface_iou
            result["points_f1"] = known.points_f1
    if options.bare:
        result["bare"] = measure_scenes.bare(
            options.bare, options.limit, printed("photos without a frame"), options.workers
        )
    if options.renders:
        rows["other renderer"] = measure.renders(options.renders, counter, printed("renders"))
    result["sets"] = {name: summarise(values) for name, values in rows.items()}
    if options.choices:
        result["choices"] = json.loads(options.choices.read_text("utf-8"))
    if options.wheat:
        held = read_info(model_path(options.model))["training"].get("plots_held_out", [])
        result["wheat"] = measure.wheat(options.wheat, counter, held, printed("wheat photos"))
    if options.folds or options.alone:
        sets = result.setdefault("wheat", {}).setdefault("sets", {})
        sets |= measure.looked_at(options.folds or [], options.alone)
    if options.others:
        result["others"] = measure.others(
            options.others, options.model, printed("other things"), options.workers
        )
    # several processes share neither memory nor time with one photo; what was counted earlier may
    # have been counted by several
    if options.workers <= 1 and not options.add and not options.rescore:
        result["peak_memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    else:
        for figures in result["sets"].values():
            figures.pop("seconds_median", None)
    result["rows"] = {
        name: [r.as_dict() for r in values]
        for name, values in rows.items()
        if name not in _PARTS
    }
    options.out.mkdir(parents=True, exist_ok=True)
    text = json.dumps(result, indent=1, allow_nan=True)
    (options.out / "evaluation.json").write_text(text, encoding="utf-8")
    pictures: list[str] = []
    if rows:
        from tillercount.train.plots import draw

        pictures = draw({n: r for n, r in rows.items() if "weeds" not in n}, counter, options.out)
    card = write_card(
        options.out / "card.md", read_info(model_path(options.model)), result, pictures
    )
    for name, figures in result["sets"].items():
        for what in ("plants", "shoots"):
            if what in figures:
                f = figures[what]
                print(
                    f"{name}: {what} relative RMSE {f['rel_rmse']:.3f}, bias {f['bias']:+.3f}, "
                    f"R2 {f['r2']:.3f}, coverage {f['coverage']:.3f} (n {f['n']})"
                )
    print(f"{card} written; {time.monotonic() - started:.0f} s")


def _earlier(
    path: Path, model: dict[str, str], changed: Callable[[Row], Row] = lambda row: row
) -> tuple[dict[str, Any], dict[str, list[Row]]]:
    """What an earlier evaluation of the same model found, but for sums over its photos."""
    try:
        found = json.loads(path.read_text("utf-8"))
        if found["model"] != model:
            raise InputError(f"{path}: made with another model; evaluate those photos again")
        rows = {
            name: [changed(Row.read(r)) for r in some] for name, some in found.pop("rows").items()
        }
    except (OSError, ValueError, KeyError, TypeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{path}: can't be read as an evaluation ({error})") from error
    if "scenes" in rows:
        rows |= _parts(rows["scenes"])
    return found, rows


if __name__ == "__main__":
    raise SystemExit(main())
