"""Scenes land on their canvas where they should."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.train.fake_scenes import SIDE_MM, paint_scene, paint_scenes
from tillercount.errors import InputError
from tillercount.train.data import (
    OUTSIDE,
    find_scenes,
    group_of,
    held_out,
    load_scenes,
    read_scene,
)

CANVAS = 384


def test_bases_lie_on_crop_pixels_of_the_canvas(tmp_path: Path) -> None:
    """Photo, class map and points are moved alike: most bases lie on a painted stroke."""
    paint_scene(tmp_path, "a", 5, plants=30)
    pixels, truth = read_scene(tmp_path / "a.json", CANVAS)
    shoots = truth.points[truth.points[:, 2] == 1]
    on = np.all((shoots[:, :2] > 2) & (shoots[:, :2] < CANVAS - 3), axis=1)
    x, y = np.rint(shoots[on, :2]).astype(int).T
    around = np.stack([pixels[3, y + dy, x + dx] for dy in (-1, 0, 1) for dx in (-1, 0, 1)])
    judged = (around != OUTSIDE).all(0)
    assert judged.sum() > 10
    # A base may be hidden under the frame that is drawn last, or be painted over.
    assert ((around == 2) | (around == 4)).any(0)[judged].mean() > 0.95
    green = pixels[1].astype(int) - pixels[0]
    assert np.median(green[pixels[3] == 2]) > 20 > np.median(green[pixels[3] == 0])


def test_stems_name_the_shoot_that_a_leaf_belongs_to(tmp_path: Path) -> None:
    """Leaves are strokes from their base, 8 to 20 mm long: the shoot that a pixel names is near."""
    paint_scene(tmp_path, "a", 5, plants=300)
    pixels, truth = read_scene(tmp_path / "a.json", 512, stems=True)
    row = pixels[4].astype(int) + 256 * pixels[5].astype(int) - 1
    assert row.max() > 255
    y, x = np.nonzero(row >= 0)
    assert (pixels[3][y, x] == 2).mean() > 0.99
    named = truth.points[row[y, x]]
    assert (named[:, 2] == 1).all()
    far = np.hypot(named[:, 0] - x, named[:, 1] - y) * 0.4
    assert far.max() < 23
    assert far.mean() > 4
    Image.new("I;16", (40, 32)).save(tmp_path / "a.shoots.png")
    with pytest.raises(InputError, match="but the class map is"):
        read_scene(tmp_path / "a.json", 512, stems=True)
    (tmp_path / "a.shoots.png").unlink()
    assert not read_scene(tmp_path / "a.json", 512, stems=True)[0][4:].any()


def test_the_marked_area_has_its_size_and_counts(tmp_path: Path) -> None:
    """120 mm at 0.4 mm per pixel are 300 px; the counts are those of the scene."""
    scene = paint_scene(tmp_path, "a", 6)
    _, truth = read_scene(tmp_path / "a.json", CANVAS)
    assert truth.whole
    side = np.sqrt(truth.inside.sum() * 16**2) * 0.4
    assert side == pytest.approx(SIDE_MM, rel=0.01)
    assert truth.counts.tolist() == [scene["counts"]["plants"], scene["counts"]["shoots"]]
    rows = np.flatnonzero(truth.inside.max(1) > 0)
    assert (rows[0] + rows[-1] + 1) / 2 == pytest.approx(CANVAS / 32, abs=0.6)


def test_the_top_view_is_no_mirror_image(tmp_path: Path) -> None:
    """Three plants run the same way round on the canvas as in the photo."""
    scene = paint_scene(tmp_path, "a", 7)
    # A canvas that holds all plants, so that the first three are the same ones.
    _, truth = read_scene(tmp_path / "a.json", 640)

    def turn(points: np.ndarray) -> float:
        (ax, ay), (bx, by) = points[1] - points[0], points[2] - points[0]
        return float(np.sign(ax * by - ay * bx))

    photo = np.array([p[2:4] for p in scene["plants"]][:3])
    canvas = truth.points[truth.points[:, 2] == 0][:3, :2]
    assert turn(photo) == turn(canvas)


def test_a_finer_photo_gives_the_same_canvas(tmp_path: Path) -> None:
    """Three times the pixels: the canvas shows the same scene, averaged, not sampled."""
    from PIL import Image

    scene = paint_scene(tmp_path, "a", 8)
    factor = 3
    for name, how in (("a.jpg", Image.Resampling.BICUBIC), ("a.png", Image.Resampling.NEAREST)):
        with Image.open(tmp_path / name) as image:
            size = (image.width * factor, image.height * factor)
            image.resize(size, how).save(tmp_path / name.replace("a.", "b."), quality=95)
    half = (factor - 1) / 2
    finer = np.array([[factor, 0, half], [0, factor, half], [0, 0, 1]])
    scene["ground_to_photo"] = (finer @ np.array(scene["ground_to_photo"])).tolist()
    (tmp_path / "b.json").write_text(json.dumps(scene), encoding="utf-8")
    one, _ = read_scene(tmp_path / "a.json", CANVAS)
    two, _ = read_scene(tmp_path / "b.json", CANVAS)
    assert np.mean(one[3] != two[3]) < 0.02
    seen = one[3] != OUTSIDE
    gap = np.abs(one[:3].astype(int) - two[:3]).mean(0)[seen]
    assert gap.mean() < 6


def test_a_large_area_is_met_off_centre_but_always_at_one_place(tmp_path: Path) -> None:
    """On a canvas of half its size, the marked area is shown in part, its counts likewise."""
    scene = paint_scene(tmp_path, "a", 9)
    _, middle = read_scene(tmp_path / "a.json", 160)
    _, one = read_scene(tmp_path / "a.json", 160, shift=True)
    _, two = read_scene(tmp_path / "a.json", 160, shift=True)
    assert not one.whole
    assert one.counts[0] <= scene["counts"]["plants"]
    assert np.array_equal(one.points, two.points)
    assert not np.array_equal(one.points, middle.points)


def test_shards_are_read_as_one_and_bad_files_are_named(tmp_path: Path) -> None:
    """A broken scene is left out, not fatal; processes and one loop read the same."""
    paint_scenes(tmp_path, 5)
    broken = sorted(tmp_path.rglob("*.json"))[1]
    broken.write_text('{"schema": "other"}', encoding="utf-8")
    said: list[str] = []
    paths = find_scenes([tmp_path])
    assert len(paths) == 5
    one = load_scenes(paths, canvas_px=128, workers=1, say=said.append)
    two = load_scenes(paths, canvas_px=128, workers=2, say=lambda _: None)
    assert len(one) == 4
    assert np.array_equal(one.pixels, two.pixels)
    assert any(broken.name in line and "left out" in line for line in said)


def test_wrong_folders_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="doesn't exist"):
        find_scenes([tmp_path / "none"])
    with pytest.raises(InputError, match="no scenes in"):
        find_scenes([tmp_path])


def test_the_group_is_the_seed(tmp_path: Path) -> None:
    """Photos of one stand are held out together."""
    paint_scene(tmp_path, "a", 41)
    paint_scene(tmp_path, "b", 41)
    assert group_of(tmp_path / "a.json") == group_of(tmp_path / "b.json") == "41"


def test_held_out_share() -> None:
    """About the share asked for, and nested: a larger share holds the smaller one."""
    names = [str(i) for i in range(4000)]
    small = {n for n in names if held_out(n, 0.06)}
    large = {n for n in names if held_out(n, 0.25)}
    assert 0.045 < len(small) / 4000 < 0.075
    assert small < large
