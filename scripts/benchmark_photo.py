"""Where the time of one photo goes, and how much memory it takes.

    python scripts/benchmark_photo.py PHOTO --area square:12in [--megapixels 12] [--times 5]

Prints medians, and each as a ratio of decoding the same photo plus one bare forward pass.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image


def timed(times: int, work: Callable[[], Any]) -> tuple[float, Any]:
    """Median seconds of a piece of work after one warm-up, and its last result."""
    result = work()
    took = []
    for _ in range(times):
        began = time.perf_counter()
        result = work()
        took.append(time.perf_counter() - began)
    return statistics.median(took), result


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", type=Path)
    parser.add_argument("--area", required=True)
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--times", type=int, default=5)
    args = parser.parse_args()

    import torch

    from tillercount.allocation import keep_freed_memory
    from tillercount.area import parse_area
    from tillercount.count import count_photo_full
    from tillercount.frame import find_area
    from tillercount.model import Counter
    from tillercount.photo import read_photo
    from tillercount.topview import make_topview

    keep_freed_memory()  # as the commands do
    area = parse_area(args.area)
    with Image.open(args.photo) as image, tempfile.TemporaryDirectory() as folder:
        factor = (args.megapixels * 1e6 / (image.width * image.height)) ** 0.5
        size = (round(image.width * factor), round(image.height * factor))
        exif = image.getexif()
        tags = exif.get_ifd(0x8769)
        tags[0xA002], tags[0xA003] = size
        big = Path(folder) / "photo.jpg"
        image.resize(size, Image.Resampling.LANCZOS).save(big, quality=92, exif=exif)
        counter = Counter.load()
        read, photo = timed(args.times, lambda: read_photo(big))
        find, fit = timed(args.times, lambda: find_area(photo, area))
        if not fit:
            sys.exit(f"no marked area found: {fit.reason}")
        view, top = timed(args.times, lambda: make_topview(photo, fit, area))
        predict, _ = timed(args.times, lambda: counter.predict(top))
        whole, _ = timed(args.times, lambda: count_photo_full(big, area, model=counter))
        sides = [-(-s // 32) * 32 for s in top.rgb.shape[:2]]
        picture = torch.zeros(1, 3, *sides).contiguous(memory_format=torch.channels_last)

        def forward() -> None:
            with torch.inference_mode():
                counter._network(picture)

        bare, _ = timed(args.times, forward)
    floor = read + bare
    print(f"{size[0]}×{size[1]} px, top view {top.rgb.shape[1]}×{top.rgb.shape[0]}, "
          f"{torch.get_num_threads()} threads")
    rest = whole - read - find - view - predict
    for name, value in (("read", read), ("frame", find), ("top view", view),
                        ("network", predict), ("rest", rest), ("whole photo", whole),
                        ("read + one forward pass", floor)):
        print(f"  {name:24s} {value:6.3f} s   × {value / floor:5.2f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  peak memory {peak:.0f} MiB")
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "tillercount", "--help"], check=True,
                   stdout=subprocess.DEVNULL)
    print(f"  --help {time.perf_counter() - began:.2f} s")


if __name__ == "__main__":
    main()
