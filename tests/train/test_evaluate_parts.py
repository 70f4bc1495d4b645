"""What an evaluation says of outlines, parts and several processes."""

from __future__ import annotations

import functools
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tillercount.errors import InputError
from tillercount.train.evaluate import _outlines, _parts
from tillercount.train.figures import Row
from tillercount.train.measure import looked_at
from tillercount.train.measure_scenes import bare, marked_scenes, scenes
from tillercount.train.parallel import each

SAMPLES = Path(__file__).parents[2] / "sample_images"


def row(name: str, iou: float, *, found: bool, weeds: tuple[int, int] | None = None) -> Row:
    return Row(name, "hoop", "counted" if found else "refused", None, 1.0, (10.0, 20.0),
               outline_iou=iou, found=found, weeds=weeds)


def test_an_outline_in_the_wrong_place_is_no_refusal() -> None:
    table = _outlines([row("a", 0.99, found=True), row("b", 0.0, found=True),
                       row("c", 0.0, found=False), row("d", 0.97, found=True)])["hoop"]
    assert table["photos"] == 4
    assert table["refused"] == 1
    assert table["lowest"] == 0.0
    assert table["median"] == pytest.approx(0.97)
    assert table["over_0.98"] == pytest.approx(0.25)


def test_scenes_are_told_apart_by_their_weeds() -> None:
    rows = [row("a", 1, found=True, weeds=(0, 0)), row("b", 1, found=True, weeds=(2, 0)),
            row("c", 1, found=True, weeds=(1, 3)), row("d", 1, found=True)]
    parts = {name: [r.name for r in some] for name, some in _parts(rows).items()}
    assert parts["scenes without weeds"] == ["a"]
    assert parts["scenes with broadleaf weeds"] == ["b", "c"]
    assert parts["scenes with grass weeds"] == ["c"]


def test_scenes_without_a_class_map_are_counted_but_not_mapped(tmp_path: Path) -> None:
    from tests.train.fake_scenes import paint_scenes

    paint_scenes(tmp_path / "some", 3)
    (tmp_path / "none").mkdir()
    one, *others = marked_scenes([tmp_path / "some"])
    one.with_suffix(".png").unlink()
    assert marked_scenes([tmp_path / "some"]) == [one, *others]
    assert marked_scenes([tmp_path / "some"], with_classes=True) == others
    with pytest.raises(InputError, match="no scene with a marked area"):
        marked_scenes([tmp_path / "none"])


def test_several_processes_give_the_same_in_order() -> None:
    told: list[tuple[int, int]] = []
    work = functools.partial(pow, 2)
    many = each(work, [5, 3, 1, 4], 2, lambda done, of: told.append((done, of)))
    assert many == [32, 8, 2, 16]
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert each(work, [5, 3], 1, lambda *_: None) == [32, 8]


def test_an_error_in_a_process_comes_through() -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        each(int, ["1", "x", "3"], 2, lambda *_: None)


@pytest.mark.slow
def test_a_sample_photo_through_the_program(tmp_path: Path) -> None:
    for name in ("barn_field/spot_01", "creek_field/spot_06_no_frame"):
        with Image.open(SAMPLES / f"{name}.jpg") as photo:
            width, height = photo.size
            Image.new("L", photo.size, 255).save(tmp_path / f"{Path(name).name}.png")
        shutil.copy(SAMPLES / f"{name}.jpg", tmp_path)
        truth = json.loads((SAMPLES / f"{name}.json").read_text("utf-8"))
        # the samples were written before these were
        truth = {"inside_edge_px": [], "stick_px": [], "weeds": [],
                 "width": width, "height": height, **truth}
        (tmp_path / f"{Path(name).name}.json").write_text(json.dumps(truth), "utf-8")
    (one,) = scenes([tmp_path], None, None, lambda *_: None)
    assert one.found
    assert one.count is not None
    assert one.outline_iou > 0.9
    assert one.weeds is not None
    nothing = bare([tmp_path], None, lambda *_: None)
    assert nothing["photos"] == 1
    assert nothing["found"] == 0


def test_folds_are_pooled_and_never_twice_the_same_photo(tmp_path: Path) -> None:
    """IoU and errors are those of all photos together, each judged once."""
    paths = []
    for fold in range(2):
        photos = [
            {
                "name": f"{fold}{i}", "plot": f"p{fold}", "both": 8 + i, "either": 10 + i,
                "cover": 0.1 * i, "true_cover": 0.1 * i + 0.02,
                "plants": 10.0 + 2 * i, "read": 10.0 + i,
            }
            for i in range(3)
        ]
        paths.append(tmp_path / f"{fold}.json")
        paths[-1].write_text(json.dumps({"fold": fold, "photos": photos}))
    sets = looked_at(paths, paths[0])
    pooled = sets["plots held out, 2 folds"]
    assert pooled["photos"] == 6
    assert pooled["plant_iou"] == pytest.approx((8 + 9 + 10) / (10 + 11 + 12))
    assert pooled["cover_bias"] == pytest.approx(-0.02)
    assert pooled["plants_bias"] == pytest.approx(1 / 11)
    assert pooled["plants_rel_rmse"] == pytest.approx(np.sqrt(5 / 3) / 11)
    assert sets["network trained on scenes alone"]["photos"] == 3
    with pytest.raises(InputError, match="same photos"):
        looked_at([paths[0], paths[0]], None)
    with pytest.raises(InputError, match="real_held_out"):
        looked_at([tmp_path / "no.json"], None)
