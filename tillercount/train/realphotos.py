"""Real photos of young wheat with plant masks, packed into one small file for training.

The photos come from the Eschikon Wheat Segmentation data set (Zenkl et al. 2022, doi
10.3929/ethz-b-000512332, CC BY-SA 4.0). The packed file is that data in another form: it keeps
the attribution and the licence, and stays out of the project's repository.

    python -m tillercount.train.realphotos FOLDER OUT.npz
"""

from __future__ import annotations

import argparse
import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tillercount.errors import InputError
from tillercount.train.data import held_out

__all__ = ["ATTRIBUTION", "RealPhotos", "kept_plots", "load_real", "pack", "plots_held_out"]

ATTRIBUTION = (
    "Eschikon Wheat Segmentation, Zenkl et al. 2022, doi 10.3929/ethz-b-000512332, CC BY-SA 4.0"
)
HELD_OUT_SHARE = 0.25
PHOTO_MM_PER_PX = 0.64
"""Scale of these photos; judged from rows 12.5 cm apart, since none is recorded."""
_LARGEST_BYTES = 12_000_000


@dataclass(frozen=True)
class RealPhotos:
    """Photos at the network's scale: pixels (N, 4, S, S) uint8, red, green, blue, plant 0 or 1."""

    pixels: NDArray[np.uint8]
    names: list[str]
    plots: list[str]


def plots_held_out(plots: Sequence[str]) -> list[str]:
    """Plots never trained on, chosen by name alone; whole plots, since they repeat."""
    return sorted({plot for plot in plots if held_out(f"plot {plot}", HELD_OUT_SHARE)})


def kept_plots(plots: Sequence[str]) -> list[str]:
    """Plots that may be trained on."""
    return sorted(set(plots) - set(plots_held_out(plots)))


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
        with Image.open(folder / "mask" / row["file"]) as mask:
            plant = Image.fromarray((np.asarray(mask.convert("L")) > 127).astype(np.uint8) * 255)
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
            names=np.array([row["file"] for row in rows]),
            plots=np.array([row["plot"] for row in rows]),
            attribution=np.array(ATTRIBUTION),
        )
    return len(rows)


def load_real(path: Path, mm_per_px: float = 0.4, *, training: bool = True) -> RealPhotos:
    """Packed photos of the plots that may be trained on, or of those that may not.

    Raises
    ------
    InputError
        The file can't be read.
    """
    try:
        with np.load(path, allow_pickle=False) as data:
            names, plots = data["names"].tolist(), data["plots"].tolist()
            photos = _split(data["photos"], data["photo_ends"])
            masks = _split(data["masks"], data["mask_ends"])
    except (OSError, ValueError, KeyError) as error:
        raise InputError(
            f"{path}: can't be read as packed photos ({error}); pack it anew"
        ) from error
    allowed = set(kept_plots(plots) if training else plots_held_out(plots))
    chosen = [i for i, plot in enumerate(plots) if plot in allowed]
    pixels = np.stack([_at_scale(photos[i], masks[i], mm_per_px) for i in chosen])
    return RealPhotos(pixels, [names[i] for i in chosen], [plots[i] for i in chosen])


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
    print(
        f"{count} photos packed, {options.out.stat().st_size / 1e6:.1f} MB; "
        f"{len(plots_held_out(plots))} of {len(set(plots))} plots held out"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
