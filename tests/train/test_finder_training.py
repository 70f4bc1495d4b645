"""Training of the frame finder: what it learns from is right, and a tiny run goes through."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import torch
from frame.painter import Camera, Look, paint, write_scene

from tillercount.area import HoopArea, RowArea, SquareArea
from tillercount.errors import InputError
from tillercount.frame.finder import Finder, picture_of
from tillercount.frame.network import FLAT, KINDS, MAPS, FinderNet, normalise
from tillercount.train.finder import main
from tillercount.train.finder_data import CANVAS_PX, load_scenes
from tillercount.train.finder_paint import paint_frames
from tillercount.train.finder_views import Dice, add_leaves, recolour_tubes, take_views, weather

CPU = torch.device("cpu")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("scenes")
    wide = Camera(width=800, height=600, focal_px=600, distance_mm=620)
    write_scene(paint(SquareArea(304.8), wide, Look(leaves=40), 1), out, "a")
    write_scene(paint(HoopArea(343.9), wide, Look(leaves=40), 2), out, "b")
    tall = Camera(width=600, height=800, focal_px=600, distance_mm=900)
    write_scene(paint(RowArea(487.7, 190.5), tall, Look(leaves=60), 3), out, "c")
    write_scene(paint(None, wide, Look(leaves=60), 4), out, "d")
    return out


def test_scenes_are_read_with_their_truth(folder: Path) -> None:
    scenes = load_scenes([folder], threads=1)
    assert scenes.rgb.shape == (4, 3, *CANVAS_PX)
    assert [KINDS[k] for k in scenes.kind.tolist()] == ["quad", "hoop", "row", "none"]
    assert scenes.flat.tolist() == [0, 0, -1, -1]
    inside = scenes.truth[:, 2].float().sum((1, 2)) / 255
    # 640 px wide: the inside edge at the pipe's axis, 21.3 mm thick
    square = (304.8 * 600 / (620 - 10.65) * 0.8) ** 2
    hoop = math.pi / 4 * (343.9 * 600 / (620 - 10.65) * 0.8) ** 2
    assert inside[0] == pytest.approx(square, rel=0.01)
    assert inside[1] == pytest.approx(hoop, rel=0.01)
    assert inside[2] == 0
    assert scenes.truth[2, 3].float().sum() / 255 > 5000
    assert scenes.truth[2, 1].float().sum() > 0
    assert scenes.truth[2, 0].sum() == 0
    # a disc without any frame, as large as the hoop lets it be
    assert scenes.radius[1] == pytest.approx(343.9 / 2 * 600 / 610 * 0.8, rel=0.1)


def test_a_folder_without_scenes_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no scene"):
        load_scenes([tmp_path])
    (tmp_path / "x.json").write_text("{}")
    (tmp_path / "x.jpg").write_bytes(b"")
    with pytest.raises(InputError, match="can't be read"):
        load_scenes([tmp_path])


def test_views_move_truth_with_the_picture(folder: Path) -> None:
    scenes = load_scenes([folder], threads=1)
    # the truth of the square is painted into its photo: views must keep both together
    marked = scenes.subset([0])
    marked.rgb[:, 0] = marked.truth[:, 2]
    rgb, truth, valid = take_views(
        marked, torch.zeros(8, dtype=torch.long), Dice(CPU, 3), (192, 256)
    )
    assert torch.allclose(rgb[:, 0], truth[:, 2], atol=1e-6)
    shares = truth[:, 2].mean((1, 2))
    assert shares.min() > 0.03
    assert shares.std() > 0.01
    assert 0 < valid.mean() <= 1


def test_free_views_hold_no_frame(folder: Path) -> None:
    scenes = load_scenes([folder], threads=1)
    index = torch.tensor([0, 1, 2, 3] * 4)
    _, truth, _ = take_views(scenes, index, Dice(CPU, 5), (192, 256), free=True)
    assert truth[:, :2].amax((1, 2, 3)).max() < 0.35
    assert truth[:, :2].mean() < 0.002


def test_painted_frames_agree_with_their_truth() -> None:
    grey = torch.full((96, 3, 120, 160), 0.4)
    painted = paint_frames(grey, Dice(CPU, 7))
    changed = (painted.rgb - grey).abs().amax(1)
    tube = painted.truth[:, :2].amax(1)
    framed = painted.kind > 0
    assert framed.sum() > 40
    assert set(painted.kind.tolist()) <= {-100, 0, 1, 2, 3}
    # away from frames and shadows nothing is changed, and a frame's pixels mostly are
    assert (changed[framed][tube[framed] > 0.9] > 0.02).float().mean() > 0.85
    for i in torch.nonzero(painted.kind == KINDS.index("hoop"))[:, 0]:
        inside = painted.truth[i, 2]
        assert not ((inside > 0.9) & (tube[i] > 0.9)).any()
    nothing = painted.kind == KINDS.index("none")
    assert tube[nothing].max() == 0
    assert painted.truth[nothing, 2].max() == 0


def test_weather_and_leaves_keep_to_their_range() -> None:
    dice = Dice(CPU, 1)
    rgb = torch.rand(6, 3, 64, 96)
    seen = torch.ones(6, 2, 64, 96)
    out, hidden = add_leaves(rgb, seen, dice, p=1.0)
    assert out.min() >= 0
    assert out.max() <= 1
    assert 0.3 < hidden.mean() < 0.999
    same = (hidden[:, :1] == 1).expand_as(out)
    assert torch.equal(out[same], rgb[same])
    grim = weather(out, dice)
    assert grim.shape == rgb.shape
    assert grim.min() >= 0
    assert grim.max() <= 1
    assert torch.isfinite(grim).all()
    tube = torch.zeros(6, 1, 64, 96)
    tube[:, :, 20:30] = 1
    coloured = recolour_tubes(rgb, tube, dice, p=1.0)
    assert torch.equal(coloured[:, :, :20], rgb[:, :, :20])
    assert not torch.equal(coloured[:, :, 20:30], rgb[:, :, 20:30])


def test_network_s_shapes() -> None:
    net = FinderNet().eval()
    with torch.inference_mode():
        maps, kinds = net(normalise(torch.zeros(2, 3, 96, 128)))
    assert maps.shape == (2, len(MAPS), 48, 64)
    assert kinds.shape == (2, FLAT + 1)
    assert sum(p.numel() for p in net.parameters()) < 2_000_000


def test_a_tiny_run_goes_on_and_can_be_used(folder: Path, tmp_path: Path) -> None:
    common = ["--data", str(folder), "--out", str(tmp_path), "--batch", "2", "--long-side", "128"]
    assert main([*common, "--seconds", "2", "--say-every", "1000"]) == 0
    finder = Finder.load(str(tmp_path / "finder.safetensors"))
    rgb = np.random.default_rng(0).integers(0, 255, (300, 411, 3), dtype=np.uint8)
    maps = finder(picture_of(rgb, 400.0))
    assert maps.tube.shape == maps.inside.shape
    assert sum(maps.kinds.values()) == pytest.approx(1, abs=1e-5)
    # the grid covers the picture
    h, w = maps.tube.shape
    last = maps.to_picture @ [w - 0.5, h - 0.5, 1]
    assert last[0] == pytest.approx(410.5, abs=8)
    assert last[1] == pytest.approx(299.5, abs=8)
    first = maps.to_picture @ [-0.5, -0.5, 1]
    assert first[:2] == pytest.approx([-0.5, -0.5])


def test_weights_of_something_else_are_refused(tmp_path: Path) -> None:
    from tillercount.model.files import write_bundle

    path = tmp_path / "other.safetensors"
    write_bundle(path, {"a": torch.zeros(3)}, {"what": "else"})
    with pytest.raises(InputError, match="not weights of the frame finder"):
        Finder.load(str(path))


def test_lath_or_pipe_is_asked_on_the_frame_alone() -> None:
    """Off the frame's pixels the lath map may say anything; on them it must be right."""
    from tillercount.train.finder_loss import finder_loss

    truth = torch.zeros(1, 4, 32, 32)
    truth[0, 0, 8:12, 4:28] = 1
    flat, kind = torch.tensor([1.0]), torch.tensor([KINDS.index("quad")])
    valid, weight = torch.ones(1, 1, 32, 32), torch.ones(1, 4)
    kinds = torch.zeros(1, FLAT + 1)

    def loss(on_frame: float, elsewhere: float, flat: torch.Tensor = flat) -> float:
        maps = torch.cat([(truth - 0.5) * 12, torch.full((1, 1, 32, 32), elsewhere)], 1)
        maps[0, 4, 8:12, 4:28] = on_frame
        return float(finder_loss(maps, kinds, truth, weight, kind, flat, valid))

    assert loss(6, -6) == pytest.approx(loss(6, 6))
    assert loss(6, 0) < loss(-6, 0) - 0.5
    unknown = torch.tensor([-1.0])
    assert loss(6, 0, unknown) == pytest.approx(loss(-6, 0, unknown))
