"""Photo checks against pictures whose blur, glare, snow, shadow and scale are known."""

from __future__ import annotations

import json
import math
import time
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from tests.shared_data import shared_path
from tillercount.area import SquareArea, parse_area
from tillercount.checklimits import judged
from tillercount.photo import Photo, read_photo
from tillercount.quality import (
    LIMITS,
    Check,
    check_area,
    check_fit,
    check_photo,
    refusal_parts,
    refusing,
)
from tillercount.shadow import shadow_share
from tillercount.sharpness import WIDEST_EDGE_MM, edge_width_mm

MM_PER_PX = 0.4


def stand(size: int = 800, leaf_mm: float = 4.0, leaves: int = 70, seed: int = 0) -> np.ndarray:
    """Green blades over mottled soil, drawn at double size so that edges are sharp."""
    rng = np.random.default_rng(seed)
    soil = cv2.resize(rng.normal(0, 9, (60, 60)).astype(np.float32), (2 * size, 2 * size))
    rgb = np.clip(np.array([128, 100, 78]) + soil[:, :, None], 0, 255).astype(np.uint8)
    for _ in range(leaves):
        start = rng.uniform(0, 2 * size, 2)
        angle, length = rng.uniform(0, 2 * math.pi), rng.uniform(200, 600)
        end = start + length * np.array([math.cos(angle), math.sin(angle)])
        colour = (50 + int(rng.integers(30)), 125 + int(rng.integers(40)), 45)
        cv2.line(
            rgb,
            (int(start[0]), int(start[1])),
            (int(end[0]), int(end[1])),
            colour,
            round(2 * leaf_mm / MM_PER_PX),
            cv2.LINE_AA,
        )
    return cv2.resize(rgb, (size, size), interpolation=cv2.INTER_AREA)


def with_noise(rgb: np.ndarray, sd: float = 2.0, seed: int = 1) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, sd, rgb.shape)
    return np.clip(rgb + noise, 0, 255).astype(np.uint8)


def square_inside(size: int = 800, margin: int = 50) -> np.ndarray:
    inside = np.zeros((size, size), np.float32)
    inside[margin:-margin, margin:-margin] = 1
    return inside


def top_of(rgb: np.ndarray, valid: np.ndarray | None = None) -> SimpleNamespace:
    size = rgb.shape[0]
    return SimpleNamespace(
        rgb=rgb,
        inside=square_inside(size),
        valid=np.ones((size, size), bool) if valid is None else valid,
        mm_per_px=MM_PER_PX,
    )


def photo_of(rgb: np.ndarray) -> Photo:
    return Photo(Path("a.jpg"), rgb, "0" * 64, None, None, None, 2500.0, True)


def fit_of(tilt_deg: float = 3.0, mm_per_px: float = 0.3) -> SimpleNamespace:
    return SimpleNamespace(
        kind="square", tilt_deg=tilt_deg, mm_per_px=mm_per_px, stick_px=None, tube_mm=20.0,
        evidence={},
    )


def checks_of(rgb: np.ndarray, valid: np.ndarray | None = None, **fit: float) -> dict[str, Check]:
    photo, seen = photo_of(rgb), fit_of(**fit)
    found = check_fit(photo, seen) + check_area(photo, seen, top_of(rgb, valid))
    return {check.name: check for check in found}


def test_a_good_photo_passes_every_check() -> None:
    rgb = with_noise(stand())
    checks = [*check_photo(photo_of(rgb)), *checks_of(rgb).values()]
    assert {check.name for check in checks} == set(LIMITS)
    assert [check.name for check in checks if check.level != "ok"] == []


@pytest.mark.parametrize("sigma_px", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("seed", [0, 1])
def test_edge_width_of_known_blur(sigma_px: float, seed: int) -> None:
    """A blur of σ makes edges 2.563 σ wide from 10 to 90 % (normal distribution)."""
    rgb = with_noise(cv2.GaussianBlur(stand(leaf_mm=8, seed=seed), (0, 0), sigma_px), 1.0)
    truth = 2.563 * sigma_px * MM_PER_PX
    width = edge_width_mm(rgb, square_inside() > 0, MM_PER_PX)
    assert width == pytest.approx(truth, rel=0.35, abs=0.6)


def test_edge_width_scales_with_the_pixel() -> None:
    rgb, inside = with_noise(cv2.GaussianBlur(stand(), (0, 0), 2.0)), square_inside() > 0
    half = edge_width_mm(rgb, inside, 0.2)
    assert edge_width_mm(rgb, inside, 0.4) == pytest.approx(2 * half)


def test_edge_width_grows_with_blur_and_sees_only_inside() -> None:
    sharp = stand()
    widths = [
        edge_width_mm(cv2.GaussianBlur(sharp, (0, 0), sigma), square_inside() > 0, MM_PER_PX)
        for sigma in (0.5, 1.5, 3.0, 5.0)
    ]
    assert widths == sorted(widths)
    blurred = cv2.GaussianBlur(sharp, (0, 0), 5.0)
    half = np.zeros(sharp.shape[:2], bool)
    half[:, 420:] = True
    mixed = sharp.copy()
    mixed[:, 400:] = blurred[:, 400:]
    assert edge_width_mm(mixed, half, MM_PER_PX) > 2 * edge_width_mm(mixed, ~half, MM_PER_PX)


def test_edge_width_is_stated_up_to_a_limit() -> None:
    flat = np.full((300, 300, 3), (120, 100, 80), np.uint8)
    everywhere = np.ones((300, 300), bool)
    assert math.isnan(edge_width_mm(flat, everywhere, MM_PER_PX))
    ramp = np.clip(np.arange(300)[None, :, None] * 1.5 + np.zeros((300, 1, 3)), 0, 255)
    wide = edge_width_mm(ramp.astype(np.uint8), everywhere, MM_PER_PX)
    assert wide == WIDEST_EDGE_MM


@pytest.mark.parametrize(("sigma_px", "level"), [(0.4, "ok"), (2.6, "lower"), (5.0, "refuse")])
def test_sharpness_levels(sigma_px: float, level: str) -> None:
    rgb = with_noise(cv2.GaussianBlur(stand(leaf_mm=8), (0, 0), sigma_px), 0.5)
    check = checks_of(rgb)["sharpness"]
    assert check.level == level
    assert check.unit == "mm"
    assert level == "ok" or "hold still" in check.text


def test_a_photo_smeared_one_way_is_caught() -> None:
    """Edges along the smear stay sharp; the ones across it are what counts."""
    kernel = np.zeros((13, 13), np.float32)
    kernel[6, :] = 1 / 13
    rgb = with_noise(cv2.filter2D(stand(leaf_mm=8), -1, kernel), 1.0)
    assert checks_of(rgb)["sharpness"].level != "ok"


def test_a_foggy_area_lowers_confidence() -> None:
    check = checks_of(np.full((800, 800, 3), (140, 130, 120), np.uint8))["sharpness"]
    assert check.level == "lower"
    assert math.isnan(check.value)
    assert json.dumps(check.to_json(), allow_nan=False)


@pytest.mark.parametrize(
    ("mm_per_px", "level"), [(0.3, "ok"), (0.6, "ok"), (0.61, "lower"), (1.21, "refuse")]
)
def test_scale(mm_per_px: float, level: str) -> None:
    check = checks_of(stand(), mm_per_px=mm_per_px)["scale"]
    assert (check.level, check.value) == (level, mm_per_px)


@pytest.mark.parametrize(("tilt", "level"), [(14.9, "ok"), (15.1, "lower"), (25.1, "refuse")])
def test_tilt(tilt: float, level: str) -> None:
    assert checks_of(stand(), tilt_deg=tilt)["tilt"].level == level


def test_unknown_tilt_is_left_out() -> None:
    assert "tilt" not in checks_of(stand(), tilt_deg=math.nan)


@pytest.mark.parametrize(
    ("rows", "share", "level"), [(0, 0.0, "ok"), (64, 0.02, "ok"), (85, 0.05, "lower"),
                                 (190, 0.2, "refuse")]
)  # fmt: skip
def test_cut_off_share_is_exact(rows: int, share: float, level: str) -> None:
    """The marked area is rows 50 to 750; the photo ends `rows` rows from the top."""
    valid = np.ones((800, 800), bool)
    valid[:rows] = False
    check = checks_of(stand(), valid)["cut off"]
    assert check.value == pytest.approx(max(rows - 50, 0) / 700)
    assert check.value == pytest.approx(share, abs=1e-3)
    assert check.level == level


def test_area_outside_the_photo_altogether() -> None:
    checks = checks_of(stand(), np.zeros((800, 800), bool))
    assert checks["cut off"].level == "refuse"
    assert "sharpness" not in checks


@pytest.mark.parametrize(
    ("name", "grey", "share", "level"),
    [
        ("glare", 255, 0.10, "lower"),
        ("glare", 255, 0.40, "refuse"),
        ("darkness", 2, 0.25, "lower"),
        ("darkness", 2, 0.60, "refuse"),
        ("snow or frost", 225, 0.10, "lower"),
        ("snow or frost", 225, 0.50, "refuse"),
    ],
)
def test_share_of_a_painted_patch(name: str, grey: int, share: float, level: str) -> None:
    """A patch of known share is measured within one percent of the area."""
    rgb = stand()
    edge = 50 + round(700 * share)
    rgb[50:edge, 50:-50] = grey
    check = checks_of(with_noise(rgb))[name]
    assert check.value == pytest.approx(share, abs=0.01)
    assert check.level == level


@pytest.mark.parametrize(
    "colour", [(205, 190, 150), (190, 180, 165), (225, 215, 190)], ids=["straw", "stone", "chalk"]
)
def test_pale_ground_is_not_snow(colour: tuple[int, int, int]) -> None:
    rgb = stand()
    rgb[100:500, 100:500] = colour
    assert checks_of(with_noise(rgb))["snow or frost"].level == "ok"


def test_snow_in_the_shade_is_blue_and_still_snow() -> None:
    rgb = stand()
    rgb[50:400, 50:-50] = (178, 190, 212)
    check = checks_of(with_noise(rgb))["snow or frost"]
    assert check.value == pytest.approx(0.5, abs=0.02)
    # a plate looks the same: neither the reason nor the remedy is only of snow
    assert "or something as white" in check.text
    assert "take it away" in check.text


def shaded(rgb: np.ndarray, share: float, *, half_shadow_mm: float = 6.0) -> np.ndarray:
    """A straight-edged shadow over the top of the picture; 30 % of the light is left."""
    line = 50 + 700 * share
    rows = np.arange(rgb.shape[0])[:, None] - 0.12 * (np.arange(rgb.shape[1])[None, :] - 400)
    cover = 1 / (1 + np.exp((rows - line) / (half_shadow_mm / MM_PER_PX / 4)))
    linear = (rgb / 255.0) ** 2.2 * (1 - 0.7 * cover[:, :, None])
    return np.asarray(255 * linear ** (1 / 2.2)).astype(np.uint8)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_shadow_share(share: float, seed: int) -> None:
    rgb = with_noise(shaded(stand(seed=seed), share))
    check = checks_of(rgb)["shadow line"]
    assert check.value == pytest.approx(share, abs=0.1)
    assert check.level == "lower"


def test_no_shadow_line_without_a_hard_edge() -> None:
    """None: even light, even shade, light that fades, dense rows, dark wet ground that winds."""
    inside = square_inside() > 0
    rgb = stand()
    assert shadow_share(rgb, inside, MM_PER_PX) == 0
    assert shadow_share((rgb * 0.4).astype(np.uint8), inside, MM_PER_PX) == 0
    assert shadow_share(shaded(rgb, 0.5, half_shadow_mm=200), inside, MM_PER_PX) == 0
    rows = rgb.copy()
    rows[150:250] = (35, 70, 25)
    rows[550:650] = (35, 70, 25)
    assert shadow_share(with_noise(rows), inside, MM_PER_PX) == 0
    y, x = np.mgrid[:800, :800]
    rim = 150 + 30 * np.sin(9 * np.arctan2(y - 400, x - 400))
    winding = np.hypot(x - 400, y - 400) < rim
    wet = rgb.copy()
    wet[winding] = (wet[winding] * 0.5).astype(np.uint8)
    assert shadow_share(wet, inside, MM_PER_PX) == 0


def test_photo_checks() -> None:
    rgb = stand()
    small = {c.name: c for c in check_photo(photo_of(rgb[:250]))}["photo size"]
    assert (small.level, small.value, small.unit) == ("lower", 250, "px")
    assert {c.name: c.level for c in check_photo(photo_of(rgb[:150]))}["photo size"] == "refuse"
    bright = rgb.copy()
    bright[:480] = 255
    assert {c.name: c.level for c in check_photo(photo_of(bright))}["photo glare"] == "refuse"
    dark = rgb.copy()
    dark[:320] = 3
    found = {c.name: c for c in check_photo(photo_of(dark))}["photo darkness"]
    assert found.value == pytest.approx(0.4, abs=0.01)
    assert found.level == "lower"


def exposed(rgb: np.ndarray, exposure: float) -> np.ndarray:
    """With so much of the light, by the sRGB curve (IEC 61966-2-1)."""
    grey = np.arange(256) / 255
    light = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4) * exposure
    shown = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(shown * 255).astype(np.uint8)[rgb]


@pytest.mark.parametrize(
    ("exposure", "level"), [(1, "ok"), (1 / 4, "ok"), (1 / 10, "lower"), (1 / 64, "refuse")]
)
def test_a_photo_that_is_dark_all_over(exposure: float, level: str) -> None:
    """Half a dark photo's noise would be counted; a dim one loses nothing."""
    rgb = exposed(with_noise(stand()), exposure)
    check = checks_of(rgb)["brightness"]
    assert check.level == level
    assert level == "ok" or "tap on the plants" in check.text
    whole = {c.name: c for c in check_photo(photo_of(rgb))}["photo brightness"]
    assert whole.level == ("refuse" if level == "refuse" else "ok")


def test_what_is_dark_all_over_isnt_called_black_as_well() -> None:
    checks = check_photo(photo_of(np.full((640, 640, 3), 5, np.uint8)))
    assert {c.name for c in checks if c.level == "refuse"} >= {"photo brightness", "photo darkness"}
    assert refusing(checks).startswith("the photo's mean brightness is 5 of 255 (limit 20): tap on")
    assert "black" not in refusing(checks)
    assert refusing(check_photo(photo_of(stand()))) == ""


def test_every_failing_check_says_limit_and_remedy() -> None:
    rgb = shaded(stand(), 0.5)
    rgb[300:500, 50:-50] = 255
    for check in [*check_photo(photo_of(rgb[:250])), *checks_of(rgb, tilt_deg=20).values()]:
        assert "\n" not in check.text
        assert check.level == "ok" or ("limit" in check.text and ": " in check.text)


def test_good_renders_of_another_renderer_pass_every_check() -> None:
    """Twelve sharp, well-lit photos of framed stands: nothing is found wrong with any."""
    folder = shared_path("data", "framed_renders")
    truth = json.loads((folder / "truth.json").read_text("utf-8"))
    for name, known in truth.items():
        photo = read_photo(folder / name)
        size = known["size_mm"] / MM_PER_PX
        corners = np.array(known["corners_px"], np.float32)
        square = np.array([[0, 0], [0, size], [size, size], [size, 0]], np.float32) + 50
        side = round(size + 100)
        top = cv2.warpPerspective(
            photo.rgb, cv2.getPerspectiveTransform(corners, square), (side, side)
        )
        inside = np.zeros((side, side), np.float32)
        if known["frame"] == "hoop":
            cv2.circle(inside, (side // 2, side // 2), int(size / 2), 1.0, -1)
        else:
            inside[50:-50, 50:-50] = 1
        view = SimpleNamespace(
            rgb=top, inside=inside, valid=inside > -1, mm_per_px=MM_PER_PX
        )
        fit = fit_of(known["tilt_deg"], known["size_mm"] / math.sqrt(cv2.contourArea(corners)))
        checks = [*check_photo(photo), *check_area(photo, fit, view)]
        assert [(name, check.text) for check in checks if check.level != "ok"] == []


@pytest.mark.parametrize(("mm_per_px", "level"), [(0.1, "lower"), (0.3, "ok"), (0.55, "ok")])
def test_a_size_in_a_wrong_unit_shows_in_the_cameras_height(mm_per_px: float, level: str) -> None:
    """2,500 px of focal length: 0.25, 0.75 and 1.4 m above the ground."""
    check = checks_of(stand(), mm_per_px=mm_per_px)["camera height"]
    assert check.level == level
    assert f"{2.5 * mm_per_px:.2f} m" in check.text


def test_a_hoop_of_unknown_pose_is_judged_by_the_lesser_tilt() -> None:
    seen = fit_of(tilt_deg=math.nan)
    seen.evidence = {"possible_tilts_deg": [17.0, 21.0]}
    tilt = {c.name: c for c in check_fit(photo_of(stand()), seen)}["tilt"]
    assert tilt.level == "lower"
    assert tilt.value == 17.0


@pytest.mark.parametrize(("typed", "hint"), [("square:12ft", "(was square:12in meant?)"),
                                             ("square:12in", "")])  # fmt: skip
def test_a_size_in_feet_that_makes_pixels_too_wide_is_asked_about(typed: str, hint: str) -> None:
    area = parse_area(typed)
    assert isinstance(area, SquareArea)
    found = check_fit(photo_of(stand()), fit_of(mm_per_px=4.1), area.area_m2, area)
    scale = next(c for c in found if c.name == "scale")
    assert scale.level == "refuse"
    assert ("meant?" in scale.text) == bool(hint)
    assert hint in scale.text


def test_a_white_stick_in_the_area_is_no_glare() -> None:
    rgb = stand()
    ends = np.array([[10.0, 120.0], [rgb.shape[1] - 11.0, 120.0]])
    half = round(12 / MM_PER_PX)
    rgb[120 - half : 121 + half] = 255
    view = top_of(rgb)
    view.to_photo = np.eye(3)
    seen = fit_of()
    lath = SimpleNamespace(**{**vars(seen), "stick_px": ends, "tube_mm": 24.0})
    before = {c.name: c for c in check_area(photo_of(rgb), seen, view)}["glare"]
    after = {c.name: c for c in check_area(photo_of(rgb), lath, view)}["glare"]
    assert before.level != "ok"
    assert after.level == "ok"
    assert after.value < 0.01


def test_caller_arrays_stay_as_they_are() -> None:
    rgb = stand()
    before = rgb.copy()
    checks_of(rgb)
    check_photo(photo_of(rgb))
    np.testing.assert_array_equal(rgb, before)


def test_all_checks_together_are_quick() -> None:
    """0.15 s on a photo of 12 megapixels; the bound here leaves room for a busy machine."""
    photo = photo_of(cv2.resize(stand(), (4000, 3000)))
    top = top_of(with_noise(stand(862)))
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        check_photo(photo)
        check_area(photo, fit_of(), top)
        taken.append(time.perf_counter() - start)
    assert min(taken) < 0.45


def test_a_refusal_in_two_parts_has_what_is_wrong_and_what_to_do() -> None:
    """Of every check that refuses, of several at once, and of a size that doesn't fit."""
    bad = [
        judged(name, 0.0 if sign < 0 else 1e6, "mm", f"{name} is odd (so)", f"mend {name}")
        for name, (_, last) in LIMITS.items()
        if math.isfinite(last)
        for sign in (-1, 1)
    ]
    bad = [check for check in bad if check.level == "refuse"]
    assert {check.name for check in bad} == {
        name for name, (_, last) in LIMITS.items() if math.isfinite(last)
    }
    for check in bad:
        wrong, todo = refusal_parts((check,))
        assert wrong.startswith(f"{check.name} is odd (so) (limit ")
        assert wrong.endswith(")")
        assert todo == f"mend {check.name}"
        assert f"{wrong}: {todo}" == refusing((check,))
    text = "square:12in doesn't fit the picture (leaves are 20 mm wide; rows): check the number"
    unit = Check("size and unit", 2.0, "signs", 2.0, "refuse", text)
    first = next(check for check in bad if check.name == "tilt")
    wrong, todo = refusal_parts((first, unit))
    assert wrong.endswith("; square:12in doesn't fit the picture (leaves are 20 mm wide; rows)")
    assert todo == "mend tilt; check the number"
    assert refusal_parts(()) == ("", "")
