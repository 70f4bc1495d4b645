"""A small file to start training from: the weights of a network in four bits each.

    python -m tillercount.train.start WEIGHTS --out models/start.npz
    python -m tillercount.train.start models/start.npz --unpack --out WEIGHTS

Weights that have seen no real photo are what folds over real photos must start from, and they get
better stint by stint. Kept whole they are as large as the counter itself. Rounded to fifteen steps
for each output of a layer they are a quarter of that. Rounding took those of `models/start.npz`
from ±0.20 and ±0.18 (logarithms of plants and shoots, 24 scenes) to ±0.19 and ±0.23, and 13 % and
9 % lower, which is for training to make good. Nobody counts with them.
"""

from __future__ import annotations

import argparse
import json
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from tillercount.errors import InputError
from tillercount.model.files import read_bundle, write_bundle
from tillercount.model.network import build

__all__ = ["SCHEMA", "main", "pack", "unpack"]

SCHEMA = "tillercount.start/1"
_UNREADABLE = (OSError, ValueError, KeyError, TypeError, RuntimeError, EOFError,
               zipfile.BadZipFile, zlib.error)  # fmt: skip
_STEPS = 7
_STEP_IN_SDS = 0.335
"""Size of a step that loses least of normally distributed weights (Max 1960, "Quantizing for
minimum distortion", table II, sixteen even steps; from memory)."""


def pack(weights: Path, out: Path) -> None:
    """Write the weights of a model in four bits each.

    Raises
    ------
    InputError
        The model can't be read, or has seen real photos.
    """
    bundle = read_bundle(weights)
    stints = bundle.info.get("training", {}).get("stints", [])
    if bundle.info.get("attribution") or any(stint.get("real_photos") for stint in stints):
        raise InputError(
            f"{weights} was trained on real photos ({bundle.info.get('attribution')}); folds could "
            "not start from it. Give weights that were trained on scenes alone"
        )
    arrays: dict[str, NDArray[Any]] = {}
    for name, value in bundle.weights.items():
        if value.ndim < 2 or value[0].numel() < 16:
            arrays[f"{name}|whole"] = value.numpy().astype(np.float32)
            continue
        steps, size = _rounded(value.numpy())
        arrays[f"{name}|steps"], arrays[f"{name}|size"] = _in_bytes(steps), size
        arrays[f"{name}|shape"] = np.array(value.shape, np.int64)
    info = {k: bundle.info[k] for k in ("config", "training", "input", "classes")}
    arrays["info"] = np.frombuffer(json.dumps({"schema": SCHEMA, **info}).encode(), np.uint8)
    part = out.with_suffix(".part")
    with part.open("wb") as file:
        np.savez_compressed(file, **arrays)  # type: ignore[arg-type]
    part.replace(out)


def unpack(packed: Path, out: Path) -> None:
    """Write a model file, without calibration, that ``--init`` takes.

    Raises
    ------
    InputError
        The file isn't what `pack` writes.
    """
    try:
        with packed.open("rb") as opened, np.load(opened, allow_pickle=False) as file:
            arrays = dict(file)
        info = json.loads(bytes(arrays.pop("info")))
        known = info.pop("schema") == SCHEMA
        weights = _weights(arrays)
        whole = known and _is_whole(weights, info["config"])
    except _UNREADABLE as error:
        raise InputError(f"{packed} can't be read as packed weights: {error}") from error
    if not whole:
        raise InputError(f"{packed} doesn't hold all weights of a network, or not as {SCHEMA}")
    write_bundle(out, weights, {"name": "start", "attribution": "", **info})


def _is_whole(weights: Mapping[str, Tensor], config: dict[str, Any]) -> bool:
    """Whether nothing but counters of batches is lacking, which nobody needs."""
    lacking = build(config).load_state_dict(weights, strict=False).missing_keys
    return all("num_batches" in key for key in lacking)


def _rounded(value: NDArray[Any]) -> tuple[NDArray[np.int8], NDArray[np.float32]]:
    """Steps (-7 to 7) of a layer's weights, and the size of one step for each of its outputs."""
    flat = value.reshape(len(value), -1).astype(np.float64)
    size = np.maximum(_STEP_IN_SDS * np.sqrt((flat**2).mean(1)), 1e-12).astype(np.float32)
    steps = np.clip(np.rint(flat / size[:, None]), -_STEPS, _STEPS).astype(np.int8)
    return steps, size


def _in_bytes(steps: NDArray[np.int8]) -> NDArray[np.uint8]:
    """Two steps to a byte."""
    flat = (steps.ravel() + _STEPS).astype(np.uint8)
    flat = np.append(flat, np.zeros(len(flat) % 2, np.uint8))
    return flat[::2] | np.left_shift(flat[1::2], 4, dtype=np.uint8)


def _weights(arrays: Mapping[str, NDArray[Any]]) -> dict[str, Tensor]:
    out: dict[str, Tensor] = {}
    for key, value in arrays.items():
        name, _, kind = key.partition("|")
        if kind == "whole":
            out[name] = torch.from_numpy(value)
        elif kind == "steps":
            shape = tuple(int(n) for n in arrays[f"{name}|shape"])
            size = arrays[f"{name}|size"]
            both = np.stack([value & 15, value >> 4], 1).ravel()[: int(np.prod(shape))]
            flat = (both.astype(np.float32) - _STEPS).reshape(shape[0], -1) * size[:, None]
            out[name] = torch.from_numpy(flat.reshape(shape))
    return out


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Pack weights to start training from, or unpack.")
    parser.add_argument("given", type=Path, help="weights, or with --unpack a packed file")
    parser.add_argument("--unpack", action="store_true")
    parser.add_argument("--out", type=Path, required=True, help="file to write")
    options = parser.parse_args(arguments)
    try:
        (unpack if options.unpack else pack)(options.given, options.out)
    except InputError as error:
        print(f"error: {error}")
        return 2
    print(f"{options.out} written, {options.out.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
