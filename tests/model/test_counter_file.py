"""The bundle: round trip, refusals, and predictions from what was read."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import torch

from tests.model.small import SMALL, FakeView, make_bundle
from tillercount.errors import InputError
from tillercount.model import Counter, files
from tillercount.model.files import model_path, read_bundle, read_info, write_manifest
from tillercount.model.network import build
from tillercount.model.things import Resemblance


def test_weights_go_round_in_half_precision(bundle_path: Path) -> None:
    """What is read is what was written, to half precision, and only weights of the network."""
    torch.manual_seed(0)
    state = build(SMALL).state_dict()
    bundle = read_bundle(bundle_path)
    for name, value in bundle.weights.items():
        torch.testing.assert_close(value, state[name], rtol=1e-3, atol=1e-4)
    assert bundle.info["name"] == "small"
    assert read_info(bundle_path) == bundle.info
    assert bundle.extra["novelty.mean"].shape == (SMALL.embedding,)


def test_a_counter_predicts_maps_of_the_promised_shapes(bundle_path: Path, view: FakeView) -> None:
    """150 x 210 px: cells that are only partly on the picture count as cells."""
    before = view.rgb.copy()
    counter = Counter.load(bundle_path)
    maps = counter.predict(view)
    assert maps.classes.shape == (5, 38, 53)
    assert maps.classes.dtype == np.float32
    assert maps.fine_classes.shape == (5, 75, 105)
    assert maps.plant_density.shape == maps.shoot_var.shape == (10, 14)
    np.testing.assert_allclose(maps.classes.sum(0), 1, atol=1e-4)
    assert maps.plant_points.shape[1] == 3
    assert np.isfinite(maps.novelty)
    assert (view.rgb == before).all()
    again = counter.predict(view)
    assert (again.plant_density == maps.plant_density).all()


def test_what_lies_outside_the_photo_is_not_looked_at(bundle_path: Path, view: FakeView) -> None:
    """Pixels marked invalid may hold anything."""
    counter = Counter.load(bundle_path)
    valid = view.valid.copy()
    valid[:, 100:] = False
    other = view.rgb.copy()
    other[:, 100:] = 255 - other[:, 100:]
    one = counter.predict(FakeView(view.rgb, valid))
    two = counter.predict(FakeView(other, valid))
    assert (one.shoot_density == two.shoot_density).all()


def test_a_count_is_the_sum_over_what_lies_inside(bundle_path: Path, view: FakeView) -> None:
    """Shares of blocks weigh; halves add up to the whole."""
    maps = Counter.load(bundle_path).predict(view)
    left = np.zeros(view.valid.shape, dtype=np.float32)
    left[:, :100] = 1
    left[:, 100] = 0.25
    parts = [maps.count_inside(left), maps.count_inside(1 - left)]
    whole = maps.count_inside(np.ones_like(left))
    assert parts[0].plants + parts[1].plants == pytest.approx(whole.plants, rel=1e-5)
    assert parts[0].shoots_variance + parts[1].shoots_variance == pytest.approx(
        whole.shoots_variance, rel=1e-5
    )
    block = np.zeros_like(left)
    block[16:32, 32:48] = 1
    assert maps.count_inside(block).plants == pytest.approx(float(maps.plant_density[1, 2]))
    with pytest.raises(ValueError, match="210"):
        maps.count_inside(left[:, :50])


def test_another_scale_is_refused(bundle_path: Path, view: FakeView) -> None:
    counter = Counter.load(bundle_path)
    with pytest.raises(InputError, match=r"0.5 mm per pixel; model small needs 0.4"):
        counter.predict(FakeView(view.rgb, view.valid, 0.5))


def test_an_unusual_picture_widens_and_then_refuses(bundle_path: Path) -> None:
    counter = Counter.load(bundle_path)
    usual = counter.interval("plants", 20.0, 4.0, novelty=0.8)
    odd = counter.interval("plants", 20.0, 4.0, novelty=1.2)
    assert odd[0] < usual[0] < 20 < usual[1] < odd[1]
    assert not counter.is_unusual(0.9)
    assert counter.is_unusual(1.1)
    maps = counter.predict(FakeView(np.zeros((64, 64, 3), np.uint8), np.ones((64, 64), bool)))
    assert counter.refusal(replace(maps, novelty=3.9)) is None
    far = counter.refusal(replace(maps, novelty=4.1))
    assert "nothing this model was trained on" in str(far)


def test_other_plants_than_a_stand_are_named_and_refused(bundle_path: Path) -> None:
    """Lawn or maize would be counted as a stand; bare soil may be a true spot without plants."""
    counter = Counter.load(bundle_path)
    maps = counter.predict(FakeView(np.zeros((64, 64, 3), np.uint8), np.ones((64, 64), bool)))
    lawn = replace(maps, novelty=2.1, like=Resemblance("lawn", 1.4, growing=True))
    assert lawn.strangeness == 2.1
    assert counter.refusal(lawn) is None  # far from all stands, but not that much like lawn
    assert "looks more like lawn" in str(counter.unusual(lawn))
    sure = replace(maps, novelty=0.5, like=Resemblance("lawn", 2.1, growing=True))
    assert "looks like lawn" in str(counter.refusal(sure))
    bare = replace(maps, novelty=0.5, like=Resemblance("bare soil", 9.0, growing=False))
    assert counter.refusal(bare) is None
    assert bare.strangeness == 9.0
    assert counter.unusual(replace(maps, novelty=0.7)) is None
    assert replace(sure, novelty=float("nan")).strangeness == 2.1


def test_the_model_says_what_its_intervals_are_worth(bundle_path: Path) -> None:
    info = Counter.load(bundle_path).info
    assert info.calibration_n == 80
    assert len(info.sha256) == 64
    assert "80 photos" in info.coverage_text
    assert "made-up counts" in info.coverage_text


def test_no_calibration_no_interval(tmp_path: Path) -> None:
    counter = Counter.load(make_bundle(tmp_path / "raw.safetensors", calibrated=False))
    with pytest.raises(InputError, match="carries no calibration of plants"):
        counter.interval("plants", 10.0, 1.0)
    assert counter.info.coverage_text == "this model carries no calibration"


@pytest.mark.parametrize("where", [0.5, 0.95])
def test_changed_weights_are_refused(bundle_path: Path, where: float) -> None:
    """One bit anywhere among the weights."""
    data = bytearray(bundle_path.read_bytes())
    head = 8 + int.from_bytes(data[:8], "little")
    data[head + int((len(data) - head) * where)] ^= 1
    bundle_path.write_bytes(data)
    with pytest.raises(InputError, match="changed after training"):
        Counter.load(bundle_path)


def test_a_file_that_isnt_the_listed_one_is_refused(bundle_path: Path, tmp_path: Path) -> None:
    """A wholly valid model under the name of another is caught by the list of sums."""
    write_manifest(bundle_path.parent)
    assert Counter.load(bundle_path).info.name == "small"
    make_bundle(bundle_path, calibrated=False)
    with pytest.raises(InputError, match=r"small.safetensors: its SHA-256 isn't the one"):
        Counter.load(bundle_path)


@pytest.mark.parametrize(
    "content", [b"", b"abc", b"\x80\x04\x95" * 50, b"\xff" * 100, b"\x02\0\0\0\0\0\0\0{}"]
)
def test_files_that_are_no_models_are_refused(tmp_path: Path, content: bytes) -> None:
    """Empty, cut, pickled or other bytes: one line that names the file and what to do."""
    path = tmp_path / "junk.safetensors"
    path.write_bytes(content)
    with pytest.raises(InputError, match=r"junk.safetensors: .*; install tillercount again"):
        Counter.load(path)


def test_a_cut_file_is_refused(bundle_path: Path) -> None:
    bundle_path.write_bytes(bundle_path.read_bytes()[:-100])
    with pytest.raises(InputError, match=r"small\.safetensors"):
        Counter.load(bundle_path)


def test_weights_of_another_network_are_refused(bundle_path: Path) -> None:
    """The description promises more blocks than the file holds."""
    bundle = read_bundle(bundle_path)
    info = {**bundle.info, "config": {**bundle.info["config"], "blocks": 2}}
    files.write_bundle(bundle_path, bundle.weights, info)
    with pytest.raises(InputError, match="don't fit the network"):
        Counter.load(bundle_path)


def test_a_model_of_another_schema_is_refused(bundle_path: Path) -> None:
    data = bundle_path.read_bytes()
    length = int.from_bytes(data[:8], "little")
    header = json.loads(data[8 : 8 + length])
    header["__metadata__"]["tillercount"] = json.dumps({"schema": "tillercount.model/9"})
    text = json.dumps(header).encode()
    bundle_path.write_bytes(len(text).to_bytes(8, "little") + text + data[8 + length :])
    with pytest.raises(InputError, match="another version of tillercount"):
        Counter.load(bundle_path)


def test_unknown_names_and_paths_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'nosuch' isn't known"):
        model_path("nosuch")
    with pytest.raises(InputError, match="there is no such file"):
        model_path(tmp_path / "none.safetensors")
