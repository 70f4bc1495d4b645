"""Which of several finders reads marked areas best.

    python -m tillercount.train.choose_finder FINDER ... --scenes DIR --bare DIR --out CHOSEN

Scenes and photos without a frame must be others than those that the program is judged on later.
A finder earns 1 for each usable photo whose outline is right (IoU over 0.98, sticks over 0.9),
loses 3 for each other outline that it accepts, since a wrong area is a wrong count, and 10 for a
find where nothing lies. The first one given, the one in use, stays unless another earns more, and
does so on more photos than chance gives: a sign test of those on which the two differ, at 5 %.
"""

from __future__ import annotations

import argparse
import functools
import json
import shutil
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tillercount.area import parse_area
from tillercount.errors import InputError
from tillercount.frame.find import find_area
from tillercount.frame.finder import Finder
from tillercount.frame.result import FrameFit
from tillercount.photo import read_photo
from tillercount.train.figures import polygon_iou
from tillercount.train.measure_scenes import bare_scenes, finds, marked_scenes
from tillercount.train.parallel import each, printed
from tillercount.train.usable import why_unusable

__all__ = ["is_better", "judged_all", "main", "points_of"]

_RIGHT, _RIGHT_STICK = 0.98, 0.9
_WRONG, _FALSE = 3, 10
_CHANCE = 0.05


def _judged(finder: str, path: Path) -> str:
    """One word for the kind of area and what the finder made of it."""
    scene = json.loads(path.read_text("utf-8"))
    found = Finder.load(finder)
    if scene["area"]["kind"] == "none":
        return "false find" if finds(path, found) else "none"
    if why_unusable(scene, path.with_suffix(".png")) is not None:
        return "unusable"
    area = parse_area(scene["area"]["text"])
    fit = find_area(read_photo(path.with_suffix(".jpg")), area, finder=found)
    if not isinstance(fit, FrameFit):
        return f"{area.kind} refused"
    iou = polygon_iou(fit.outline_px, np.asarray(scene["outline_px"], float))
    right = iou > (_RIGHT_STICK if area.kind == "row" else _RIGHT)
    return f"{area.kind} {'right' if right else 'wrong'}"


def judged_all(finder: str, paths: Sequence[Path], workers: int = 1) -> list[str]:
    """For each photo whether the finder was right, wrong, refused, or found what isn't there."""
    return each(functools.partial(_judged, finder), paths, workers, printed(finder))


def points_of(said: Sequence[str]) -> list[int]:
    """What a finder earns on each photo by the rule of this module."""
    worth = {"right": 1, "wrong": -_WRONG, "find": -_FALSE}
    return [worth.get(word.rsplit(" ", 1)[-1], 0) for word in said]


def is_better(new: Sequence[int], used: Sequence[int]) -> bool:
    """Whether points on the same photos say that the new one is better, more than by chance."""
    from scipy.stats import binomtest

    more = sum(a > b for a, b in zip(new, used, strict=True))
    less = sum(a < b for a, b in zip(new, used, strict=True))
    if sum(new) <= sum(used) or more <= less:
        return False
    return bool(binomtest(more, more + less, alternative="greater").pvalue < _CHANCE)


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description="Choose the finder that reads areas best.")
    add = parser.add_argument
    add("finders", nargs="+", help="models, the one in use first")
    add("--scenes", nargs="+", type=Path, required=True, help="folders of marked scenes")
    add("--bare", nargs="+", type=Path, required=True, help="folders of scenes without a frame")
    add("--limit", type=int, default=400, help="use so many of each")
    add("--workers", type=int, default=1, help="processes")
    add("--out", type=Path, required=True, help="where the chosen model is copied to")
    options = parser.parse_args(arguments)
    try:
        paths = marked_scenes(options.scenes)[: options.limit]
        paths += bare_scenes(options.bare)[: options.limit]
        best, most = "", [0]
        for finder in options.finders:
            said = judged_all(finder, paths, options.workers)
            points = points_of(said)
            figures = {word: said.count(word) for word in sorted(set(said))}
            print(f"{finder}: {sum(points)} points, {json.dumps(figures)}", flush=True)
            if not best or is_better(points, most):
                best, most = finder, points
        options.out.parent.mkdir(parents=True, exist_ok=True)
        if Path(best).resolve() != options.out.resolve():
            shutil.copyfile(best, options.out)
    except InputError as error:
        print(f"error: {error}")
        return 2
    print(f"{best} chosen, copied to {options.out}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
