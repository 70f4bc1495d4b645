"""The training command, end to end, on a handful of painted scenes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import torch
from PIL import Image

from tests.train.fake_scenes import paint_scenes
from tillercount.errors import InputError
from tillercount.model.files import read_bundle, read_info
from tillercount.train.counter import main
from tillercount.train.finish import finish
from tillercount.train.realphotos import FOLDS, folds, load_real, pack
from tillercount.train.schedule import Average, Clock, learning_rate
from tillercount.train.thresholds import best_threshold, match_points

SMALL_RUN = "--crop 64 --canvas 128 --canvas-out 320 --batch 3 --workers 1 --views 1 --reserve 1"


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    """A folder like that of the real photos, with painted ones."""
    folder = tmp_path / "photos"
    (folder / "img").mkdir(parents=True)
    (folder / "mask").mkdir()
    rng = np.random.default_rng(0)
    rows = ["file,season,plot,date,time,plant_cover"]
    for i in range(12):
        name = f"p{i}.png"
        mask = np.zeros((50, 50), dtype=np.uint8)
        mask[10:20, i : i + 20] = 255
        rgb = rng.integers(60, 120, (50, 50, 3), dtype=np.uint8)
        rgb[mask > 0, 1] += 90
        Image.fromarray(rgb).save(folder / "img" / name)
        Image.fromarray(mask).save(folder / "mask" / name)
        rows.append(f"{name},S,plot{i % 6},20200101,120000,0.1")
    (folder / "index.csv").write_text("\n".join(rows), encoding="utf-8")
    return folder


def test_real_photos_are_split_by_plot(photos: Path, tmp_path: Path) -> None:
    """No plot is on both sides; masks survive packing to within a rim."""
    out = tmp_path / "real.npz"
    assert pack(photos, out) == 12
    one, two = load_real(out, fold=0), load_real(out, fold=0, training=False)
    assert one is not None
    assert two is not None
    assert len(one.names) + len(two.names) == 12
    assert not set(one.plots) & set(two.plots)
    parts = [load_real(out, fold=k, training=False) for k in range(FOLDS)]
    assert sum(len(part.names) for part in parts if part) == 12
    assert load_real(out, fold=None, training=False) is None
    assert one.pixels.shape[1:] == (4, 80, 80)  # 50 px of 0.64 mm at 0.4 mm
    assert one.pixels[:, 3].mean() == pytest.approx(200 / 2500, rel=0.1)
    green = one.pixels[:, 1].astype(int) - one.pixels[:, 0]
    plant = one.pixels[:, 3] > 0
    assert green[plant].mean() > green[~plant].mean() + 50


def test_plants_read_by_eye_travel_with_the_photos(photos: Path, tmp_path: Path) -> None:
    """Weights add up to the mean reading; photos that weren't countable have none."""
    (photos / "readings.csv").write_text(
        "file,plants,a_sure,a_total,b_sure,b_total,countable\n"
        "p0.png,2.25,2,3,2,2,1\np1.png,1,1,1,1,1,0\n"
    )
    (photos / "reading_points.csv").write_text(
        "file,reader,x,y,unsure\n"
        "p0.png,a,0,0,0\np0.png,a,10,20,0\np0.png,a,30,40,1\n"
        "p0.png,b,1,0,0\np0.png,b,10,21,0\np1.png,a,5,5,0\n"
    )
    out = tmp_path / "real.npz"
    pack(photos, out)
    real = load_real(out, fold=None)
    assert real is not None
    by_name = dict(zip(real.names, real.readings, strict=True))
    assert by_name["p0.png"][:, 2].sum() == pytest.approx(2.25)
    assert len(by_name["p1.png"]) == 0
    # the middle of photo pixel (10, 20), 0.64 mm wide, on pixels of 0.4 mm
    assert by_name["p0.png"][1, :2] == pytest.approx([10.5 * 1.6 - 0.5, 20.5 * 1.6 - 0.5])


def test_plots_are_dealt_evenly() -> None:
    plots = [name for i, name in enumerate("abcdefghijklmnop") for _ in range(1 + i % 4)]
    dealt = folds(plots)
    photos = [sum(dealt[p] == k for p in plots) for k in range(FOLDS)]
    assert max(photos) - min(photos) <= 1
    assert folds(plots[::-1]) == dealt


def test_training_writes_a_model_and_goes_on_where_it_stopped(
    photos: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One command leaves model, log, checkpoint and predictions; --resume continues."""
    data, out, real = tmp_path / "scenes", tmp_path / "out", tmp_path / "real.npz"
    paint_scenes(data, 6)
    pack(photos, real)
    command = f"--data {data} --out {out} --real {real} --fold 1 --held-out 0.3 {SMALL_RUN}"
    assert main(f"{command} --seconds 300 --steps 2".split()) == 0
    checkpoint = torch.load(out / "checkpoint.pt", weights_only=True)
    first = read_bundle(out / "counter.safetensors")
    assert first.info["licence"] == "CC-BY-SA-4.0"
    assert "Zenkl" in first.info["attribution"]
    assert first.info["training"]["plots_held_out"]
    looked_at = json.loads((out / "real_held_out.json").read_text("utf-8"))
    assert {p["plot"] for p in looked_at["photos"]} == set(first.info["training"]["plots_held_out"])
    records = json.loads((out / "predictions.json").read_text("utf-8"))["scenes"]
    assert records
    assert all(np.isfinite(r["count"]).all() for r in records)
    assert main(f"{command} --seconds 300 --steps 4 --resume".split()) == 0
    again = torch.load(out / "checkpoint.pt", weights_only=True)
    assert again["step"] == checkpoint["step"] + 2
    assert f"going on from step {checkpoint['step']}" in capsys.readouterr().out
    second = read_bundle(out / "counter.safetensors")
    name = "rate.weight"
    assert not torch.equal(first.weights[name], second.weights[name])


def test_tuning_leaves_weights_for_all_photos_and_for_each_fold(
    photos: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Scenes alone first; then every fold is judged by the photos that it never saw."""
    data, out, real = tmp_path / "scenes", tmp_path / "out", tmp_path / "real.npz"
    paint_scenes(data, 4)
    pack(photos, real)
    command = f"--data {data} --out {out} {SMALL_RUN} --seconds 300 --steps 1 --no-close"
    tuning = "--tune-seconds 0.5 --tune-share 0.4"
    assert main(f"{command} {tuning}".split()) == 2
    assert "--tune-seconds needs real photos" in capsys.readouterr().out
    assert main(f"{command} --real {real} --real-share 0.3 {tuning}".split()) == 2
    assert "no fold could be judged" in capsys.readouterr().out
    assert not (out / "weights.safetensors").exists()  # said before any training
    assert main(f"{command} --real {real} --real-share 0 {tuning}".split()) == 0
    alone = read_bundle(out / "weights.safetensors")
    assert alone.info["licence"] == "Apache-2.0"
    seen: list[str] = []
    for k in range(FOLDS):
        judged = json.loads((out / f"fold{k}" / "real_held_out.json").read_text("utf-8"))
        assert judged["fold"] == k
        seen += [p["name"] for p in judged["photos"]]
    assert len(seen) == len(set(seen)) == 12
    tuned = read_bundle(out / "all" / "weights.safetensors")
    assert tuned.info["licence"] == "CC-BY-SA-4.0"
    assert not torch.equal(alone.weights["rate.weight"], tuned.weights["rate.weight"])
    other = read_bundle(out / "fold0" / "weights.safetensors")
    assert not torch.equal(other.weights["rate.weight"], tuned.weights["rate.weight"])


def test_a_step_that_is_not_finite_changes_nothing_but_is_counted(tmp_path: Path) -> None:
    from tillercount.train.counter import _options
    from tillercount.train.data import find_scenes, load_scenes
    from tillercount.train.run import Run
    from tillercount.train.schedule import Group

    paint_scenes(tmp_path / "scenes", 2)
    options = _options(f"--data {tmp_path} --out {tmp_path} {SMALL_RUN}".split())
    scenes = load_scenes(find_scenes([tmp_path / "scenes"]), canvas_px=128, workers=1)
    run = Run(options, scenes, None, torch.device("cpu"), Group.alone())
    run.advance(0.0, False)
    assert set(run.noted()) >= {"count", "surface", "norm"}
    run.network.rate.bias.register_hook(lambda g: g * float("nan"))
    before = run.network.rate.weight.detach().clone()
    run.advance(0.0, False)
    assert torch.equal(run.network.rate.weight, before)
    assert run.noted()["norm"] == 0.0
    assert run.skipped == 1


def test_weights_that_saw_real_photos_keep_saying_so(photos: Path, tmp_path: Path) -> None:
    """Trained on by scenes alone, resumed or finished, they stay under those photos' licence."""
    data, real = tmp_path / "scenes", tmp_path / "real.npz"
    paint_scenes(data, 4)
    pack(photos, real)
    common = f"--data {data} {SMALL_RUN} --seconds 300 --no-close"
    first, second = tmp_path / "first", tmp_path / "second"
    assert main(f"{common} --out {first} --real {real} --steps 1".split()) == 0
    start = first / "weights.safetensors"
    assert main(f"{common} --out {second} --init {start} --steps 1".split()) == 0
    assert main(f"{common} --out {second} --resume --steps 2".split()) == 0
    assert read_info(second / "weights.safetensors")["licence"] == "CC-BY-SA-4.0"
    with pytest.raises(InputError, match="give them with --real"):
        finish(second / "weights.safetensors", [data], [data], None, tmp_path / "model")
    folds_wanted = f"{common} --out {tmp_path / 'third'} --init {start} --steps 1 --real {real}"
    assert main(f"{folds_wanted} --real-share 0 --tune-seconds 1".split()) == 2


def test_resuming_before_there_is_a_checkpoint_starts_from_the_weights_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A command that may be repeated names both; the weights must not be passed over."""
    data, first, second = tmp_path / "scenes", tmp_path / "first", tmp_path / "second"
    paint_scenes(data, 4)
    common = f"--data {data} {SMALL_RUN} --seconds 300 --no-close"
    assert main(f"{common} --steps 1 --out {first} --seed 4".split()) == 0
    start = first / "weights.safetensors"
    assert main(f"{common} --steps 1 --out {second} --resume --rate 0 --init {start}".split()) == 0
    assert f"weights of {start}" in capsys.readouterr().out
    name = "stages.0.0.first.conv.weight"
    began, ended = read_bundle(start).weights[name], read_bundle(second / start.name).weights[name]
    assert torch.equal(began, ended)
    assert main(f"{common} --out {second} --resume --steps 3".split()) == 0
    stints = read_info(second / start.name)["training"]["stints"]
    assert [s["steps"] for s in stints] == [1, 3]
    assert stints[0]["scenes"] == stints[1]["scenes"] > 0 == stints[1]["real_photos"]


def test_two_processes_train_together_and_stop_together(tmp_path: Path) -> None:
    paint_scenes(tmp_path / "scenes", 6)
    command = (
        f"-m torch.distributed.run --nproc-per-node 2 --standalone -m tillercount.train.counter "
        f"--data {tmp_path / 'scenes'} --out {tmp_path / 'out'} {SMALL_RUN} --device cpu --no-close"
    )
    for limit in ("--seconds 300 --steps 3", "--seconds 4 --resume"):
        done = subprocess.run(
            [sys.executable, *command.split(), *limit.split()], capture_output=True, text=True,
            timeout=300, check=False,
        )
        assert done.returncode == 0, done.stderr[-2000:]
    assert "going on from step 3" in done.stdout
    state = torch.load(tmp_path / "out" / "checkpoint.pt", weights_only=True)
    assert state["step"] % 10 == 0  # they ask each other every ten steps


def test_without_real_photos_the_licence_is_the_projects(tmp_path: Path) -> None:
    data, out = tmp_path / "scenes", tmp_path / "out"
    paint_scenes(data, 3)
    assert main(f"--data {data} --out {out} {SMALL_RUN} --seconds 300 --steps 1".split()) == 0
    assert read_info(out / "counter.safetensors")["licence"] == "Apache-2.0"


def test_wrong_options_end_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--data", str(tmp_path / "none"), "--out", str(tmp_path / "out")]) == 2
    assert main(["--data", str(tmp_path), "--out", str(tmp_path / "out"), "--crop", "100"]) == 2
    said = capsys.readouterr().out
    assert "doesn't exist" in said
    assert "--crop 100: must be a multiple of 32" in said


def test_the_learning_rate_rises_and_falls() -> None:
    assert learning_rate(0, 0.0, 1.0) == pytest.approx(1 / 200)
    assert learning_rate(500, 0.0, 1.0) == pytest.approx(1.0)
    assert learning_rate(500, 0.5, 1.0) == pytest.approx(0.505)
    assert learning_rate(500, 1.0, 1.0) == pytest.approx(0.01)


def test_the_clock_counts_loading_and_earlier_stints(monkeypatch: pytest.MonkeyPatch) -> None:
    """100 s in all, 20 s of loading, 10 s kept: 70 s of training, after 70 s before."""
    now = [1000.0]
    monkeypatch.setattr("tillercount.train.schedule.time.monotonic", lambda: now[0])
    clock = Clock(100.0, 980.0, 10.0, earlier_s=70.0)
    assert clock.progress == pytest.approx(0.5)
    assert not clock.over
    now[0] += 35
    assert clock.progress == pytest.approx(0.75)
    assert clock.trained_s == pytest.approx(105)
    now[0] += 36
    assert clock.over
    assert clock.progress == 1.0


def test_the_average_follows_the_network() -> None:
    """Early on quickly; statistics of normalisation too."""
    network = torch.nn.Sequential(torch.nn.Linear(2, 2), torch.nn.BatchNorm1d(2))
    copy = torch.nn.Sequential(torch.nn.Linear(2, 2), torch.nn.BatchNorm1d(2))
    average = Average(network, copy, decay=0.9)
    with torch.no_grad():
        network[0].weight += 1.0
        network[1].running_mean += 1.0
    gap = (network[0].weight - average.network[0].weight).abs().max()
    for step in range(60):
        average.update(step)
    after = (network[0].weight - average.network[0].weight).abs().max()
    assert after < 0.05 * gap
    torch.testing.assert_close(
        average.network[1].running_mean, network[1].running_mean, atol=0.05, rtol=0
    )


def test_points_are_matched_one_to_one() -> None:
    """Two points beside one base: the better one has found it, the other is wrong."""
    points = np.array([[10.0, 10.0, 0.9], [11.0, 10.0, 0.8], [50.0, 50.0, 0.7]])
    true = np.array([[10.5, 10.0], [49.0, 50.0], [90.0, 90.0]])
    assert match_points(points, true, 5.0).tolist() == [True, False, True]
    assert match_points(points, np.zeros((0, 2)), 5.0).tolist() == [False] * 3


def test_the_threshold_parts_good_points_from_bad() -> None:
    """Scores above 0.6 are right, below it wrong: the best threshold lies between."""
    rng = np.random.default_rng(0)
    true = rng.uniform(0, 1000, (30, 2))
    good = np.column_stack([true, rng.uniform(0.62, 0.9, 30)])
    bad = np.column_stack([rng.uniform(2000, 3000, (30, 2)), rng.uniform(0.1, 0.55, 30)])
    points = np.concatenate([good, bad])
    points = points[np.argsort(-points[:, 2])]
    threshold, matching = best_threshold([(points, true)], 5.0)
    assert 0.55 < threshold <= 0.62
    assert (matching.found, matching.wrong, matching.missed) == (30, 0, 0)


def test_a_model_that_counts_fewer_things_can_be_trained_on(tmp_path: Path) -> None:
    """The new head starts afresh; all else goes on from the weights given."""
    from tillercount.model.files import write_bundle
    from tillercount.model.network import NetworkConfig, build
    from tillercount.train.closing import make_info

    data, out, old = tmp_path / "scenes", tmp_path / "out", tmp_path / "old.safetensors"
    paint_scenes(data, 3)
    torch.manual_seed(3)
    network = build(NetworkConfig())
    write_bundle(old, network.state_dict(), make_info(network.config.as_dict(), {}, "", 1))
    command = f"--data {data} --out {out} --init {old} {SMALL_RUN} --seconds 300 --steps 1"
    assert main([*command.split(), "--no-close", "--rate", "1e-9"]) == 0
    new = read_bundle(out / "weights.safetensors")
    assert new.info["config"]["counts"] == 3
    assert new.weights["rate.weight"].shape[0] == 3
    assert torch.allclose(
        new.weights["rate.weight"][:2].float(), network.state_dict()["rate.weight"], atol=1e-3
    )
