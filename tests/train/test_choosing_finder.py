"""Which finder is chosen, and that a finder given is the one asked."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.train.fake_scenes import paint_scenes
from tillercount.area import parse_area
from tillercount.frame.find import find_area
from tillercount.model.files import model_path
from tillercount.photo import Photo, read_photo
from tillercount.train.choose_finder import is_better, judged_all, main, points_of

SAMPLES = Path(__file__).parents[2] / "sample_images"


def photo() -> Photo:
    return read_photo(SAMPLES / "creek_field" / "spot_01.jpg")


def test_wrong_areas_cost_more_than_refused_ones() -> None:
    said = ["hoop right", "square wrong", "row refused", "unusable", "none", "false find"]
    assert points_of(said) == [1, -3, 0, 0, 0, -10]


def test_a_better_one_is_better_on_more_photos_than_chance_gives() -> None:
    used = [1] * 30 + [0] * 10
    assert not is_better(used, used)
    # 4 of 4 differing photos: one in sixteen by chance
    assert not is_better([1] * 34 + [0] * 6, used)
    assert is_better([1] * 35 + [0] * 5, used)
    assert not is_better(used, [1] * 35 + [0] * 5)
    # better on five photos, and one false find: fewer points
    assert not is_better([1] * 35 + [-10] + [0] * 4, used)


def test_the_finder_given_is_asked() -> None:
    class Asked(Exception):
        pass

    def finder(picture: object) -> None:
        raise Asked

    with pytest.raises(Asked):
        find_area(photo(), parse_area("square:12in"), finder=finder)  # type: ignore[arg-type]


def test_the_one_in_use_stays_where_none_is_better(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paint_scenes(tmp_path / "marked", 2)
    bare = tmp_path / "bare"
    shutil.copytree(tmp_path / "marked", bare)
    ground = np.random.default_rng(0).normal(110, 12, (320, 400, 3)).clip(0, 255)
    for path in bare.rglob("*.json"):
        Image.fromarray(ground.astype(np.uint8)).save(path.with_suffix(".jpg"))
        path.write_text(path.read_text().replace('"kind": "square"', '"kind": "none"'))
    used = model_path("finder")
    other = tmp_path / "other.safetensors"
    shutil.copy(used, other)
    chosen = tmp_path / "out" / "finder.safetensors"
    given = ["--scenes", str(tmp_path / "marked"), "--bare", str(bare), "--out", str(chosen)]
    assert main([str(used), str(other), *given]) == 0
    assert chosen.read_bytes() == used.read_bytes()
    assert f"{used} chosen" in capsys.readouterr().out
    # nothing was laid on the painted ground, so nothing may be found
    assert judged_all(str(used), sorted(bare.rglob("*.json"))) == ["none", "none"]
    # and a frame in a photo that is said to have none is a false find
    seen = next(iter(sorted(bare.rglob("*.json"))))
    shutil.copy(SAMPLES / "creek_field" / "spot_01.jpg", seen.with_suffix(".jpg"))
    assert judged_all(str(used), [seen]) == ["false find"]
    (tmp_path / "empty").mkdir()
    given[3] = str(tmp_path / "empty")
    assert main([str(used), *given]) == 2
    assert "no scene without a marked area" in capsys.readouterr().out
