"""Scene folders into metric top views with their truth, ready to be cut into training crops.

Every photo is warped once, at loading, onto a square canvas at the network's scale, centred on
the marked area (or, where that is larger than the canvas, on some part of it). Canvas pixels
follow the package's convention: x right, y down, the centre of the top-left pixel is (0, 0).
"""

from __future__ import annotations

import hashlib
import json
import mmap
import multiprocessing
import re
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tillercount.errors import InputError
from tillercount.train.canvas import (
    OUTSIDE,
    apply,
    canvas_to_ground,
    inside_share,
    shift_of,
    warp_ids,
    warp_photo,
    warp_plain,
)

__all__ = [
    "OUTSIDE",
    "SceneTruth",
    "Scenes",
    "find_scenes",
    "group_of",
    "held_out",
    "load_scenes",
    "read_scene",
]

MM_PER_PX = 0.4
CANVAS_PX = 1024
SHOOTS_SUFFIX = ".shoots.png"  # as `tillercount.scenes.write` names its map of shoots
SEEN_FROM = 0.02
"""Plants and shoots of a smaller visible share are counted but can't be pointed at."""
_REACH_PX = 48.0  # bases this far off the canvas are kept: crops may be turned or shrunk


@dataclass(frozen=True)
class SceneTruth:
    """What is known about one canvas.

    ``points`` (P, 6) float32: x, y (canvas px), kind (0 plant, 1 shoot, 2 another plant), visible
    share, and the x, y of the plant that it belongs to (its own unless it is a shoot).
    ``inside`` (S/16, S/16) float32: share of each block inside the marked area. ``counts`` (2,):
    plants and shoots whose base is inside and on the canvas. ``whole``: the marked area lies wholly
    on the canvas.
    """

    name: str
    group: str
    kind: str
    points: NDArray[np.float32]
    inside: NDArray[np.float32]
    counts: NDArray[np.float32]
    whole: bool


@dataclass(frozen=True)
class Scenes:
    """Canvases (N, 4 or 6, S, S) uint8, with the truth of each.

    Red, green, blue, class and, where stems were asked for, the low and the high byte of 1 + the
    row of `SceneTruth.points` that holds the shoot whose leaf is shown, 0 where that isn't known.
    """

    pixels: NDArray[np.uint8]
    truth: list[SceneTruth]

    @property
    def canvas_px(self) -> int:
        """Side of a canvas."""
        return int(self.pixels.shape[-1])

    def __len__(self) -> int:
        return len(self.truth)


def find_scenes(folders: Iterable[Path | str]) -> list[Path]:
    """Scene files (``NAME.json`` with ``NAME.jpg`` and ``NAME.png`` beside), in a fixed order.

    Folders are searched to any depth, so a run written in shards is read as one.

    Raises
    ------
    InputError
        A folder is missing, or holds no scene.
    """
    found: list[Path] = []
    for folder in map(Path, folders):
        if not folder.is_dir():
            raise InputError(f"scene folder {folder} doesn't exist; check the path given to --data")
        here = [
            path
            for path in sorted(folder.rglob("*.json"))
            if path.with_suffix(".jpg").exists() and path.with_suffix(".png").exists()
        ]
        if not here:
            raise InputError(
                f"no scenes in {folder}: a scene is NAME.json with NAME.jpg and NAME.png beside it"
            )
        found += here
    return found


def held_out(group: str, share: float) -> bool:
    """Whether a group of scenes is kept from training; depends on its name alone."""
    digest = hashlib.sha256(f"held out:{group}".encode()).digest()
    return int.from_bytes(digest[:4], "big") / 2**32 < share


def group_of(path: Path) -> str:
    """The stand that a scene shows, by its seed; photos of one stand must stay together.

    Only the head of the file is read: the seed stands before the long lists.
    """
    with path.open("rb") as file:
        head = file.read(2000)
    found = re.search(rb'"(?:stand_)?seed":\s*(-?\d+)', head)
    return found[1].decode() if found else path.stem


def read_scene(
    path: Path,
    canvas_px: int = CANVAS_PX,
    mm_per_px: float = MM_PER_PX,
    *,
    shift: bool = False,
    stems: bool = False,
) -> tuple[NDArray[np.uint8], SceneTruth]:
    """One scene on its canvas: pixels (4 or, with ``stems``, 6, S, S) uint8 as in `Scenes`; truth.

    With ``shift``, a marked area larger than the canvas is met anywhere, not at its middle only;
    the same scene always at the same place.

    Raises
    ------
    InputError
        The JSON isn't a scene of schema 1, or the pictures don't fit it.
    """
    try:
        scene = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: can't be read as JSON ({error}); render it again") from error
    if not str(scene.get("schema", "")).startswith("tillercount.scene/1"):
        raise InputError(
            f"{path}: field schema is {scene.get('schema')!r}, not tillercount.scene/1"
        )
    ground_to_photo = np.asarray(scene["ground_to_photo"], dtype=np.float64)
    to_photo = ground_to_photo @ canvas_to_ground(ground_to_photo, canvas_px, mm_per_px)
    if shift:
        to_photo = to_photo @ shift_of(scene, to_photo, canvas_px)
    with Image.open(path.with_suffix(".jpg")) as photo, Image.open(path.with_suffix(".png")) as ids:
        if photo.size != ids.size:
            raise InputError(f"{path}: photo is {photo.size} but class map is {ids.size}")
        rgb = warp_photo(photo.convert("RGB"), to_photo, canvas_px)
        classes = warp_ids(ids, to_photo, canvas_px)
    layers = [*np.moveaxis(rgb, -1, 0), classes]
    truth, rows = _truth(path, scene, to_photo, canvas_px)
    if stems:
        layers += _stems(path, rows, ids.size, to_photo, canvas_px)
    return np.stack(layers), truth


def _stems(
    path: Path, rows: NDArray[np.int64], size: tuple[int, int], to_photo: NDArray[np.float64],
    canvas_px: int,
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Low and high bytes; ``rows`` gives each shoot of the file its row of points, or -1."""
    file = path.with_suffix(SHOOTS_SUFFIX)
    if not file.exists():
        nobody = np.zeros((canvas_px, canvas_px), np.uint8)
        return nobody, nobody
    with Image.open(file) as image:
        if image.size != size:
            raise InputError(f"{file} is {image.size} but the class map is {size}")
        shoots = Image.fromarray(np.asarray(image, np.int32))
    here = np.asarray(warp_plain(shoots, to_photo, canvas_px, 0), np.int64)
    table = np.append(np.int64(-1), rows)
    row = table[np.clip(here, 0, len(rows))] + 1
    return (row & 255).astype(np.uint8), (row >> 8).astype(np.uint8)


def load_scenes(
    paths: Sequence[Path],
    *,
    canvas_px: int = CANVAS_PX,
    shift: bool = False,
    stems: bool = False,
    workers: int = 0,
    say: Callable[[str], None] = print,
) -> Scenes:
    """Read many scenes at once.

    With ``workers`` above one, processes are forked and write into one shared block of memory;
    call it before the first use of an accelerator. A scene that can't be read is left out and
    named; all of them failing is an error.
    """
    shape = (len(paths), 6 if stems else 4, canvas_px, canvas_px)
    buffer = mmap.mmap(-1, int(np.prod(shape)))
    pixels = np.frombuffer(buffer, dtype=np.uint8).reshape(shape)
    jobs = [(i, path, canvas_px, shift, stems) for i, path in enumerate(paths)]
    started = time.monotonic()
    global _target
    _target = pixels
    truth: list[SceneTruth | None] = [None] * len(paths)
    trouble = 0

    def take(done: int, i: int, result: SceneTruth | str) -> int:
        if isinstance(result, str):
            say(f"left out: {result}")
            return 1
        truth[i] = result
        if done % 500 == 0 or done == len(paths):
            say(f"loaded {done} of {len(paths)} scenes in {time.monotonic() - started:.1f} s")
        return 0

    if workers > 1:
        with multiprocessing.get_context("fork").Pool(workers) as pool:
            results = pool.imap_unordered(_load_one, jobs, chunksize=4)
            for done, (i, result) in enumerate(results, 1):
                trouble += take(done, i, result)
    else:
        for done, job in enumerate(jobs, 1):
            i, result = _load_one(job)
            trouble += take(done, i, result)
    if trouble == len(paths):
        raise InputError(f"none of the {len(paths)} scenes could be read; see the lines above")
    keep = [i for i, t in enumerate(truth) if t is not None]
    if len(keep) < len(paths):
        pixels = pixels[keep]
    return Scenes(pixels, [t for t in truth if t is not None])


_target: NDArray[np.uint8] | None = None


def _load_one(job: tuple[int, Path, int, bool, bool]) -> tuple[int, SceneTruth | str]:
    i, path, canvas_px, shift, stems = job
    assert _target is not None
    try:
        _target[i], truth = read_scene(path, canvas_px, shift=shift, stems=stems)
    except Exception as error:  # one bad file of thousands must not stop the run
        return i, f"{path}: {error}"
    return i, truth


def _truth(
    path: Path, scene: dict[str, Any], to_photo: NDArray[np.float64], canvas_px: int
) -> tuple[SceneTruth, NDArray[np.int64]]:
    """The truth of a canvas, and the row of its points for each shoot of the file, -1 for none."""
    to_canvas = np.linalg.inv(to_photo)
    plants = np.asarray(scene["plants"], dtype=np.float64).reshape(-1, 7)
    shoots = np.asarray(scene["shoots"], dtype=np.float64).reshape(-1, 7)
    plant_xy = apply(to_canvas, plants[:, 2:4])
    shoot_xy = apply(to_canvas, shoots[:, 3:5])
    owner_xy = plant_xy[shoots[:, 0].astype(int)]
    weeds = np.asarray(scene.get("weeds") or [], dtype=np.float64).reshape(-1, 5)
    weed_xy = apply(to_canvas, weeds[:, 2:4]) if len(weeds) else weeds[:, 2:4]
    points = np.concatenate(
        [
            np.column_stack([plant_xy, np.zeros(len(plants)), plants[:, 6], plant_xy]),
            np.column_stack([shoot_xy, np.ones(len(shoots)), shoots[:, 6], owner_xy]),
            np.column_stack([weed_xy, np.full(len(weeds), 2.0), np.ones(len(weeds)), weed_xy]),
        ]
    )
    marked = np.concatenate([plants[:, 4], shoots[:, 5], np.zeros(len(weeds))]) > 0.5
    on_canvas = np.all((points[:, :2] >= -0.5) & (points[:, :2] < canvas_px - 0.5), axis=1)
    counts = [np.sum(marked & on_canvas & (points[:, 2] == kind)) for kind in (0, 1)]
    near = np.all((points[:, :2] > -_REACH_PX) & (points[:, :2] < canvas_px + _REACH_PX), axis=1)
    outline = np.asarray(scene.get("outline_px") or np.zeros((0, 2)), dtype=np.float64)
    outline = apply(to_canvas, outline) if len(outline) else outline
    whole = bool(len(outline)) and bool(np.all((outline >= -0.5) & (outline <= canvas_px - 0.5)))
    rows = np.where(near, np.cumsum(near) - 1, -1)[len(plants) : len(plants) + len(shoots)]
    truth = SceneTruth(
        name=path.stem,
        group=group_of(path),
        kind=str((scene.get("area") or {}).get("kind", "none")),
        points=points[near].astype(np.float32),
        inside=inside_share(outline, canvas_px),
        counts=np.asarray(counts, dtype=np.float32),
        whole=whole,
    )
    return truth, rows
