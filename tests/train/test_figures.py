"""Figures of an evaluation, against numbers worked out by hand; card and recalibration."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from tests.model.small import make_bundle
from tillercount.model import Counter
from tillercount.model.card import write_card
from tillercount.model.files import read_bundle, read_info
from tillercount.model.measured import _reasons
from tillercount.train.evaluate import summarise
from tillercount.train.figures import Row, count_figures, polygon_iou, thirds
from tillercount.train.recalibrate import main as recalibrate_main


def test_figures_worked_by_hand() -> None:
    """True 10, 20, 30; counted 12, 20, 27: squares 4, 0, 9; mean 20."""
    f = count_figures([10, 20, 30], [12, 20, 27], [9, 19, 20], [13, 22, 29])
    assert f.rel_rmse == pytest.approx(math.sqrt(13 / 3) / 20)
    assert f.bias == pytest.approx(-1 / 3 / 20)
    assert f.r2 == pytest.approx(1 - 13 / 200)
    assert f.coverage == pytest.approx(2 / 3)
    # Mean width 16/3; a normal distribution's 90 % takes 2 x 1.6449 RMSE.
    assert f.width_ratio == pytest.approx((16 / 3) / (2 * 1.6449 * math.sqrt(13 / 3)), rel=1e-4)


def test_perfect_normal_intervals_have_width_ratio_one() -> None:
    """An interval of +-1.645 sd on normal errors covers 90 % and is as wide as it must be."""
    rng = np.random.default_rng(0)
    true = np.full(20_000, 50.0)
    count = true + rng.normal(0, 4, len(true))
    f = count_figures(true, count, count - 1.645 * 4, count + 1.645 * 4, density=rng.random(20_000))
    assert f.width_ratio == pytest.approx(1, abs=0.02)
    assert f.coverage == pytest.approx(0.9, abs=0.01)
    assert len(f.by_third) == 3
    assert sum(part.n for part in f.by_third) == 20_000


def test_thirds_part_by_density() -> None:
    parts = thirds(np.array([5.0, 1.0, 9.0, 2.0, 7.0, 8.0]))
    assert [part.tolist() for part in parts] == [[1, 3], [0, 4], [2, 5]]


def test_no_photos_no_figures() -> None:
    with pytest.raises(ValueError, match="no photos"):
        count_figures([], [], [], [])


def test_iou_of_shifted_squares() -> None:
    """Two unit squares half apart: a half over one and a half."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    assert polygon_iou(square, square) == 1.0
    assert polygon_iou(square, square + [0.5, 0]) == pytest.approx(1 / 3)
    assert polygon_iou(square, square + [2, 0]) == 0.0


def _row(i: int, refused: bool = False) -> Row:
    true = (10.0 + i, 30.0 + 2 * i)
    common = {"name": f"{i}.jpg", "kind": "square", "area_ft2": 1.0, "true": true}
    if refused:
        return Row(**common, status="refused", reason="no frame: move the leaves")
    count = (true[0] * (0.9 + 0.02 * (i % 10)), true[1] * (0.95 + 0.01 * (i % 10)))
    return Row(
        **common,
        status="counted",
        reason=None,
        count=count,
        low=(count[0] - 3, count[1] - 5),
        high=(count[0] + 3, count[1] + 5),
        variance=(4.0, 9.0),
        novelty=0.5,
        outline_iou=0.99,
        seconds=0.5,
    )


def test_refused_photos_are_counted_as_refused() -> None:
    """They lower the share of areas found, and their reason is kept."""
    figures = summarise([*map(_row, range(20)), _row(20, refused=True)])
    assert figures["counted"] == 20
    assert figures["refused"] == {"no frame": 1}
    assert figures["outline_iou_over_0.98"] == pytest.approx(20 / 21)
    assert figures["plants"]["n"] == 20


def test_card_says_what_was_measured_and_nothing_else(tmp_path: Path) -> None:
    """Figures of the evaluation stand in the card; sets not measured don't."""
    path = make_bundle(tmp_path / "small.safetensors")
    info = {**read_info(path), "trained_on": ["painted scenes"], "training": {"steps": 7}}
    rows = [_row(i) for i in range(20)]
    card = write_card(tmp_path / "card.md", info, {"sets": {"scenes": summarise(rows)}}).read_text(
        "utf-8"
    )
    rmse = summarise(rows)["plants"]["rel_rmse"]
    assert f"{rmse:.3f}" in card
    assert "painted scenes" in card
    assert "steps 7" in card
    assert "Real photos" not in card
    assert "licensed adviser" in card
    assert "80 photos (made-up counts)" in card


def test_card_has_what_was_measured_between_licence_and_calibration(tmp_path: Path) -> None:
    path = make_bundle(tmp_path / "small.safetensors")
    info = {**read_info(path), "trained_on": ["painted scenes"], "training": {"steps": 7}}
    evaluation = {
        "sets": {"scenes": summarise([_row(i) for i in range(20)])},
        "others": {"photos": 9, "unusual": 8, "refused": 7},
    }
    text = write_card(tmp_path / "card.md", info, evaluation).read_text("utf-8")
    heads = ["## Licence", "## Counts", "## Other things", "## Calibration", "## Limits"]
    assert [line for line in text.splitlines() if line in heads] == heads


def test_recalibrated_model_has_the_same_weights_and_new_intervals(tmp_path: Path) -> None:
    path = make_bundle(tmp_path / "small.safetensors")
    rows = [_row(i).as_dict() for i in range(50)] + [_row(50, refused=True).as_dict()]
    evaluation = tmp_path / "evaluation.json"
    evaluation.write_text(json.dumps({"rows": {"scenes": rows}}), encoding="utf-8")
    out = tmp_path / "new" / "counter.safetensors"
    command = [str(path), str(evaluation), "--out", str(out), "--source", "test photos"]
    assert recalibrate_main([*command, "--refuse-from", "6"]) == 0
    old, new = read_bundle(path), read_bundle(out)
    assert all((old.weights[k] == v).all() for k, v in new.weights.items())
    counter = Counter.load(out)
    assert counter.info.calibration_n == 50
    assert counter.info.calibrated_on == "test photos"
    assert counter.refuse_from == 6
    assert (out.parent / "SHA256SUMS").read_text("utf-8").endswith("  counter.safetensors\n")
    assert recalibrate_main([*command, "--rows", "none"]) == 2


def test_reasons_for_refusing_are_summed_over_their_numbers() -> None:
    often = {f"one pixel is 1.{i} mm wide on the ground": 1 for i in range(20)}
    rare = {f"reason {chr(97 + i) * 3}": 1 for i in range(9)}
    text = _reasons({**often, **rare})
    assert text.startswith("one pixel is … mm wide on the ground (20); ")
    assert text.endswith("other reasons (2)")
    assert _reasons({"under leaves": 2}) == "under leaves (2)"
