"""Real photos of young wheat with plant masks, packed into one small file for training.

The photos come from the Eschikon Wheat Segmentation data set (Zenkl et al. 2022, doi
10.3929/ethz-b-000512332, CC BY-SA 4.0). The packed file is that data in another form: it keeps
the attribution and the licence, and stays out of the project's repository.

    python -m tillercount.train.realphotos FOLDER OUT.npz
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tillercount.errors import InputError

__all__ = ["ATTRIBUTION", "FOLDS", "RealPhotos", "folds", "load_real", "pack", "plant_mask"]

ATTRIBUTION = (
    "Eschikon Wheat Segmentation, Zenkl et al. 2022, doi 10.3929/ethz-b-000512332, CC BY-SA 4.0"
)
FOLDS = 5
PHOTO_MM_PER_PX = 0.64
"""Scale of these photos; judged from rows 12.5 cm apart, since none is recorded."""
_LARGEST_BYTES = 12_000_000


@dataclass(frozen=True)
class RealPhotos:
    """Photos at the network's scale: pixels (N, 4, S, S) uint8, red, green, blue, plant 0 or 1.

    ``readings``: per photo the plants that two readers pointed at, (P, 3) float32 x, y in pixels
    and a weight; the weights of a photo add up to its plants. Empty where nobody read, or where
    a reader found the photo not countable.
    """

    pixels: NDArray[np.uint8]
    names: list[str]
    plots: list[str]
    readings: list[NDArray[np.float32]]


def folds(plots: Sequence[str]) -> dict[str, int]:
    """Fold of each plot, for a list that names the plot of every photo.

    Whole plots go into one fold, since they were photographed again and again: the most
    photographed first, each to the fold that has the fewest photos so far.
    """
    photos = Counter(plots)

    def turn(plot: str) -> tuple[int, bytes]:
        return -photos[plot], hashlib.sha256(f"plot {plot}".encode()).digest()

    held = [0] * FOLDS
    found = {}
    for plot in sorted(photos, key=turn):
        found[plot] = held.index(min(held))
        held[found[plot]] += photos[plot]
    return found


def read_index(folder: Path) -> list[dict[str, str]]:
    """Rows of the data set's ``index.csv``.

    Raises
    ------
    InputError
        No such file, or columns missing.
    """
    path = folder / "index.csv"
    if not path.exists():
        raise InputError(f"{path} doesn't exist; give the folder that holds img/, mask/, index.csv")
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for column in ("file", "plot"):
        if not rows or column not in rows[0]:
            raise InputError(f"{path}: column {column!r} is missing")
    return rows


def plant_mask(folder: Path, name: str) -> NDArray[np.bool_]:
    """Which pixels (H, W) of a photo show a plant."""
    with Image.open(folder / "mask" / name) as mask:
        return np.asarray(mask.convert("L")) > 127


def pack(folder: Path, out: Path) -> int:
    """Write the photos and masks of ``folder`` into ``out``; returns the number of photos.

    Raises
    ------
    InputError
        A file is missing, or the result is larger than can be sent along with the code.
    """
    rows = read_index(folder)
    photos: list[bytes] = []
    masks: list[bytes] = []
    for row in rows:
        with Image.open(folder / "img" / row["file"]) as image:
            photos.append(_encoded(image.convert("RGB"), "JPEG", quality=93, subsampling=0))
        plant = Image.fromarray(plant_mask(folder, row["file"]).astype(np.uint8) * 255)
        masks.append(_encoded(plant.convert("1"), "PNG", optimize=True))
    size = sum(map(len, photos)) + sum(map(len, masks))
    if size > _LARGEST_BYTES:
        raise InputError(f"packed photos of {folder} take {size / 1e6:.1f} MB, more than 12 MB")
    out.parent.mkdir(parents=True, exist_ok=True)
    with out.open("wb") as file:
        np.savez(
            file,
            photos=np.frombuffer(b"".join(photos), np.uint8),
            photo_ends=np.cumsum([len(b) for b in photos]),
            masks=np.frombuffer(b"".join(masks), np.uint8),
            mask_ends=np.cumsum([len(b) for b in masks]),
            readings=_readings(folder, [row["file"] for row in rows]),
            names=np.array([row["file"] for row in rows]),
            plots=np.array([row["plot"] for row in rows]),
            attribution=np.array(ATTRIBUTION),
        )
    return len(rows)


def load_real(
    path: Path, mm_per_px: float = 0.4, *, fold: int | None, training: bool = True
) -> RealPhotos | None:
    """Packed photos of all plots but those of ``fold``, or, not ``training``, of those alone.

    None if there are none of them.

    Raises
    ------
    InputError
        The file can't be read.
    """
    try:
        with np.load(path, allow_pickle=False) as data:
            names, plots = data["names"].tolist(), data["plots"].tolist()
            read = data["readings"]
            photos = _split(data["photos"], data["photo_ends"])
            masks = _split(data["masks"], data["mask_ends"])
    except (OSError, ValueError, KeyError) as error:
        raise InputError(
            f"{path}: can't be read as packed photos ({error}); pack it anew"
        ) from error
    fold_of = folds(plots)
    chosen = [i for i, plot in enumerate(plots) if (fold_of[plot] == fold) != training]
    if not chosen:
        return None
    pixels = np.stack([_at_scale(photos[i], masks[i], mm_per_px) for i in chosen])
    # Pixel centres are whole numbers at both scales.
    zoom = PHOTO_MM_PER_PX / mm_per_px
    at = np.array([zoom, zoom, 1.0])
    move = np.array([(zoom - 1) / 2, (zoom - 1) / 2, 0.0])
    readings = [(read[read[:, 0] == i, 1:] * at + move).astype(np.float32) for i in chosen]
    return RealPhotos(pixels, [names[i] for i in chosen], [plots[i] for i in chosen], readings)


def _readings(folder: Path, names: list[str]) -> NDArray[np.float32]:
    """Number of the photo, x, y and weight (P, 4) of each plant pointed at; px of the photo.

    A reader's plants count half, since there are two; those that a reader wasn't sure of, a
    quarter: the count of a photo is the mean of "sure" and "with doubtful ones" over both.
    """
    counts, points = folder / "readings.csv", folder / "reading_points.csv"
    if not counts.exists() or not points.exists():
        return np.zeros((0, 4), np.float32)
    with counts.open(newline="", encoding="utf-8") as file:
        countable = {r["file"] for r in csv.DictReader(file) if r["countable"] == "1"}
    with points.open(newline="", encoding="utf-8") as file:
        found = [
            (
                names.index(r["file"]),
                float(r["x"]),
                float(r["y"]),
                0.25 if r["unsure"] == "1" else 0.5,
            )
            for r in csv.DictReader(file)
            if r["file"] in countable
        ]
    return np.asarray(found, np.float32).reshape(-1, 4)


def _at_scale(photo: bytes, mask: bytes, mm_per_px: float) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(photo)) as image:
        side = round(image.width * PHOTO_MM_PER_PX / mm_per_px)
        rgb = np.asarray(image.convert("RGB").resize((side, side), Image.Resampling.BICUBIC))
    with Image.open(io.BytesIO(mask)) as plant:
        smooth = plant.convert("L").resize((side, side), Image.Resampling.BILINEAR)
    binary = (np.asarray(smooth) > 127).astype(np.uint8)
    return np.concatenate([np.moveaxis(rgb, -1, 0), binary[None]])


def _encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def _split(flat: NDArray[np.uint8], ends: NDArray[np.int64]) -> list[bytes]:
    starts = np.concatenate([[0], ends[:-1]])
    return [flat[a:b].tobytes() for a, b in zip(starts, ends, strict=True)]


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Pack real wheat photos for training.")
    parser.add_argument("folder", type=Path, help="folder with img/, mask/ and index.csv")
    parser.add_argument("out", type=Path, help="file to write, .npz")
    options = parser.parse_args(arguments)
    count = pack(options.folder, options.out)
    plots = [row["plot"] for row in read_index(options.folder)]
    shares = Counter(folds(plots)[plot] for plot in plots)
    print(
        f"{count} photos packed, {options.out.stat().st_size / 1e6:.1f} MB; {len(set(plots))} "
        f"plots in {FOLDS} folds of {', '.join(str(shares[k]) for k in range(FOLDS))} photos"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
