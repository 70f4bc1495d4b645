"""The overlay picture: marks where they belong, figures and reasons that can be read."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from tillercount.photo import Photo
from tillercount.quality import check_photo, refusing
from tillercount.report import overlay
from tillercount.report.marks import HONEY, INK, LILAC, PAPER, RUST, drawable, type_face, wrapped
from tillercount.report.markwords import WHY_FEWER, WHY_MARKS_DIFFER
from tillercount.report.overlay import (
    LONGEST_SIDE_PX,
    draw_marked,
    draw_overlay,
    draw_refusal,
)

GROUND = (120, 100, 80)


def photo_of(width: int = 2000, height: int = 1500) -> Photo:
    rgb = np.empty((height, width, 3), np.uint8)
    rgb[:] = GROUND
    return Photo(Path("spot 7.jpg"), rgb, "0" * 64, None, None, None, 1500.0, True)


def interval(count: float, low: float, high: float) -> SimpleNamespace:
    return SimpleNamespace(count=count, low=low, high=high)


def scene(**changes: Any) -> dict[str, Any]:
    """A marked square from (500, 250) to (1500, 1250) of a 2000 × 1500 photo.

    The top view is the photo at half its size; its inside mask is the square.
    """
    inside = np.zeros((750, 1000), np.float32)
    inside[125:625, 250:750] = 1
    spot = SimpleNamespace(
        status="counted",
        reason=None,
        todo=None,
        plants=interval(24.1, 20.0, 28.8),
        shoots=interval(71.0, 60.2, 83.5),
        area_ft2=0.5,
        flags=(),
        checks=(),
    )
    for key, value in changes.items():
        setattr(spot, key, value)
    outline = np.array([[500, 250], [1500, 250], [1500, 1250], [500, 1250]], float)
    return {
        "photo": photo_of(),
        "fit": SimpleNamespace(kind="square", outline_px=outline, mm_per_px=0.3),
        "topview": SimpleNamespace(inside=inside, to_photo=np.diag([2.0, 2.0, 1.0])),
        "maps": SimpleNamespace(
            plant_points=np.array([[400.0, 300.0, 0.9], [100.0, 300.0, 0.9]]),
            shoot_points=np.array([[600.0, 400.0, 0.8]]),
        ),
        "spot": spot,
    }


@pytest.fixture
def texts(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every text that is drawn."""
    drawn: list[str] = []
    original = ImageDraw.ImageDraw.text

    def note(self: Any, xy: Any, text: Any, *args: Any, **options: Any) -> Any:
        drawn.append(str(text))
        return original(self, xy, text, *args, **options)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", note)
    return drawn


def photo_part(picture: np.ndarray) -> np.ndarray:
    """Without the bands above and below: 1600 × 1200 of the picture, found by its ground."""
    column = np.abs(picture[:, 2].astype(int) - np.array(INK)).sum(axis=1) > 20
    rows = np.flatnonzero(column)
    assert len(rows) == 1200
    return picture[rows[0] : rows[-1] + 1]


def near(colours: np.ndarray, colour: tuple[int, int, int], tolerance: int = 24) -> np.ndarray:
    return np.abs(colours.astype(int) - np.array(colour)).max(axis=-1) <= tolerance


def test_shape_and_caller_arrays() -> None:
    parts = scene()
    before = parts["photo"].rgb.copy()
    picture = draw_overlay(**parts)
    assert picture.dtype == np.uint8
    assert picture.shape[1] == LONGEST_SIDE_PX
    assert picture.shape[0] > 1200
    np.testing.assert_array_equal(parts["photo"].rgb, before)


def test_marks_lie_where_the_plants_are() -> None:
    """Top view (400, 300) is photo (800, 600), picture (640, 480); the shoot likewise."""
    part = photo_part(draw_overlay(**scene()))
    ring = near(part[480 - 22 : 480 + 23, 640 - 22 : 640 + 23], PAPER)
    assert ring.sum() > 150
    assert near(part[480:481, 640:641], GROUND).all()  # the ring is open
    rows, cols = np.nonzero(ring)
    assert rows.mean() == pytest.approx(22, abs=1)
    assert cols.mean() == pytest.approx(22, abs=1)
    assert near(part[640:641, 960:961], LILAC).all()


def test_points_outside_the_area_are_left_out() -> None:
    part = photo_part(draw_overlay(**scene()))
    # Top view (100, 300) lies outside; picture (160, 480).
    assert not near(part[440:520, 120:200], PAPER).any()


def test_outside_is_dimmed_and_the_outline_drawn() -> None:
    part = photo_part(draw_overlay(**scene()))
    assert near(part[700:701, 700:701], GROUND, 2).all()
    assert part[100, 200].sum() < 0.75 * sum(GROUND)
    assert near(part[600, 390:411], HONEY).any()  # left side, x = 500 → 400


def test_whole_photo_is_not_dimmed() -> None:
    parts = scene()
    parts["fit"].kind = "whole"
    picture = draw_overlay(**parts)
    assert near(picture, GROUND, 2).mean() > 0.5
    assert not near(picture, HONEY, 2).any()


def test_figures_in_words(texts: list[str]) -> None:
    flag = SimpleNamespace(code="tilt", text="the camera was tilted 17° (limit 15°)")
    draw_overlay(**scene(flags=(flag,)), level=0.9)
    assert "24 plants" in texts
    assert "20 to 29" in texts
    assert "71 shoots" in texts
    assert "60 to 84" in texts
    assert "48.2 plants" in texts  # per square foot: the area is half of one
    assert "142 shoots" in texts
    assert "ring: plant seen (1 marked)" in texts  # the other lies outside the area
    assert "diamond: shoot seen (1 marked)" in texts
    assert WHY_MARKS_DIFFER in " ".join(texts)
    assert any("tilted 17°" in text for text in texts)
    assert any("90 % interval" in text for text in texts)
    assert any(text.endswith(" in") for text in texts)
    assert any(text.endswith(" cm") for text in texts)


@pytest.mark.parametrize("mm_per_px", [0.05, 0.3, 1.0])
def test_scale_bar_has_its_stated_length(mm_per_px: float) -> None:
    """The upper bar is N inches long in the picture, within a pixel or two."""
    parts = scene()
    parts["fit"].mm_per_px = mm_per_px
    parts["maps"].plant_points = parts["maps"].shoot_points = np.empty((0, 3))
    drawn: list[str] = []
    original = ImageDraw.ImageDraw.text

    def note(self: Any, xy: Any, text: Any, *args: Any, **options: Any) -> Any:
        drawn.append(str(text))
        return original(self, xy, text, *args, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ImageDraw.ImageDraw, "text", note)
        picture = draw_overlay(**parts)
    below = picture[-600:]
    inches = int(next(text for text in drawn if text.endswith(" in")).split()[0])
    bar = max(_longest_run(row) for row in near(below, PAPER, 4))
    px_per_mm = 0.8 / mm_per_px  # the photo is reduced to 0.8 of its size
    centimetres = int(next(text for text in drawn if text.endswith(" cm")).split()[0])
    assert bar == pytest.approx(max(inches * 25.4, centimetres * 10) * px_per_mm, abs=3)


def _longest_run(row: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def test_scale_bar_hides_nothing_of_the_photo() -> None:
    """With the frame's corner in the lower left the outline is whole, and so is the ground."""
    parts = scene()
    parts["fit"].kind = "whole"
    parts["maps"].plant_points = parts["maps"].shoot_points = np.empty((0, 3))
    assert near(photo_part(draw_overlay(**parts)), GROUND, 2).all()


def test_more_marks_than_the_count(texts: list[str]) -> None:
    """Then leaves that hide something can't be the reason: some marks are double."""
    parts = scene(plants=interval(1.2, 0.6, 2.4))
    parts["maps"].plant_points = np.array([[400.0 + 9 * i, 300.0, 0.9] for i in range(3)])
    draw_overlay(**parts)
    assert "ring: 3 plant marks, some double; best estimate 1" in texts
    assert "diamond: shoot seen (1 marked)" in texts
    said = " ".join(texts)
    assert WHY_FEWER in said
    assert "leaves hide" not in said


@pytest.mark.parametrize("size", [(2000, 1500), (1500, 2000), (900, 900)])
def test_type_is_large_enough_for_a_phone(
    monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    """On a screen 390 px wide what must be read is 12 px high or more, all else 9."""
    heights: dict[str, float] = {}
    original = ImageDraw.ImageDraw.text

    def note(self: Any, xy: Any, text: Any, fill: Any, font: Any, **options: Any) -> Any:
        heights[str(text)] = font.size * 390 / self.im.size[0]
        return original(self, xy, text, fill, font, **options)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", note)
    parts = scene()
    parts["photo"] = photo_of(*size)
    draw_overlay(**parts)
    assert min(heights.values()) > 9
    words = WHY_MARKS_DIFFER.split()
    for text, height in heights.items():
        if "marked" in text or "plants" in text or text.split()[0] in words:
            assert height > 12, text


def test_refused_photo_says_why_and_what_to_do(texts: list[str]) -> None:
    parts = scene(
        status="refused", reason="two sides of the square are hidden", todo="move the leaves"
    )
    parts["fit"] = parts["topview"] = parts["maps"] = None
    picture = draw_overlay(**parts)
    assert texts[0] == "Not counted"
    assert "Two sides of the square are hidden." in texts
    assert "Move the leaves." in texts
    assert near(picture[3, 3], RUST, 0)


def test_a_photo_that_is_too_dark_says_what_to_do(texts: list[str]) -> None:
    dark = photo_of()
    dark.rgb[:] = 14
    checks = check_photo(dark)
    parts = scene(status="refused", reason=refusing(checks), checks=checks)
    parts["fit"] = parts["topview"] = parts["maps"] = None
    draw_overlay(**parts)
    at = texts.index("What to do")
    assert " ".join(texts[1:at]) == "The photo's mean brightness is 14 of 255 (limit 20)."
    said = " ".join(texts[at + 1 :])
    assert said.startswith("Tap on the plants so that the phone exposes for them, or wait for more")
    assert "limit" not in said


def test_refusal_shows_an_outline_that_was_found() -> None:
    parts = scene(status="refused", reason="too blurred")
    assert near(draw_overlay(**parts), HONEY).any()
    assert not near(draw_refusal(photo_of(), "too blurred", ""), HONEY).any()


@pytest.mark.parametrize("size", [(350, 350), (3000, 4000), (8000, 600), (90, 120)])
def test_any_photo_size(size: tuple[int, int]) -> None:
    parts = scene()
    parts["photo"] = photo_of(*size)
    picture = draw_overlay(**parts)
    assert 800 * min(1, size[0] / max(size)) - 1 <= picture.shape[1] <= LONGEST_SIDE_PX
    draw_refusal(photo_of(*size), "a reason that is long enough to need several lines " * 4, "go")


def test_kinds_of_marks_differ_in_grey() -> None:
    """Told apart without colour: marks against their casing, bands against their type."""

    def lightness(colour: tuple[int, int, int]) -> float:
        return float(np.dot(colour, (0.299, 0.587, 0.114)))

    for light in (PAPER, LILAC, HONEY):
        assert lightness(light) - lightness(INK) > 130
    assert lightness(PAPER) - lightness(RUST) > 130


def test_no_empty_boxes() -> None:
    """Signs that the face lacks are put in others, and what is put has a shape of its own."""
    face = type_face(40)

    def shape(sign: str) -> bytes:
        image = Image.new("L", (80, 80))
        ImageDraw.Draw(image).text((10, 10), sign, 255, face)
        return image.tobytes()

    missing = shape("\u0416")
    for sign in map(chr, range(33, 0x2300)):
        assert all(one == " " or shape(one) != missing for one in drawable(sign)), sign
    assert drawable("20 plants, 17°") == "20 plants, 17°"
    assert drawable("20–29 … é 5 m² ½ 北") == "20-29 ... e 5 m2 1/2 ?"


@given(st.text(alphabet=st.characters(codec="latin-1"), max_size=200), st.integers(40, 600))
def test_wrapped_keeps_every_word(text: str, width_px: int) -> None:
    assert " ".join(wrapped(text, 20, width_px)).split() == drawable(text).split()


def test_long_words_do_not_break_the_picture() -> None:
    picture = draw_refusal(photo_of(), "x" * 500, "y" * 300)
    assert picture.shape[1] == overlay.LONGEST_SIDE_PX


def test_the_marked_area_alone_for_a_report() -> None:
    """1000 px of 2000 at 1600 wide are 800; with 6 % of it around on each side, 896."""
    given_ = scene()
    del given_["spot"]
    picture = draw_marked(**given_)
    # below it the scale bar, on a band of its own: 18 + 18 units of 0.56 px and a line of 26 px
    assert picture.shape == (896 + 46, 896, 3)
    assert near(picture[896:, :16], INK, 0).all()
    picture = picture[:896]
    # the square's left edge, and the one plant inside it: 600 of 1500 px down, 800 of 2000 across
    honey = np.abs(picture.astype(int) - HONEY).max(axis=-1) < 40
    assert honey[448, 40:56].any()
    # no band of type: the ground of the photo reaches the edges, dimmed outside the square
    for edge in (picture[0], picture[:, 0], picture[:, -1]):
        assert np.ptp(edge.astype(int), axis=0).max() < 6
        assert not (np.abs(edge.astype(int) - INK).max(axis=-1) < 5).any()


def test_a_whole_photo_stays_whole() -> None:
    given_ = scene()
    del given_["spot"]
    given_["fit"].kind = "whole"
    assert draw_marked(**given_)[:1200].shape == (1200, 1600, 3)


@pytest.mark.parametrize("count", [9.2499, 9.25, 9.46, 28.449, 99.96])
def test_the_picture_says_what_the_table_says(texts: list[str], count: float) -> None:
    """Rounded once: 9.2499 plants in 0.9999 ft² were 9.3 per ft² here and 9.2 in the table."""
    from tillercount.cli.counting import CountRun
    from tillercount.cli.show import _table

    ft2 = 0.99987
    kept = {"count": round(count, 1), "low": 4.0, "high": 120.0}
    record = {
        "photo": "a.jpg", "status": "counted", "area": {"ft2": round(ft2, 4)},
        "plants": kept, "shoots": kept,
    }  # fmt: skip
    table = _table(CountRun((record,), {}), {"a.jpg": "a.jpg"})
    whole, density = (next(iter(table.columns[n].cells)) for n in (1, 3))
    draw_overlay(**scene(plants=interval(count, 4.0, 120.0), area_ft2=ft2))
    assert f"{whole.split()[0]} plants" in texts
    assert f"{density} plants" in texts
