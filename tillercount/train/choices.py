"""What each choice in making a counter brings: several weights measured on the same photos.

    python -m tillercount.train.choices LIST.json --scenes DIR ... --renders DIR
        [--real real.npz] --out FILE

``LIST.json`` holds one record for each: ``choice`` (in words), ``weights`` (a model or bare
weights), ``views`` (mirrored views averaged, 1 unless given) and ``real``, the
``real_held_out.json`` of runs that left photos out, where the weights have seen some. ``FILE`` is
given to `tillercount.train.evaluate` with ``--choices`` and becomes a table of the card. Scenes are
counted inside their true outlines, so that nothing but the network errs.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import torch

from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.model.files import Bundle, model_path, read_bundle, write_bundle
from tillercount.model.network import build
from tillercount.train.evaluate import summarise
from tillercount.train.measure import looked_at, renders
from tillercount.train.measure_scenes import scenes_known
from tillercount.train.parallel import printed
from tillercount.train.realphotos import load_real
from tillercount.train.validate import predict_real, real_summary

__all__ = ["main", "measured"]


def measured(
    entry: Mapping[str, Any], scenes: Sequence[Path], other: Path | None, real: Path | None,
    workers: int = 1,
) -> dict[str, Any]:
    """Figures of one record of the list: ``choice``, ``scenes``, ``other`` renderer, ``real``.

    Raises
    ------
    InputError
        The record, its weights or a folder can't be used.
    """
    try:
        choice, weights = str(entry["choice"]), Path(entry["weights"])
    except (KeyError, TypeError) as error:
        raise InputError(f"the list needs choice and weights in each record ({error})") from error
    bundle = read_bundle(model_path(weights))
    found: dict[str, Any] = {"choice": choice}
    with tempfile.TemporaryDirectory() as folder:
        model = _whole(bundle, int(entry.get("views", 1)), Path(folder))
        rows = scenes_known(scenes, str(model), None, printed(choice), workers).rows
        found["scenes"] = _short(summarise(rows))
        if other is not None:
            table = renders(other, Counter.load(str(model)), printed("other renderer"))
            found["other"] = _short(summarise(table))
    found["real"] = _real(bundle, entry, real)
    return found


def _whole(bundle: Bundle, views: int, folder: Path) -> Path:
    """The weights with thresholds and calibration of the shipped model: counts don't hang on
    them."""
    like = read_bundle(model_path())
    info = {**like.info, "config": bundle.info["config"]}
    info["tiles"] = {**info["tiles"], "views": views}
    info.pop("things", None)  # directions in the other network's own features
    info["novelty"] = {}
    path = folder / "counter.safetensors"
    write_bundle(path, bundle.weights, info)
    return path


def _short(figures: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "photos": figures["counted"],
        **{w: {k: figures[w][k] for k in ("rel_rmse", "bias")} for w in ("plants", "shoots")},
    }


def _real(bundle: Bundle, entry: Mapping[str, Any], real: Path | None) -> dict[str, float] | None:
    """Of real photos that the weights never saw; None where there is nothing honest to say."""
    if entry.get("real"):
        (figures,) = looked_at([Path(p) for p in entry["real"]], None).values()
        return dict(figures)
    if real is None or bundle.info.get("attribution"):
        return None
    network = build(bundle.info["config"])
    network.load_state_dict(bundle.weights, strict=False)
    with torch.inference_mode():
        photos = load_real(real, fold=None)
        if photos is None:
            return None
        return real_summary(predict_real(network, photos, torch.device("cpu"), exact=True))


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Measure what each choice brings.")
    add = parser.add_argument
    add("list", type=Path, help="JSON list of records with choice and weights")
    add("--scenes", nargs="+", type=Path, required=True, help="folders of scenes, none trained on")
    add("--renders", type=Path, help="folder of photos with truth.json from another renderer")
    add("--real", type=Path, help="packed real photos, for weights that never saw any (.npz)")
    add("--workers", type=int, default=1, help="processes")
    add("--out", type=Path, required=True, help="file to write; what it has already is kept")
    options = parser.parse_args(arguments)
    try:
        wanted = json.loads(options.list.read_text("utf-8"))
        done = json.loads(options.out.read_text("utf-8")) if options.out.exists() else []
        for entry in wanted:
            if any(entry.get("choice") == one["choice"] for one in done):
                continue
            done.append(
                measured(entry, options.scenes, options.renders, options.real, options.workers)
            )
            options.out.write_text(json.dumps(done, indent=1) + "\n", "utf-8")
    except (OSError, ValueError, InputError) as error:
        print(f"error: {error}")
        return 2
    print(f"{options.out} written: {len(done)} choices")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
