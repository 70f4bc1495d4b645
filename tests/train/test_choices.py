"""The table of what each choice brings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.model.small import make_bundle
from tests.train.fake_scenes import paint_scenes
from tillercount.model.measured import _choices
from tillercount.train.choices import main


def test_each_record_is_measured_once_and_a_run_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paint_scenes(tmp_path / "scenes", 3)
    small = make_bundle(tmp_path / "small.safetensors")
    records = [{"choice": "random weights", "weights": str(small)},
               {"choice": "two views of them", "weights": str(small), "views": 2}]
    wanted, out = tmp_path / "list.json", tmp_path / "out.json"
    wanted.write_text(json.dumps(records[:1]))
    given = [str(wanted), "--scenes", str(tmp_path / "scenes"), "--out", str(out)]
    assert main(given) == 0
    first = json.loads(out.read_text())
    assert first[0]["scenes"]["photos"] == 3
    assert first[0]["real"] is None
    assert first[0]["scenes"]["plants"]["rel_rmse"] > 0
    wanted.write_text(json.dumps(records))
    assert main(given) == 0
    both = json.loads(out.read_text())
    assert both[0] == first[0]
    assert [one["choice"] for one in both] == ["random weights", "two views of them"]
    # mirrored views say something else, or the option did nothing
    assert both[1]["scenes"]["plants"] != both[0]["scenes"]["plants"]
    wanted.write_text(json.dumps([{"choice": "none"}]))
    assert main(given) == 2
    assert "needs choice and weights" in capsys.readouterr().out


def test_the_card_has_a_line_for_each() -> None:
    figures = {"rel_rmse": 0.25, "bias": -0.1}
    text = _choices({"choices": [
        {"choice": "first", "scenes": {"photos": 7, "plants": figures, "shoots": figures},
         "other": {"plants": figures, "shoots": {"rel_rmse": 0.5, "bias": 0.3}},
         "real": {"plants_rel_rmse": 0.2, "plants_bias": 0.04, "plant_iou": 0.78}},
        {"choice": "second", "scenes": {"photos": 7, "plants": figures, "shoots": figures},
         "real": None},
    ]})
    assert "the same 7 scenes" in text
    assert "| first | 0.250 (-10%) | 0.250 (-10%) | 0.250 (-10%) | 0.500 (+30%) | " in text
    assert text.endswith("| second | 0.250 (-10%) | 0.250 (-10%) | – | – | – | – |")
    assert _choices({}) == ""
