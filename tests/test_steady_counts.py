"""The same ground photographed a little otherwise gives about the same count.

Turned, mirrored, one stop brighter or darker, JPEG quality 60, half the resolution: no count
moves by more than half of the interval of the untouched photo.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from tillercount import count_photo
from tillercount.spot import SpotCount

SAMPLES = Path(__file__).parents[1] / "sample_images"
PHOTOS = (("creek_field/spot_01.jpg", "square:12in"), ("barn_field/spot_02.jpg", "hoop:13.54in"))

Change = Callable[[Image.Image], Image.Image]


def exposed(stops: float) -> Change:
    """Brighter or darker by so many stops, in linear light."""

    def change(image: Image.Image) -> Image.Image:
        light = (np.asarray(image, dtype=np.float64) / 255) ** 2.2 * 2.0**stops
        return Image.fromarray((np.clip(light, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8))

    return change


CHANGES: dict[str, Change] = {
    "turned": lambda im: im.transpose(Image.Transpose.ROTATE_90),
    "mirrored": ImageOps.mirror,
    "a stop brighter": exposed(1),
    "a stop darker": exposed(-1),
    "JPEG 60": lambda im: im,
    "half the resolution": lambda im: im.reduce(2),
}


@functools.cache
def untouched(photo: str, area: str) -> SpotCount:
    return count_photo(SAMPLES / photo, area)


@pytest.mark.parametrize(("photo", "area"), PHOTOS)
@pytest.mark.parametrize("change", sorted(CHANGES))
def test_count_hardly_moves(photo: str, area: str, change: str, tmp_path: Path) -> None:
    before = untouched(photo, area)
    with Image.open(SAMPLES / photo) as image:
        changed = CHANGES[change](ImageOps.exif_transpose(image).convert("RGB"))
    path = tmp_path / "changed.jpg"
    changed.save(path, quality=60 if change == "JPEG 60" else 93)
    after = count_photo(path, area)
    assert after.status == "counted", after.reason
    for what in ("plants", "shoots"):
        one, two = getattr(before, what), getattr(after, what)
        assert abs(two.count - one.count) < 0.5 * (one.high - one.low), what
