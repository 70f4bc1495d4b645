"""Which of several finders reads marked areas best.

    python -m tillercount.train.choose_finder FINDER ... --scenes DIR --bare DIR --out CHOSEN

Scenes and photos without a frame must be others than those that the program is judged on later.
A finder earns 1 for each usable photo whose outline is right (IoU over 0.98, sticks over 0.9),
loses 3 for each other outline that it accepts, since a wrong area is a wrong count, and 10 for a
find where nothing lies. The first one given, the one in use, stays unless another earns more.
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
from tillercount.train.measure_scenes import ASKED, bare_scenes, marked_scenes
from tillercount.train.parallel import each, printed
from tillercount.train.usable import why_unusable

__all__ = ["figures_of", "main", "points_of"]

_RIGHT, _RIGHT_STICK = 0.98, 0.9
_WRONG, _FALSE = 3, 10


def _judged(finder: str, path: Path) -> str:
    """One word for the kind of area and what the finder made of it."""
    scene = json.loads(path.read_text("utf-8"))
    photo = read_photo(path.with_suffix(".jpg"))
    found = Finder.load(finder)
    if scene["area"]["kind"] == "none":
        seen = any(find_area(photo, parse_area(text), finder=found) for text in ASKED)
        return "false find" if seen else "none"
    if why_unusable(scene, path.with_suffix(".png")) is not None:
        return "unusable"
    area = parse_area(scene["area"]["text"])
    fit = find_area(photo, area, finder=found)
    if not isinstance(fit, FrameFit):
        return f"{area.kind} refused"
    iou = polygon_iou(fit.outline_px, np.asarray(scene["outline_px"], float))
    right = iou > (_RIGHT_STICK if area.kind == "row" else _RIGHT)
    return f"{area.kind} {'right' if right else 'wrong'}"


def figures_of(finder: str, paths: Sequence[Path], workers: int) -> dict[str, int]:
    """How often the finder was right, wrong, refused (by kind), or found what isn't there."""
    said = each(functools.partial(_judged, finder), paths, workers, printed(finder))
    return {word: said.count(word) for word in sorted(set(said))}


def points_of(figures: dict[str, int]) -> int:
    """What a finder earns by the rule of this module."""
    right = sum(n for word, n in figures.items() if word.endswith(" right"))
    wrong = sum(n for word, n in figures.items() if word.endswith(" wrong"))
    return right - _WRONG * wrong - _FALSE * figures.get("false find", 0)


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
        best, most = "", 0
        for finder in options.finders:
            figures = figures_of(finder, paths, options.workers)
            points = points_of(figures)
            print(f"{finder}: {points} points, {json.dumps(figures)}", flush=True)
            if not best or points > most:
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
