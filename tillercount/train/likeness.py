"""Show a finished model other things, so that it can tell them from stands.

    python -m tillercount.train.likeness MODEL --stands DIR ... --held DIR ... --things DIR
        --out NEW.safetensors

``--stands`` and ``--held`` are folders of scenes (or of plain photos at 0.4 mm per pixel):
directions come from the first, limits from the second. ``--things`` has one folder per thing,
named after it. None of them may be among the photos that the model is judged on.
"""

from __future__ import annotations

import argparse
import functools
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.model.files import model_path, read_bundle, write_bundle, write_manifest
from tillercount.model.things import Things
from tillercount.train.data import SHOOTS_SUFFIX
from tillercount.train.measure_scenes import View, counter_of
from tillercount.train.parallel import Progress, each, printed

__all__ = ["embeddings", "main", "picture_paths", "view_of_picture", "with_things"]

_PHOTOS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff")
_SIDE_PX = 860
_STANDS, _HELD = "/stands", "/held"  # no folder is called so


def picture_paths(folder: Path) -> list[Path]:
    """Photos under a folder, maps of scenes (of classes, of shoots) left out."""
    return sorted(
        p for p in folder.rglob("*")
        if p.suffix.lower() in _PHOTOS
        and not p.name.endswith(SHOOTS_SUFFIX)
        and not (p.suffix == ".png" and p.with_suffix(".json").exists())
    )


def view_of_picture(path: Path, mm_per_px: float) -> View:
    """A scene (a photo with its JSON and class map beside) seen from above, or a plain photo cut to
    860 px, as if it were 0.4 mm wide per pixel."""
    from PIL import Image

    from tillercount.train.canvas import OUTSIDE
    from tillercount.train.data import read_scene

    if path.with_suffix(".json").exists():
        pixels, _ = read_scene(path.with_suffix(".json"), 864)
        rgb = np.ascontiguousarray(np.moveaxis(pixels[:3], 0, -1))
        return View(rgb, pixels[3] != OUTSIDE, mm_per_px)
    with Image.open(path) as image:
        rgb = np.asarray(image.convert("RGB"))[:_SIDE_PX, :_SIDE_PX]
    return View(rgb, np.ones(rgb.shape[:2], dtype=bool), mm_per_px)


def _embedding(model: str, path: Path) -> NDArray[np.float32]:
    counter = counter_of(model)
    return counter.predict(view_of_picture(path, counter.info.mm_per_px)).embedding


def embeddings(
    model: str, sets: Mapping[str, Sequence[Path]], workers: int, progress: Progress,
    limits: Mapping[str, int | None] | None = None,
) -> dict[str, NDArray[np.float64]]:
    """What the network makes of each picture in the folders of each set, (n, E) by set.

    All sets go through the same processes, since starting them takes longer than a small set.
    ``limits``: of these sets about so many pictures, spread over what there is.

    Raises
    ------
    InputError
        No picture in the folders of a set.
    """
    paths: dict[str, list[Path]] = {}
    for name, folders in sets.items():
        found = [path for folder in folders for path in picture_paths(folder)]
        if not found:
            raise InputError(f"no photos in {', '.join(map(str, folders))}; check the path")
        limit = (limits or {}).get(name)
        paths[name] = found[:: max(1, len(found) // limit)] if limit else found
    every = [path for some in paths.values() for path in some]
    made = iter(each(functools.partial(_embedding, model), every, workers, progress))
    return {
        name: np.asarray([next(made) for _ in some], np.float64) for name, some in paths.items()
    }


def with_things(
    model: str, stands: Sequence[Path], held: Sequence[Path], things: Path, out: Path,
    *, growing: Sequence[str] = (), limit: int | None = None, workers: int = 1,
    progress: Progress = lambda done, of: None,
) -> str:
    """Write the model with directions of the things to ``out``; returns its SHA-256.

    ``growing``: those things that would be counted as a stand, and are refused for it.

    Raises
    ------
    InputError
        A folder without photos, no thing with at least 8 of them, fewer than 100 stands for the
        limits, or a growing thing that there is no folder of.
    """
    bundle = read_bundle(model_path(model))
    if not things.is_dir():
        raise InputError(f"{things}: no such folder; give one with a folder of photos per thing")
    folders = {
        folder.name: [folder]
        for folder in sorted(things.iterdir()) if folder.is_dir() and picture_paths(folder)
    }
    unknown = [name for name in growing if name not in folders]
    if unknown:
        raise InputError(f"{things}: no photos in a folder {unknown[0]!r} (it has {list(folders)})")
    sets: dict[str, Sequence[Path]] = {_STANDS: stands, _HELD: held, **folders}
    made = embeddings(model, sets, workers, progress, {_STANDS: limit, _HELD: limit})
    named = {name: made[name] for name in folders}
    fitted = Things.fit(made[_STANDS], made[_HELD], named, growing)
    if fitted is None:
        raise InputError(
            f"{things}: no folder has 8 photos of one thing, or there are fewer than 100 stands "
            "for the limits; show it more"
        )
    counts = {name: len(v) for name, v in named.items()}
    info = {**bundle.info, "things": {**fitted.numbers(), "pictures": counts}}
    return write_bundle(out, bundle.weights, info, {**bundle.extra, **fitted.tensors()})


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Show a model other things than stands.")
    add = parser.add_argument
    add("model", help="name or path of the model")
    add("--stands", nargs="+", type=Path, required=True, help="folders of stands")
    add("--held", nargs="+", type=Path, required=True, help="folders of other stands, for limits")
    add("--things", type=Path, required=True, help="folder with a folder of photos per thing")
    add("--growing", nargs="+", default=[], help="things that would be counted as a stand")
    add("--limit", type=int, help="use only about so many stands of each kind")
    add("--out", type=Path, required=True, help="model to write; its folder's sums are renewed")
    add("--workers", type=int, default=1, help="processes")
    options = parser.parse_args(arguments)

    try:
        digest = with_things(
            options.model, options.stands, options.held, options.things, options.out,
            growing=options.growing, limit=options.limit, workers=options.workers,
            progress=printed("photos"),
        )
    except InputError as error:
        print(f"error: {error}")
        return 2
    write_manifest(options.out.parent)
    print(f"{options.out} written, SHA-256 {digest}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
