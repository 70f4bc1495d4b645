"""The program's own pictures are known by their mark, and by their look without it."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.report.test_overlay import scene
from tillercount.report.overlay import draw_overlay, draw_refusal
from tillercount.report.ownpictures import drawn_here, picture_bytes

SAMPLES = Path(__file__).parents[2] / "sample_images"


def plain(seed: int = 1, size: tuple[int, int] = (90, 120)) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (*size, 3), dtype=np.uint8)


def refusal() -> np.ndarray:
    return draw_refusal(scene()["photo"], "two sides are hidden", "move the leaves")


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
@pytest.mark.parametrize("kind", ["overlay", "class map"])
def test_by_the_mark(tmp_path: Path, form: str, kind: str) -> None:
    """Whatever it looks like."""
    path = tmp_path / "p"
    path.write_bytes(picture_bytes(plain(), kind, form))  # type: ignore[arg-type]
    assert drawn_here(path) == kind


def test_pixels_are_unchanged(tmp_path: Path) -> None:
    pixels = plain()
    with Image.open(io.BytesIO(picture_bytes(pixels, "overlay"))) as image:
        np.testing.assert_array_equal(np.asarray(image), pixels)


@pytest.mark.parametrize("quality", [40, 75, 95])
@pytest.mark.parametrize("width_px", [1600, 900, 390])
def test_an_overlay_without_its_mark(tmp_path: Path, quality: int, width_px: int) -> None:
    """As a messenger sends it on: made smaller, as JPEG, everything but the pixels gone."""
    for name, pixels in (("counted", draw_overlay(**scene())), ("refused", refusal())):
        image = Image.fromarray(pixels)
        image = image.resize((width_px, round(image.height * width_px / image.width)))
        path = tmp_path / f"{name}.jpg"
        image.save(path, quality=quality)
        assert drawn_here(path) == "overlay"
    image.save(tmp_path / "p.png")
    assert drawn_here(tmp_path / "p.png") == "overlay"


def test_a_class_map_without_its_mark(tmp_path: Path) -> None:
    classes = np.random.default_rng(2).choice([0, 1, 2, 3, 4, 255], (80, 60)).astype(np.uint8)
    Image.fromarray(classes).save(tmp_path / "c.png")
    assert drawn_here(tmp_path / "c.png") == "class map"
    classes[5, 5] = 9
    Image.fromarray(classes).save(tmp_path / "g.png")
    assert drawn_here(tmp_path / "g.png") is None


def test_photos_are_photos(tmp_path: Path) -> None:
    for path in sorted(SAMPLES.glob("*/*.jpg")):
        assert drawn_here(path) is None, path
    Image.fromarray(plain()).save(tmp_path / "p.jpg", comment=b"made with tillercount picture: x")
    assert drawn_here(tmp_path / "p.jpg") is None
    dark = np.full((300, 400, 3), (36, 27, 46), np.uint8)
    dark[:3] = (90, 80, 60)
    Image.fromarray(dark).save(tmp_path / "dark.png")
    assert drawn_here(tmp_path / "dark.png") is None


def test_what_cant_be_read_is_left_to_the_reader_of_photos(tmp_path: Path) -> None:
    for name, data in (("a.jpg", b""), ("b.png", b"\x89PNG\r\n\x1a\n1234"), ("c.txt", b"text")):
        (tmp_path / name).write_bytes(data)
        assert drawn_here(tmp_path / name) is None
    assert drawn_here(tmp_path / "none.jpg") is None
