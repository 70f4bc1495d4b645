"""Calibrate a model anew on photos that went through the whole program.

    python -m tillercount.train.recalibrate MODEL evaluation.json --out NEW.safetensors

The evaluation must be of photos that the model is not judged on later.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from tillercount.count import WIDEN_PER_CHECK
from tillercount.errors import InputError
from tillercount.model import Counter
from tillercount.model.calibrate import Calibration
from tillercount.model.counter import UNUSUAL_FROM, WIDEN_UNUSUAL
from tillercount.model.files import model_path, read_bundle, write_bundle, write_manifest
from tillercount.train.figures import Row

__all__ = ["SHARED", "main", "recalibrate", "rescored", "shared_error"]


SHARED = 0.5
"""Share of the error variance that all photos of one field have in common: a convention."""


def shared_error(predicted: Sequence[float], true: Sequence[float]) -> float:
    """Relative standard error that doesn't average out over the photos of a field.

    Photos of one field show one variety at one stage under one light, so a model errs alike on
    all of them. How far, only fields with hand counts can tell; until then `SHARED` of the
    squared relative error on photos of many different stands is taken for it. Relative errors are
    those of logarithms (of the count and one), so that each photo counts alike, however thick its
    stand.
    """
    p, t = np.asarray(predicted, float), np.asarray(true, float)
    return float(np.sqrt(SHARED * np.mean(np.log((p + 1) / (t + 1)) ** 2)))


def by_checks(flags: Sequence[str]) -> float:
    """What the program stretched an interval by for the checks that a photo didn't pass."""
    return WIDEN_PER_CHECK ** sum(code != "unusual" for code in flags)


def _widened(row: Row) -> float:
    """What the program stretched the interval of a counted photo by in all."""
    return by_checks(row.flags) * (WIDEN_UNUSUAL if row.novelty > UNUSUAL_FROM else 1.0)


def rescored(row: Row, counter: Counter) -> Row:
    """The same counts with the intervals that this calibration gives them.

    Raises
    ------
    InputError
        The model would refuse a photo now that was counted then.
    """
    if row.count is None or row.variance is None:
        return row
    if row.novelty > counter.refuse_from:
        raise InputError(
            f"{row.name} would be refused now (novelty {row.novelty:.1f}, limit "
            f"{counter.refuse_from:.1f}): evaluate those photos again"
        )
    ends = [
        counter.interval(what, c, v, novelty=row.novelty, widen=by_checks(row.flags))
        for what, c, v in zip(("plants", "shoots"), row.count, row.variance, strict=True)
    ]
    return replace(row, low=(ends[0][0], ends[1][0]), high=(ends[0][1], ends[1][1]))


def recalibrate(
    model: str | Path,
    rows: Sequence[Row],
    source: str,
    out: Path,
    refuse_from: float | None = None,
) -> str:
    """Write ``model`` with a calibration of ``rows`` to ``out``; returns the new SHA-256.

    Raises
    ------
    InputError
        Too few rows were counted.
    """
    bundle = read_bundle(model_path(model))
    counted = [r for r in rows if r.count is not None and r.variance is not None]
    info = dict(bundle.info)
    info["calibration"] = {
        name: Calibration.fit(
            [row.count[k] for row in counted if row.count],
            [row.variance[k] for row in counted if row.variance],
            [row.true[k] for row in counted],
            source,
            [_widened(row) for row in counted],
        ).as_dict()
        for k, name in enumerate(("plants", "shoots"))
    }
    info["recalibrated_from"] = bundle.sha256
    info["shared_error"] = {}
    for k, name in enumerate(("plants", "shoots")):
        error = shared_error([r.count[k] for r in counted if r.count], [r.true[k] for r in counted])
        info["shared_error"][name] = round(error, 4)
    if refuse_from is not None:
        info["novelty"] = {**info["novelty"], "refuse_from": refuse_from}
    return write_bundle(out, bundle.weights, info, bundle.extra)


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Calibrate a model anew.")
    add = parser.add_argument
    add("model", help="name or path of the model")
    add("evaluation", type=Path, help="evaluation.json of the photos to calibrate on")
    add("--rows", default="scenes", help="which of its sets")
    add("--source", default="rendered scenes, marked area found by the program")
    add("--refuse-from", type=float, help="novelty from which a photo is refused")
    add("--out", type=Path, required=True, help="model to write; its folder's sums are renewed")
    options = parser.parse_args(arguments)
    try:
        found = json.loads(options.evaluation.read_text("utf-8"))["rows"][options.rows]
        rows = [Row.read(row) for row in found]
        digest = recalibrate(options.model, rows, options.source, options.out, options.refuse_from)
    except (OSError, ValueError, KeyError, TypeError) as error:
        if isinstance(error, InputError):
            print(f"error: {error}")
        else:
            print(f"error: {options.evaluation}: no rows of {options.rows!r} in it ({error})")
        return 2
    write_manifest(options.out.parent)
    print(f"{options.out} written, SHA-256 {digest}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
