"""Give bare weights what a model needs besides: thresholds, yardstick of novelty, calibration.

    python -m tillercount.train.finish WEIGHTS --known DIR ... --held DIR ... --out MODEL_FOLDER

For weights that a training run left without its closing work (``--no-close``, or a run that was
cut short). ``--known`` are scenes trained on, ``--held`` scenes kept out of training.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Sequence
from pathlib import Path

import torch

from tillercount.errors import InputError
from tillercount.model.files import read_bundle, write_manifest
from tillercount.model.network import build
from tillercount.train.closing import close
from tillercount.train.data import CANVAS_PX, find_scenes, load_scenes
from tillercount.train.realphotos import ATTRIBUTION, load_real

__all__ = ["finish", "main"]


def finish(
    weights: Path, known: Sequence[Path], held: Sequence[Path], real: Path | None, out: Path,
    *, views: int = 1, canvas_px: int = 1536, device: str = "cpu", workers: int = 1,
    limit: int | None = None,
) -> Path:
    """Write ``out/counter.safetensors`` and the sums of the folder; returns the model's path.

    Of each kind of scenes about ``limit`` are used, spread over what there is.

    Raises
    ------
    InputError
        The weights or a folder of scenes can't be used.
    """
    bundle = read_bundle(weights)
    attribution = str(bundle.info.get("attribution", ""))
    if attribution and real is None:
        raise InputError(
            f"{weights} was trained on real photos ({attribution}); give them with --real, so that "
            "they don't look unusual to it"
        )
    network = build(bundle.info["config"])
    network.load_state_dict(bundle.weights, strict=False)
    network.to(torch.device(device)).eval()
    training = {**bundle.info.get("training", {}), "torch": torch.__version__}
    scenes = (
        load_scenes(_some(known, limit), canvas_px=CANVAS_PX, shift=True, workers=workers),
        load_scenes(_some(held, limit), canvas_px=canvas_px, workers=workers),
    )
    fold = training.get("fold")
    photos = (
        (load_real(real, fold=fold), load_real(real, fold=fold, training=False))
        if real else (None, None)
    )
    work = out / "finish"
    work.mkdir(parents=True, exist_ok=True)
    model = close(
        network, scenes, photos, torch.device(device), work, training, views=views,
        attribution=attribution or (ATTRIBUTION if real else ""),
    )
    shutil.copyfile(model, out / "counter.safetensors")
    write_manifest(out)
    shutil.rmtree(work)
    return out / "counter.safetensors"


def _some(folders: Sequence[Path], limit: int | None) -> list[Path]:
    found = find_scenes(folders)
    return found[:: max(1, len(found) // limit)] if limit else found


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Finish bare weights into a model.")
    add = parser.add_argument
    add("weights", type=Path)
    add("--known", nargs="+", type=Path, required=True, help="folders of scenes trained on")
    add("--held", nargs="+", type=Path, required=True, help="folders of scenes kept out")
    add("--real", type=Path, help="packed real photos that were trained on (.npz)")
    add("--out", type=Path, required=True, help="folder for the model")
    add("--views", type=int, default=1, help="mirrored views that a prediction averages: 1, 2, 4")
    add("--device", default="cpu", help="cpu, cuda or cuda:N")
    add("--workers", type=int, default=1, help="processes that read scenes")
    add("--limit", type=int, help="use only about so many of the known and of the held scenes")
    options = parser.parse_args(arguments)
    try:
        path = finish(
            options.weights, options.known, options.held, options.real, options.out,
            views=options.views, device=options.device, workers=options.workers,
            limit=options.limit,
        )
    except InputError as error:
        print(f"error: {error}")
        return 2
    print(f"{path} written")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
