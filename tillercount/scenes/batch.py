"""Render many scenes: sharded, resumable, with a manifest."""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import time
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tillercount.allocation import keep_freed_memory

__all__ = ["load_textures", "main", "render_batch"]


def load_textures(folder: Path | None, size: int = 1024) -> list[NDArray[np.float32]]:
    """Pictures of real ground as linear detail with mean 1, (size, size, 3)."""
    from PIL import Image

    from tillercount.scenes.noise import srgb_to_linear

    out = []
    for path in sorted(folder.glob("*.[jp][pn]g")) if folder else []:
        with Image.open(path) as im:
            rgb = np.asarray(im.convert("RGB").resize((size, size), Image.Resampling.LANCZOS))
        linear = srgb_to_linear(np.asarray(rgb, np.float32) / np.float32(255))
        out.append((linear / linear.mean((0, 1), keepdims=True)).astype(np.float32))
    return out


def render_batch(
    out: Path, seeds: range, *, shard: int = 0, shards: int = 1, width: int = 1280,
    height: int = 960, samples: int = 12, textures: Path | None = None, kind: str | None = None,
    fill: tuple[float, float] | None = None, views: int = 1, stop_after_s: float = 1e9,
    thing: str | None = None, thick: float = 0.0, stems: bool = False, say: Any = print,
) -> int:
    """Render the seeds of one shard that aren't there yet; returns how many were made.

    Each photo is named by its seed. A line per photo goes to ``manifest_SHARD.jsonl`` with the
    SHA-256 of the photo. `fill` draws the share of the picture's short side that the marked area
    takes up from this range instead of from the usual one: small pictures then stay sharp.
    `thick` is the share of stands drawn anew with 26 to 52 plants/ft², to learn from: these are the
    hardest and would be rare. `thing` draws something else than a stand, one of
    `tillercount.scenes.others.THINGS`. With `views` above 1 each stand is seen so many times, by
    other lights and from other places; the photos after the first are named SEED_VIEW. With `stems`
    which shoot each pixel shows is written as well (`tillercount.scenes.write.shoot_map`).
    """
    from tillercount.scenes.draw import draw_scene
    from tillercount.scenes.others import THINGS
    from tillercount.scenes.render import set_variant, solid_shapes
    from tillercount.scenes.views import another_view
    from tillercount.scenes.write import GENERATOR_VERSION, SHOOTS_SUFFIX, render_to

    variant = set_variant()
    kept = load_textures(textures)
    out.mkdir(parents=True, exist_ok=True)
    start, made = time.monotonic(), 0
    with (out / f"manifest_{shard:02d}.jsonl").open("a", encoding="utf-8") as manifest:
        for seed in seeds[shard::shards]:
            names = [out / (f"{seed:08d}_{v}" if v else f"{seed:08d}") for v in range(views)]
            needed = (".json", SHOOTS_SUFFIX) if stems else (".json",)
            todo = [
                v for v in range(views)
                if not all(names[v].with_suffix(one).exists() for one in needed)
            ]
            if not todo:
                continue
            if time.monotonic() - start > stop_after_s:
                break
            try:
                share = np.random.default_rng([seed, 3]).uniform(*fill) if fill else None
                near = {} if share is None else {"fill": float(share)}
                near |= THINGS[thing] if thing else {}
                near |= _density(seed, thick)
                scene = draw_scene(
                    seed, width=width, height=height, kind=kind, textures=kept, overrides=near
                )
                shapes = solid_shapes(scene)
                for v in todo:
                    seen = another_view(scene, v) if v else scene
                    render_to(
                        seen, names[v], samples=samples, shapes=shapes, stems=stems
                    )
            except Exception as error:  # one odd scene must not stop a night's run
                say(f"seed {seed}: {type(error).__name__}: {error}")
                continue
            for v in todo:
                digest = hashlib.sha256(names[v].with_suffix(".jpg").read_bytes()).hexdigest()
                manifest.write(json.dumps({"seed": seed, "view": v, "sha256": digest,
                                           "variant": variant,
                                           "generator": GENERATOR_VERSION}) + "\n")
            manifest.flush()
            before, made = made, made + len(todo)
            if made // 20 > before // 20:
                rate = made / (time.monotonic() - start)
                say(f"shard {shard}: {made} photos, {rate:.2f}/s")
    return made


def _density(seed: int, thick: float) -> dict[str, float]:
    """A density to draw a stand with instead of the usual one, for a share of the seeds."""
    rng = np.random.default_rng([seed, 5])
    return {"plants_per_ft2": float(rng.uniform(26, 52))} if rng.random() < thick else {}


def main() -> None:
    """Command line of the renderer; see ``--help``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--count", type=int, default=100, help="how many seeds")
    parser.add_argument("--shard", default="0/1", help="K/N: this worker's share")
    parser.add_argument("--size", default="1280x960")
    parser.add_argument("--samples", type=int, default=12, help="light paths per pixel")
    parser.add_argument("--textures", type=Path, help="folder of pictures of real ground")
    parser.add_argument("--kind", help="square, rect, hoop, row or none; drawn if not given")
    parser.add_argument("--thing", help='something else than a stand: "bare soil", "lawn" …')
    parser.add_argument("--fill", help="LOW-HIGH, share of the short side, such as 0.75-1.0")
    parser.add_argument("--views", type=int, default=1, help="photos of each stand")
    parser.add_argument("--thick", type=float, default=0.0,
                        help="share of stands drawn anew with 26 to 52 plants/ft2")
    parser.add_argument("--stems", action="store_true",
                        help="also write which shoot each pixel shows, to learn from")
    parser.add_argument("--stop-after-s", type=float, default=1e9)
    a = parser.parse_args()
    shard, shards = (int(v) for v in a.shard.split("/"))
    width, height = (int(v) for v in a.size.split("x"))
    low_high = [float(v) for v in a.fill.split("-")] if a.fill else []
    keep_freed_memory()  # each scene takes the same large arrays as the one before
    made = render_batch(
        a.out, range(a.first, a.first + a.count), shard=shard, shards=shards, width=width,
        height=height, samples=a.samples, textures=a.textures, kind=a.kind,
        fill=(low_high[0], low_high[1]) if low_high else None, views=a.views,
        stop_after_s=a.stop_after_s, thing=a.thing, thick=a.thick, stems=a.stems,
    )
    print(f"shard {shard}: {made} photos done (pid {os.getpid()})", flush=True)


if __name__ == "__main__":
    main()
