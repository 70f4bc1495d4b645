#!/usr/bin/env python
"""What moves a counter's counts: the same stands drawn in many ways, and counted.

    python scripts/what_moves_the_count.py OUT [--model MODEL] [--stands 16] [--only NAME ...]
    python scripts/what_moves_the_count.py OUT --shard 3/14 --render-only   # one of 14 workers

Each way differs from the plain stand in one thing, so that a row of the table says what that thing
alone does: the mean change of plants and shoots against the plain stand, with its standard error.
The stand stays the same unless the way itself changes it, as rows and tillering do; frame and light
are mostly the same, too. A counter should move little in all other rows.

Renders what isn't there yet (Mitsuba, extra ``scenes``: eight photos a second on an H200 by
14 workers, some 10 s each without a GPU), counts inside the true outlines, prints the table.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

import numpy as np

FIRST_SEED = 7_200_000
SIDE_MM = 304.8
PLAIN: dict[str, Any] = {
    "emergence_spread": 0.3, "late": 0.0, "late_by": 0.0,
    "species": "wheat", "broadleaf_per_m2": 0.0, "grass_per_m2": 0.0, "killed": 0.0, "heaved": 0.0,
    "trodden": 0.0, "grazed": 0.0, "wheel_mm": 0.0, "snow": 0.0, "frost": 0.0, "decoys": 0,
    "photographer": False, "tilt_deg": 3.0, "shift": 0.05, "fill": 0.9, "gaps": 0.1,
    "litter": "straw", "litter_per_m2": 60.0, "stones_per_m2": 30.0, "evenness": 1.3,
    "row_scatter_mm": 6.0, "row_spacing_mm": 190.5, "tillering": 1.0, "tillers_early": 0.1,
    "hug": 0.7, "crown_mm": 12.0, "prostrate": 0.25, "size": 1.0, "vigour_sd": 0.15,
    "dead_tips": 0.2, "leaf_life": 4.5, "leaf_lightness": 42.0, "leaf_chroma": 24.0,
    "leaf_hue": 128.0, "alike": 0.4, "azimuth_sd": 0.5, "astray_deg": 90.0, "lens_mm": 26.0,
    "photo_fill": 0.5, "form": {},
    "area": {"kind": "square", "text": f"square:{SIDE_MM}mm", "width_mm": SIDE_MM,
             "length_mm": SIDE_MM},
}


def _form(**how: float) -> dict[str, Any]:
    return {"form": how}


WAYS: dict[str, dict[str, Any]] = {
    "plain": {},
    "leaves 0.6 as wide": _form(broad=0.6),
    "leaves 1.5 as wide": _form(broad=1.5),
    "leaves 0.6 as long": _form(long=0.6),
    "leaves 1.5 as long": _form(long=1.5),
    "all leaves of one width": _form(by_rank=0.0),
    "blades widest in the middle": _form(lance=1.0),
    "blades folded": _form(fold=0.9),
    "straight leaves": _form(straight=1.0, straight_deg=40.0),
    "leaves all round": _form(around=1.0),
    "two leaves left": _form(leaves=2),
    "short sheaths": _form(stem=0.4),
    "long sheaths": _form(stem=2.2),
    "tillers to all sides": _form(sides=2.0),
    "tillers 8 mm further off": _form(aside_mm=8.0),
    "tillers lean out": _form(lean_deg=25.0),
    "bent leaves": _form(kinked=0.6),
    "leaves twisted once round": _form(twist=3.0),
    "leaves turning aside": _form(drift=1.5),
    "leaves of all postures": _form(uneven=2.5),
    "leaves partly under soil": _form(sunk=0.6),
    "leaves of all lengths and widths": _form(mixed=3.5),
    "shoots of all sizes": _form(unlike=0.4),
    "leaves bright and dark along their length": _form(patchy=0.6),
    "leaves hidden by splashed soil": _form(dusty=1.0),
    "came up over weeks": {"emergence_spread": 1.0, "late": 0.3, "late_by": 3.0},
    "short, broad, lying, bent, soiled": {"prostrate": 0.7} | _form(
        long=0.6, broad=1.3, kinked=0.6, sunk=0.5),
    "erect": {"prostrate": 0.0},
    "prostrate": {"prostrate": 0.8},
    "small": {"size": 0.6},
    "large": {"size": 1.4},
    "tillers as their main stem": {"alike": 1.0},
    "tillers much smaller": {"alike": 0.0},
    "seeds placed evenly": {"evenness": 8.0},
    "seeds in clusters": {"evenness": 0.7},
    "broadcast": {"row_spacing_mm": None},
    "dark leaves": {"leaf_lightness": 30.0},
    "bright leaves": {"leaf_lightness": 55.0, "leaf_chroma": 36.0},
    "red soil": {"soil_lightness": 35.0, "soil_chroma": 14.0, "soil_hue": 40.0},
    "much straw": {"litter_per_m2": 700.0},
    "few tillers": {"tillering": 0.5},
    "many tillers": {"tillering": 1.4},
}


def render(out: Path, names: list[str], stands: int, shard: tuple[int, int]) -> None:
    """Render what isn't there yet: OUT/WAY/SEED.jpg and its truth."""
    from tillercount.scenes.draw import draw_scene
    from tillercount.scenes.render import set_variant
    from tillercount.scenes.write import render_to

    set_variant()
    todo = [(name, FIRST_SEED + i) for name in names for i in range(stands)][shard[0] :: shard[1]]
    for number, (name, seed) in enumerate(todo, start=1):
        stem = out / name / str(seed)
        if stem.with_suffix(".json").exists():
            continue
        rng = np.random.default_rng([seed, 1])
        stand = {"haun": float(rng.uniform(3.0, 6.8)), "plants_per_ft2": float(rng.uniform(10, 34))}
        scene = draw_scene(
            seed, width=1024, height=768, kind="square", overrides=PLAIN | stand | WAYS[name]
        )
        render_to(scene, stem, samples=8)
        print(f"\r{number} of {len(todo)} rendered", end="", flush=True)
    print()


def table(out: Path, names: list[str], model: str | None, workers: int) -> str:
    """The table, as text."""
    from tillercount.train.measure_scenes import scenes_known
    from tillercount.train.parallel import printed

    logs: dict[str, dict[str, np.ndarray]] = {}
    for name in names:
        rows = scenes_known([out / name], model, None, printed(name), workers).rows
        logs[name] = {
            row.name: np.log(np.array(row.count) / np.array(row.true))
            for row in rows if row.count is not None and min(row.true) > 0
        }
    lines = [f"{'':30}{'plants':>16}{'shoots':>16}"]
    for name, found in logs.items():
        shared = [key for key in found if key in logs["plain"]]
        if name == "plain":
            off = np.expm1(np.mean([found[key] for key in shared], 0))
            lines.append(f"{'plain, against the truth':30}{off[0]:+16.0%}{off[1]:+16.0%}")
            continue
        if len(shared) < 2:
            lines.append(f"{name:30}{'too few were counted':>32}")
            continue
        change = np.array([found[key] - logs["plain"][key] for key in shared])
        mean, error = np.expm1(change.mean(0)), change.std(0, ddof=1) / math.sqrt(len(shared))
        cells = (f"{m:+.0%} ±{e:.0%}" for m, e in zip(mean, error, strict=True))
        lines.append(f"{name:30}" + "".join(f"{cell:>16}" for cell in cells))
    return "\n".join(lines)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    add = parser.add_argument
    add("out", type=Path, help="folder for the photos; what it has already is kept")
    add("--model", help="the counter; the shipped one if not given")
    add("--stands", type=int, default=16, help="how many")
    add("--only", nargs="+", choices=sorted(WAYS), help="these ways")
    add("--shard", default="0/1", help="K/N: this worker's share of the rendering")
    add("--render-only", action="store_true", help="don't count")
    add("--workers", type=int, default=1, help="processes that count")
    options = parser.parse_args()
    names = ["plain", *(name for name in options.only or WAYS if name != "plain")]
    k, n = (int(part) for part in options.shard.split("/"))
    render(options.out, names, options.stands, (k, n))
    if not options.render_only:
        print(table(options.out, names, options.model, options.workers))


if __name__ == "__main__":
    main()
