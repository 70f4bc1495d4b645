"""Weights to start training from, packed in four bits each."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import torch

from tillercount.errors import InputError
from tillercount.model.files import read_bundle, write_bundle
from tillercount.model.network import NetworkConfig, build
from tillercount.train.closing import make_info
from tillercount.train.start import main, pack, unpack

SHAPE = NetworkConfig(widths=(8, 16, 16, 24, 32), neck=16, counts=3, context=2)


def write(path: Path, attribution: str = "", photos: int = 0) -> Path:
    torch.manual_seed(3)
    stints = [{"steps": 5, "real_photos": photos}]
    info = make_info(SHAPE.as_dict(), {"steps": 5, "stints": stints}, attribution, 1)
    write_bundle(path, build(SHAPE).state_dict(), info)
    return path


def test_a_start_is_a_quarter_as_large_and_near_what_it_was(tmp_path: Path) -> None:
    weights = write(tmp_path / "weights.safetensors")
    assert main([str(weights), "--out", str(tmp_path / "start.npz")]) == 0
    back = tmp_path / "back.safetensors"
    assert main([str(tmp_path / "start.npz"), "--unpack", "--out", str(back)]) == 0
    before, after = read_bundle(weights), read_bundle(back)
    assert after.info["config"] == before.info["config"]
    assert after.info["training"] == before.info["training"]
    assert not after.info["attribution"]
    assert before.weights.keys() == after.weights.keys()
    for name, value in before.weights.items():
        other = after.weights[name]
        assert other.shape == value.shape
        if value.ndim < 2:
            assert torch.equal(other, value)
        assert _lost(value, other) < 0.03, name
    name = "stages.3.1.first.conv.weight"
    # what sixteen even steps leave of a normal distribution's variance (Max 1960, table II; the
    # figure is from memory), and fifteen about as much
    assert _lost(before.weights[name], after.weights[name]) == pytest.approx(0.01154, rel=0.1)
    build(SHAPE).load_state_dict(after.weights, strict=False)


def _lost(value: torch.Tensor, other: torch.Tensor) -> float:
    """Share of the mean square that is lost."""
    return float((other - value).square().mean() / value.square().mean().clamp(min=1e-9))


@pytest.mark.parametrize(("attribution", "photos"), [("somebody's photos", 0), ("", 3)])
def test_weights_that_saw_real_photos_are_no_start(
    tmp_path: Path, attribution: str, photos: int
) -> None:
    weights = write(tmp_path / "weights.safetensors", attribution, photos)
    with pytest.raises(InputError, match="trained on real photos"):
        pack(weights, tmp_path / "start.npz")
    assert not (tmp_path / "start.npz").exists()


def test_another_file_is_refused_by_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other, out = tmp_path / "x.npz", tmp_path / "b.safetensors"
    np.savez(other, info=np.frombuffer(b'{"schema": "else"}', np.uint8))
    assert main([str(other), "--unpack", "--out", str(out)]) == 2
    assert "doesn't hold all weights" in capsys.readouterr().out
    assert not out.exists()


@pytest.mark.parametrize("harm", ["nothing", "cut", "flipped", "array", "no weights"])
def test_a_damaged_start_is_refused(tmp_path: Path, harm: str) -> None:
    path = tmp_path / "start.npz"
    pack(write(tmp_path / "weights.safetensors"), path)
    data = path.read_bytes()
    if harm == "no weights":
        with np.load(path) as file:
            np.savez(path, info=file["info"])
    elif harm == "array":
        with path.open("wb") as file:
            np.save(file, np.zeros(3))
    else:
        middle = len(data) // 2
        flipped = data[:middle] + bytes(255 - b for b in data[middle : middle + 40])
        flipped += data[middle + 40 :]
        path.write_bytes({"nothing": b"", "cut": data[:middle], "flipped": flipped}[harm])
    with pytest.raises(InputError, match=r"start\.npz"):
        unpack(path, tmp_path / "b.safetensors")
    assert not (tmp_path / "b.safetensors").exists()
